package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lanewright/layout"
	"lanewright/layout/even"
	"lanewright/layout/fit"
	"lanewright/layout/parts"
)

func layoutCheckCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "check PLAN",
		Short: "Does it close, does it fit the tables, do the roads agree; exit 1 if not",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			plan, kit, err := readPlan(args[0])
			if err != nil {
				return err
			}
			track, findings := layout.Resolve(plan, kit)
			bad := badInput(findings)
			if len(bad) == 0 {
				findings = append(findings, fitFindings(track)...)
			}
			answer := checkOf(args[0], track, findings)
			switch {
			case asJSON:
				if err := printJSON(cmd.OutOrStdout(), answer); err != nil {
					return err
				}
			case len(bad) > 0:
				printFurther(cmd.OutOrStdout(), findings, bad[0])
			default:
				printCheck(cmd.OutOrStdout(), answer)
			}
			if len(bad) > 0 {
				return &layout.BadFile{File: args[0], Findings: bad[:1]}
			}
			if !answer.Good {
				return errAnswerNo
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the answer as JSON")
	return cmd
}

// checkAnswer is what `layout check --json` prints; lengths in mm, angles in degrees.
type checkAnswer struct {
	Schema   int              `json:"schema"`
	Plan     string           `json:"plan"`
	Name     string           `json:"name"`
	Kit      string           `json:"kit"`
	Good     bool             `json:"good"` // closes, and no finding is an error
	Closes   bool             `json:"closes"`
	Joins    []joinAnswer     `json:"joins"`
	Lanes    []laneAnswer     `json:"lanes"`
	Slots    []slotAnswer     `json:"slots"`
	Extras   []extraAnswer    `json:"extras"`
	Pieces   int              `json:"pieces"`
	Findings []layout.Finding `json:"findings"`
}

type joinAnswer struct {
	Road      int     `json:"road"`
	Into      int     `json:"into"`
	GapMM     float64 `json:"gap_mm"`
	ForwardMM float64 `json:"forward_mm"` // positive: the end lies ahead of the start
	LeftMM    float64 `json:"left_mm"`
	AngleDeg  float64 `json:"angle_deg"`
	HeightMM  float64 `json:"height_mm"`
	SpacingMM float64 `json:"spacing_mm"`
	ShiftMM   float64 `json:"shift_mm"` // how far the lanes have been shifted to the left
	NetTurn   float64 `json:"net_turn_deg"`
	Exact     bool    `json:"exact"`
	Provable  bool    `json:"provable"`
	Usable    bool    `json:"usable"`
	PlayMM    float64 `json:"worst_play_mm"`
	PlayDeg   float64 `json:"worst_turn_deg"`
}

type laneAnswer struct {
	Lane     int     `json:"lane"`
	Road     int     `json:"road"`
	Position int     `json:"position"`
	LengthMM float64 `json:"length_mm"`
	EndsIn   int     `json:"ends_in"`
}

type slotAnswer struct {
	Lanes    []int     `json:"lanes"`
	LapsMM   []float64 `json:"laps_mm"`
	LengthMM float64   `json:"length_mm"`
}

func checkOf(path string, t layout.Track, findings []layout.Finding) checkAnswer {
	a := checkAnswer{
		Schema: 1, Plan: path, Name: t.Plan.Name, Kit: t.Kit.Name, Closes: t.Closes, Good: t.Closes,
		Joins: []joinAnswer{}, Lanes: []laneAnswer{}, Slots: []slotAnswer{}, Extras: []extraAnswer{}, Findings: findings,
	}
	if a.Findings == nil {
		a.Findings = []layout.Finding{}
	}
	for _, f := range findings {
		a.Good = a.Good && f.Level != layout.Error
	}
	if len(badInput(findings)) > 0 {
		return a // not all of it could be laid, so that gaps and lengths would mean nothing
	}
	a.Lanes, a.Slots, a.Extras = lanesOf(t), slotsOf(t), extrasOf(t)
	for _, j := range t.Joins {
		a.Joins = append(a.Joins, joinAnswer{
			j.Road, j.Into, j.GapMM, j.ForwardMM, j.LeftMM, j.AngleDeg, j.HeightMM, j.SpacingMM, j.ShiftMM, j.NetTurnDeg,
			j.Exact, j.Provable, j.Usable, j.WorstPlayMM, j.WorstTurnDeg,
		})
	}
	for _, r := range t.Roads {
		a.Pieces += len(r.Pieces)
	}
	return a
}

