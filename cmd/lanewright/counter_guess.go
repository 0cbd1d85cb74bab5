package main

import (
	"bytes"
	"fmt"

	"github.com/spf13/cobra"

	"lanewright/timing/describe"
	"lanewright/timing/tape"
)

func counterGuessCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "guess CAPTURE [DESCRIPTION...]",
		Short: "Which of the line descriptions fits a capture, and how sure that is; exit 1 if none does",
		Long:  "CAPTURE is a tape (see: counter record) or a file of the raw bytes. Our own sentences are always tried.",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			data, err := readSmall(args[0])
			if err != nil {
				return err
			}
			raw, err := heardBytes(data)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			var known []*describe.Description
			for _, path := range args[1:] {
				d, err := readDescription(path)
				if err != nil {
					return err
				}
				known = append(known, d)
			}
			matches := describe.Guess(raw, known)
			if asJSON {
				err = printJSON(cmd.OutOrStdout(), matches)
			} else {
				for _, m := range matches {
					fmt.Fprintf(cmd.OutOrStdout(), "%3.0f %%  %s  %6d lines or frames, %3.0f %% of the bytes  %s\n", m.Sure*100, pad(m.Name, 28), m.Frames, m.Covered*100, m.Why)
				}
			}
			if err == nil && (len(matches) == 0 || matches[0].Sure < 0.5) {
				return errAnswerNo
			}
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the guesses as JSON")
	return cmd
}

// heardBytes takes the counter's bytes out of a tape; what is no tape is taken as it is.
func heardBytes(data []byte) ([]byte, error) {
	if !bytes.HasPrefix(data, []byte(`{"t":`)) {
		return data, nil
	}
	entries, err := tape.Read(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	var raw []byte
	for _, e := range entries {
		raw = append(raw, e.Heard...)
	}
	return raw, nil
}
