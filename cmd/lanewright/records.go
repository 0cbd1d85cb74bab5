package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"lanewright/race/score"
	"lanewright/store"
	"lanewright/tui/figure"
)

func recordsCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "records FILE",
		Short: "Lap records by layout, class and lane over the nights of a store",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openForReading(args[0])
			if err != nil {
				return err
			}
			defer s.Close()
			marks, err := lapMarks(s)
			if err != nil {
				return err
			}
			records := score.Records(marks)
			list := []recordAnswer{}
			for _, r := range records {
				list = append(list, recordAnswer{r.Layout, r.Class, r.Lane, r.Mark.Driver, r.Mark.Time.Microseconds()})
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), list)
			}
			var form figure.Form
			for _, r := range records {
				lane := "all lanes"
				if r.Lane > 0 {
					lane = fmt.Sprintf("lane %d", r.Lane)
				}
				fmt.Fprintf(cmd.OutOrStdout(), "%s  %s  %s  %9s  %s\n", pad(r.Layout, 24), pad(r.Class, 12), pad(lane, 9), form.Lap(r.Mark.Time, 3), r.Mark.Driver)
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the records as JSON")
	return cmd
}

// recordAnswer is one line of `records --json`; lane 0 is the best over all lanes.
type recordAnswer struct {
	Layout string `json:"layout"`
	Class  string `json:"class"`
	Lane   int    `json:"lane"`
	Driver string `json:"driver"`
	LapUS  int64  `json:"lap_us"`
}

// lapMarks collects every clean lap of every night of a store.
func lapMarks(s *store.Store) ([]score.LapMark, error) {
	list, err := s.Nights()
	if err != nil {
		return nil, err
	}
	var marks []score.LapMark
	for order, info := range list {
		n, err := foldNight(s, info.ID)
		if err != nil {
			return nil, err
		}
		classes := map[int]string{}
		for _, d := range n.EveryDriver() {
			classes[d.Number] = d.Class
		}
		for _, h := range n.Snapshot(n.ended).Ahead {
			for i, d := range h.Drivers {
				for _, l := range n.Laps(h.Heat, i+1) {
					if l.Lap > 0 && l.Clean && l.Time > 0 && i < len(h.Names) {
						marks = append(marks, score.LapMark{Layout: n.Info().Layout.Name, Class: classes[d], Lane: i + 1, Driver: h.Names[i], Time: l.Time, Order: int64(order)})
					}
				}
			}
		}
	}
	return marks, nil
}