func lanesOf(t layout.Track) []laneAnswer {
	list := []laneAnswer{}
	for _, l := range t.Lanes {
		list = append(list, laneAnswer{l.Number, l.At.Road, l.At.Position, l.LengthMM, l.EndsIn})
	}
	return list
}

func slotsOf(t layout.Track) []slotAnswer {
	list := []slotAnswer{}
	for _, s := range t.Slots {
		list = append(list, slotAnswer{s.Lanes, s.LapsMM, s.LengthMM})
	}
	return list
}

// fitFindings are what the layout as a whole has to say: tables, its own ground, the club's stock, crossings that spoil.
func fitFindings(t layout.Track) []layout.Finding {
	findings := fit.OnTables(t).Findings()
	findings = append(findings, fit.Collisions(t)...)
	findings = append(findings, parts.Check(t)...)
	return append(findings, even.Spoilers(t)...)
}

// printFurther prints the findings other than the one that is the error of the command.
func printFurther(w io.Writer, findings []layout.Finding, but layout.Finding) {
	for i, f := range findings {
		if f == but {
			printFindings(w, slices.Delete(slices.Clone(findings), i, i+1))
			return
		}
	}
}

func printCheck(w io.Writer, a checkAnswer) {
	name := a.Name
	if name == "" {
		name = a.Plan
	}
	fmt.Fprintf(w, "%s: kit %q, %s\n", name, a.Kit, count(a.Pieces, "piece"))
	for _, j := range a.Joins {
		fmt.Fprintf(w, "road %d: %s; turns %s degrees in all\n", j.Road, joinWords(j), trim(j.NetTurn, 3))
	}
	for _, l := range a.Lanes {
		line := fmt.Sprintf("lane %d: %.3f m", l.Lane, l.LengthMM/1000)
		if l.EndsIn != l.Lane && l.EndsIn != 0 {
			line += fmt.Sprintf(", ends in lane %d", l.EndsIn)
		}
		fmt.Fprintln(w, line)
	}
	for _, e := range a.Extras {
		if e.Kind != "timing" || len(a.Extras) > len(a.Joins) { // the line alone is no news
			fmt.Fprintln(w, e)
		}
	}
	printFindings(w, a.Findings)
	if a.Good {
		fmt.Fprintln(w, "good: it closes, and nothing is in its way")
	} else {
		fmt.Fprintln(w, "not good: see above")
	}
}

func joinWords(j joinAnswer) string {
	switch {
	case j.Exact:
		return "closes exactly"
	case j.Usable && j.GapMM == 0 && j.AngleDeg == 0:
		return "closes"
	case j.Usable:
		return fmt.Sprintf("closes with play: gap %s mm, angle %s degrees, at most %s mm and %s degrees a joint",
			trim(j.GapMM, 3), trim(j.AngleDeg, 3), trim(j.PlayMM, 3), trim(j.PlayDeg, 3))
	}
	s := fmt.Sprintf("does not close: gap %s mm", trim(j.GapMM, 3))
	if j.GapMM > 0 {
		s += fmt.Sprintf(" (%s, %s)", sided(j.ForwardMM, "mm ahead", "mm behind"), sided(j.LeftMM, "mm to the left", "mm to the right"))
	}
	s += ", angle " + sided(j.AngleDeg, "degrees to the left", "degrees to the right") + ", height " + trim(j.HeightMM, 3) + " mm"
	if j.SpacingMM != 0 {
		s += ", lanes " + sided(j.SpacingMM, "mm further apart", "mm closer together")
	}
	if j.ShiftMM != 0 {
		s += ", lanes " + sided(j.ShiftMM, "mm too far left", "mm too far right")
	}
	return s
}

// sided says an amount with its side.
func sided(v float64, plus, minus string) string {
	if v < 0 {
		return trim(-v, 3) + " " + minus
	}
	if v == 0 && strings.Contains(plus, "degrees") {
		return "0 degrees"
	}
	return trim(v, 3) + " " + plus
}
