package main

import (
	"bufio"

	"github.com/spf13/cobra"

	"lanewright/race"
	"lanewright/store"
)

func nightEventsCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "events FILE [NIGHT]",
		Short: "Every event of a night's journal, one JSON line each",
		Args:  cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openForReading(args[0])
			if err != nil {
				return err
			}
			defer s.Close()
			night, err := pickNight(s, args[1:])
			if err != nil {
				return err
			}
			j, err := s.Night(night.id)
			if err != nil {
				return err
			}
			out := bufio.NewWriter(cmd.OutOrStdout())
			var line []byte
			err = j.Read(1, func(r store.Record) error {
				line = append(race.AppendLine(line[:0], r.Seq, race.Kind(r.Kind), r.Data), '\n')
				_, err := out.Write(line)
				return err
			})
			if err != nil {
				return err
			}
			return out.Flush()
		},
	}
}
