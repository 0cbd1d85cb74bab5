package main

import (
	"encoding/csv"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"
)

func nightLapsCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "laps FILE [NIGHT]",
		Short: "Every pass of a night with what became of it, as CSV or JSON",
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
			rows := lapRowsOf(night)
			if asJSON {
				return printJSON(cmd.OutOrStdout(), rows)
			}
			if _, err := fmt.Fprint(cmd.OutOrStdout(), "\ufeff"); err != nil {
				return err
			}
			w := csv.NewWriter(cmd.OutOrStdout())
			w.UseCRLF = true
			_ = w.Write([]string{"heat", "lane", "driver", "lap", "lap_us", "driven_us", "clean", "verdict", "pass"}) // told by Error
			for _, r := range rows {
				lap := ""
				if r.LapUS != nil {
					lap = strconv.FormatInt(*r.LapUS, 10)
				}
				_ = w.Write([]string{strconv.Itoa(r.Heat), strconv.Itoa(r.Lane), tamed(r.Driver), strconv.Itoa(r.Lap), lap,
					strconv.FormatInt(r.DrivenUS, 10), strconv.FormatBool(r.Clean), r.Verdict, strconv.FormatUint(r.Pass, 10)})
			}
			w.Flush()
			return w.Error()
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the passes as JSON")
	return cmd
}

// lapAnswerRow is one pass of `night laps`. Times are whole microseconds.
type lapAnswerRow struct {
	Heat     int    `json:"heat"`
	Lane     int    `json:"lane"` // or car, on a digital night
	Driver   string `json:"driver"`
	Lap      int    `json:"lap"` // 0: completed none
	LapUS    *int64 `json:"lap_us"`
	DrivenUS int64  `json:"driven_us"`
	Clean    bool   `json:"clean"` // not interrupted by a track call
	Verdict  string `json:"verdict"`
	Pass     uint64 `json:"pass"` // number of its event in the journal
}

func lapRowsOf(n pastNight) []lapAnswerRow {
	rows := []lapAnswerRow{}
	for _, h := range n.Snapshot(n.ended).Ahead {
		for i := range h.Drivers {
			name := ""
			if i < len(h.Names) {
				name = h.Names[i]
			}
			for _, l := range n.Laps(h.Heat, i+1) {
				rows = append(rows, lapAnswerRow{h.Heat, i + 1, name, l.Lap, micros(l.Time), l.At.Microseconds(), l.Clean, l.Verdict.String(), l.Pass})
			}
		}
	}
	return rows
}
