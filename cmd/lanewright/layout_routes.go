package main

import (
	"fmt"
	"io"
	"math/big"
	"strings"

	"github.com/spf13/cobra"

	"lanewright/layout/route"
)

func layoutRoutesCommand() *cobra.Command {
	var asJSON bool
	var k int
	cmd := &cobra.Command{
		Use:   "routes PLAN",
		Short: "Every way round through the changers: shortest, longest, how many, best steady cycle",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if k < 0 || k > 1000 {
				return fmt.Errorf("--k is %d; it is from 0 to 1000", k)
			}
			track, _, err := resolvePlan(args[0])
			if err != nil {
				return err
			}
			graph, err := route.New(track)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			a := routesOf(args[0], graph, len(track.Lanes), k)
			a.Closes = track.Closes
			if asJSON {
				err = printJSON(cmd.OutOrStdout(), a)
			} else {
				printRoutes(cmd.OutOrStdout(), a)
				sayOpen(cmd.OutOrStdout(), a.Closes)
			}
			if err != nil {
				return err
			}
			return unless(a.Closes)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the routes as JSON")
	cmd.Flags().IntVar(&k, "k", 3, "so many of the shortest laps from each lane")
	return cmd
}

// routesAnswer is what `layout routes --json` prints; lengths in mm.
type routesAnswer struct {
	Schema   int          `json:"schema"`
	Plan     string       `json:"plan"`
	Closes   bool         `json:"closes"`
	Pairs    []pairAnswer `json:"pairs"`
	Shortest []lapAnswer  `json:"shortest"` // k from each lane, best first
	Gains    []gainAnswer `json:"gains"`
	Best     *cycleAnswer `json:"shortest_cycle,omitempty"`
	Worst    *cycleAnswer `json:"longest_cycle,omitempty"`
}

type pairAnswer struct {
	Start      int      `json:"start"`
	End        int      `json:"end"`
	Laps       *big.Int `json:"laps"` // different ways
	ShortestMM float64  `json:"shortest_mm"`
	LongestMM  float64  `json:"longest_mm"`
}

type lapAnswer struct {
	Start    int      `json:"start"`
	End      int      `json:"end"`
	LengthMM float64  `json:"length_mm"`
	Changes  []string `json:"changes"`
}

type gainAnswer struct {
	Change    string  `json:"change"`
	HereMM    float64 `json:"here_mm"`
	ToLineMM  float64 `json:"to_line_mm"`
	BestMM    float64 `json:"best_mm"`
	Reachable bool    `json:"reachable"`
}

type cycleAnswer struct {
	Lanes  []int     `json:"lanes"`
	LapsMM []float64 `json:"laps_mm"`
	MeanMM float64   `json:"mean_mm"`
}

func routesOf(path string, g route.Graph, lanes, k int) routesAnswer {
	a := routesAnswer{Schema: 1, Plan: path, Pairs: []pairAnswer{}, Shortest: []lapAnswer{}, Gains: []gainAnswer{}}
	for _, p := range g.Pairs() {
		a.Pairs = append(a.Pairs, pairAnswer{p.Start, p.End, p.Laps, p.Shortest.LengthMM, p.Longest.LengthMM})
	}
	for lane := 1; lane <= lanes; lane++ {
		for _, lap := range g.KShortest(lane, 0, k) {
			l := lapAnswer{Start: lap.Start, End: lap.End, LengthMM: lap.LengthMM, Changes: []string{}}
			for _, t := range lap.Turns {
				l.Changes = append(l.Changes, turnWords(t))
			}
			a.Shortest = append(a.Shortest, l)
		}
	}
	for _, gain := range g.Gains() {
		a.Gains = append(a.Gains, gainAnswer{turnWords(gain.Turn), gain.HereMM, gain.ToLineMM, gain.BestMM, gain.Reachable})
	}
	if best, worst, ok := g.Steady(); ok {
		a.Best = &cycleAnswer{best.Lanes, best.LapsMM, best.MeanMM}
		a.Worst = &cycleAnswer{worst.Lanes, worst.LapsMM, worst.MeanMM}
	}
	return a
}

func turnWords(t route.Turn) string {
	return fmt.Sprintf("call %d, road %d, %s: position %d to %d", t.Call, t.Road, t.Piece, t.From, t.To)
}

func printRoutes(w io.Writer, a routesAnswer) {
	fmt.Fprintln(w, "from lane  to lane        laps     shortest mm      longest mm")
	for _, p := range a.Pairs {
		fmt.Fprintf(w, "%9d  %7d  %10s  %14.3f  %14.3f\n", p.Start, p.End, p.Laps, p.ShortestMM, p.LongestMM)
	}
	if len(a.Gains) == 0 {
		fmt.Fprintln(w, "no changers: a car stays in its lane")
		return
	}
	fmt.Fprintln(w, "\nshortest laps")
	for _, l := range a.Shortest {
		way := "no change"
		if len(l.Changes) > 0 {
			way = strings.Join(l.Changes, "; ")
		}
		fmt.Fprintf(w, "lane %d to lane %d  %14.3f mm  %s\n", l.Start, l.End, l.LengthMM, way)
	}
	fmt.Fprintln(w, "\nwhat each change gains (negative: shorter), over the piece itself and over the rest of the lap")
	for _, g := range a.Gains {
		reach := ""
		if !g.Reachable {
			reach = "  (cannot be reached)"
		}
		fmt.Fprintf(w, "%-52s %+10.3f mm %+12.3f mm%s\n", g.Change, g.HereMM, g.ToLineMM, reach)
	}
	if a.Best != nil {
		fmt.Fprintf(w, "\nshortest steady cycle: lanes %v, %.3f mm a lap\nlongest steady cycle:  lanes %v, %.3f mm a lap\n", a.Best.Lanes, a.Best.MeanMM, a.Worst.Lanes, a.Worst.MeanMM)
	}
}
