package main

import (
	"context"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"lanewright/race/control"
	"lanewright/store"
	"lanewright/timing/describe"
	"lanewright/timing/tape"
)

func nightReplayCommand() *cobra.Command {
	var asJSON bool
	var formats []string
	cmd := &cobra.Command{
		Use:   "replay TAPE...",
		Short: "Work a night out again from its tapes alone: the same results, in virtual time",
		Long: "The raw bytes are decoded again, what people did is done again, and the judge decides again. Several tapes of one\n" +
			"night (one for each time that the program was started) are played in order.",
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			replayed, err := replayTapes(cmd.Context(), args, formats)
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), resultsOf(replayed.Night.Report()))
			}
			return printResults(cmd.OutOrStdout(), replayed.Night.Report())
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the results as JSON")
	formatFlag(cmd, &formats)
	return cmd
}

func formatFlag(cmd *cobra.Command, formats *[]string) {
	cmd.Flags().StringArrayVar(formats, "describe", nil, "COUNTER=FILE: the line description of a counter of the night")
}

func storeRebuildCommand() *cobra.Command {
	var out, night string
	var formats []string
	cmd := &cobra.Command{
		Use:   "rebuild TAPE... -o FILE",
		Short: "Make a night's journal anew from its tapes, for when the store is lost",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			replayed, err := replayTapes(cmd.Context(), args, formats)
			if err != nil {
				return err
			}
			if night == "" {
				night = replayed.Night.Info().Night
			}
			s, err := store.Open(out, store.Options{Program: "lanewright store rebuild"})
			if err != nil {
				return err
			}
			defer s.Close()
			j, err := s.CreateNight(cmd.Context(), night, nil)
			if err != nil {
				return fmt.Errorf("%w; give the night another id with --night", err)
			}
			if err := (journal{j}).Append(cmd.Context(), replayed.Records); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: night %q, %d events\n", out, night, j.Last())
			return s.Close()
		},
	}
	cmd.Flags().StringVarP(&out, "out", "o", "", "store to write into; made if it is not there")
	cmd.Flags().StringVar(&night, "night", "", "id of the night (default: as on the tape)")
	formatFlag(cmd, &formats)
	_ = cmd.MarkFlagRequired("out")
	return cmd
}

// replayTapes plays tapes one after another as one night.
func replayTapes(ctx context.Context, paths, formats []string) (control.Replayed, error) {
	o := control.ReplayOptions{Formats: map[string]*describe.Description{}}
	for _, f := range formats {
		name, path, ok := strings.Cut(f, "=")
		if !ok {
			return control.Replayed{}, fmt.Errorf("--describe is %q; it is COUNTER=FILE, such as counter=gates.toml", f)
		}
		format, err := readDescription(path)
		if err != nil {
			return control.Replayed{}, err
		}
		o.Formats[name] = format
	}
	var entries []tape.Entry
	for _, path := range paths {
		f, err := os.Open(path)
		if err != nil {
			return control.Replayed{}, missing(err, path)
		}
		part, err := tape.Read(f)
		_ = f.Close()
		if err != nil {
			return control.Replayed{}, fmt.Errorf("%s: %w", path, err)
		}
		entries = append(entries, part...)
	}
	replayed, err := control.Replay(ctx, entries, o)
	if err != nil {
		return replayed, fmt.Errorf("%s: %w", strings.Join(paths, ", "), err)
	}
	return replayed, nil
}
