package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"lanewright/timing/listen"
	"lanewright/timing/tape"
)

func counterRecordCommand() *cobra.Command {
	var o lineOptions
	var out string
	cmd := &cobra.Command{
		Use:   "record -o TAPE",
		Short: "Record every byte of a counter with its time, until stopped",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := o.config()
			if err != nil {
				return err
			}
			w, err := tape.Create(out, time.Now())
			if err != nil {
				return err
			}
			c.Record = w
			source, err := listen.Listen(cmd.Context(), c)
			if err != nil {
				_ = w.Close()
				return &portError{err}
			}
			passes := drain(cmd.ErrOrStderr(), source)
			_ = source.Close()
			if err := w.Close(); err != nil {
				return err
			}
			fmt.Fprintf(cmd.ErrOrStderr(), "%s: %s\n", out, count(passes, "pass"))
			return nil
		},
	}
	lineFlags(cmd, &o)
	cmd.Flags().StringVarP(&out, "out", "o", "", "tape to write; one that is there is added to")
	_ = cmd.MarkFlagRequired("out")
	return cmd
}
