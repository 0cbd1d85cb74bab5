package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"
)

func layoutLengthsCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "lengths PLAN",
		Short: "The length of every lane and of every closed path through the crossings",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			track, _, err := resolvePlan(args[0])
			if err != nil {
				return err
			}
			a := lengthsAnswer{Schema: 1, Plan: args[0], Closes: track.Closes, Lanes: lanesOf(track), Slots: slotsOf(track)}
			w := cmd.OutOrStdout()
			if asJSON {
				if err := printJSON(w, a); err != nil {
					return err
				}
				return unless(a.Closes)
			}
			least := 0.0
			for i, l := range a.Lanes {
				if i == 0 || l.LengthMM < least {
					least = l.LengthMM
				}
			}
			for _, l := range a.Lanes {
				fmt.Fprintf(w, "lane %d  %12.3f mm  %+10.3f mm  road %d, position %d\n", l.Lane, l.LengthMM, l.LengthMM-least, l.Road, l.Position)
			}
			for _, s := range a.Slots {
				if len(s.Lanes) > 1 {
					fmt.Fprintf(w, "lanes %v are one slot of %.3f mm: a car passes the timing line %d times on its way round, after %s mm\n",
						s.Lanes, s.LengthMM, len(s.Lanes), lengthList(s.LapsMM))
				}
			}
			sayOpen(w, a.Closes)
			return unless(a.Closes)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the lengths as JSON")
	return cmd
}

// lengthsAnswer is what `layout lengths --json` prints.
type lengthsAnswer struct {
	Schema int          `json:"schema"`
	Plan   string       `json:"plan"`
	Closes bool         `json:"closes"`
	Lanes  []laneAnswer `json:"lanes"`
	Slots  []slotAnswer `json:"slots"`
}

// sayOpen adds to lengths of an open layout that they are those of what is laid.
func sayOpen(w io.Writer, closes bool) {
	if !closes {
		fmt.Fprintln(w, "the layout does not close: these are the lengths of what is laid, without the gap; see lanewright layout check")
	}
}

// unless turns an answer into what the command returns.
func unless(yes bool) error {
	if yes {
		return nil
	}
	return errAnswerNo
}

func lengthList(mm []float64) string {
	s := ""
	for i, v := range mm {
		if i > 0 {
			s += ", "
		}
		s += fmt.Sprintf("%.3f", v)
	}
	return s
}
