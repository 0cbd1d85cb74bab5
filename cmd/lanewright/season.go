package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lanewright/race"
	"lanewright/race/score"
	"lanewright/store"
)

func seasonCommand() *cobra.Command {
	var o seasonOptions
	cmd := &cobra.Command{
		Use:   "season FILE [NIGHT...]",
		Short: "Standings over the nights of a store, with points, drops, ties and countback",
		Long:  "Without names every night that is over counts. The points table and the number of drops are the newest night's, unless said here.",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openForReading(args[0])
			if err != nil {
				return err
			}
			defer s.Close()
			a, err := seasonOf(s, args[1:], o)
			if err != nil {
				return err
			}
			if o.json {
				return printJSON(cmd.OutOrStdout(), a)
			}
			printSeason(cmd.OutOrStdout(), a)
			return nil
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.json, "json", false, "print the standings as JSON")
	f.IntVar(&o.drops, "drops", -1, "worst nights left out of each driver's total")
	f.IntSliceVar(&o.points, "points", nil, "points by place, such as 25,18,15")
	f.StringVar(&o.class, "class", "", "drivers of one class only")
	f.StringVar(&o.countback, "countback", "most-firsts", "what parts level drivers: most-firsts, best-scores or share")
	return cmd
}

type seasonOptions struct {
	json             bool
	drops            int
	points           []int
	class, countback string
}

// seasonAnswer is what `season --json` prints. Points are exact fractions written as decimals or fractions.
type seasonAnswer struct {
	Schema    int              `json:"schema"`
	Nights    []string         `json:"nights"`
	Points    []int            `json:"points"`
	Drops     int              `json:"drops"`
	Standings []standingAnswer `json:"standings"`
}

type standingAnswer struct {
	Place   string        `json:"place"`
	Shared  bool          `json:"shared"`
	Driver  string        `json:"driver"`
	Net     string        `json:"net"`
	Gross   string        `json:"gross"`
	Rounds  []roundAnswer `json:"rounds"`
	Decided string        `json:"decided,omitempty"`
}

type roundAnswer struct {
	Place   int    `json:"place"` // 0: not there
	Points  string `json:"points"`
	Dropped bool   `json:"dropped"`
}

func seasonOf(s *store.Store, ids []string, o seasonOptions) (seasonAnswer, error) {
	nights, err := seasonNights(s, ids)
	if err != nil {
		return seasonAnswer{}, err
	}
	a := seasonAnswer{Schema: 1, Points: o.points, Drops: o.drops, Standings: []standingAnswer{}, Nights: []string{}}
	card := nights[len(nights)-1].Card()
	if len(a.Points) == 0 {
		a.Points = card.Points
	}
	if len(a.Points) == 0 {
		return a, fmt.Errorf("night %q has no points table; give one with --points, such as --points 25,18,15", nights[len(nights)-1].id)
	}
	if a.Drops < 0 {
		a.Drops = card.Drops
	}
	rule := score.SeasonRule{Drop: a.Drops}
	switch o.countback {
	case "most-firsts":
		rule.Countback = score.MostFirsts
	case "best-scores":
		rule.Countback = score.BestScores
	case "share":
		rule.Countback = score.ShareAlways
	default:
		return a, fmt.Errorf("--countback is %q; use most-firsts, best-scores or share", o.countback)
	}
	var rounds [][]score.RoundResult
	for _, n := range nights {
		a.Nights = append(a.Nights, n.id)
		rounds = append(rounds, roundOf(n.Night, a.Points, o.class))
	}
	standings, err := score.Season(rounds, rule)
	if err != nil {
		return a, err
	}
	for _, st := range standings {
		line := standingAnswer{Place: st.Place.String(), Shared: st.Shared, Driver: st.Driver, Net: st.Net.String(), Gross: st.Gross.String(), Decided: st.Decided}
		for _, r := range st.Rounds {
			line.Rounds = append(line.Rounds, roundAnswer{r.Place, r.Points.String(), r.Dropped})
		}
		a.Standings = append(a.Standings, line)
	}
	return a, nil
}

// seasonNights folds the nights named, or all that are over.
func seasonNights(s *store.Store, ids []string) ([]pastNight, error) {
	if len(ids) == 0 {
		list, err := s.Nights()
		if err != nil {
			return nil, err
		}
		for _, n := range list {
			ids = append(ids, n.ID)
		}
		return foldAll(s, ids, func(n pastNight) bool { return n.Phase() == race.Over || n.Closed() && len(n.HeatsRun()) > 0 })
	}
	return foldAll(s, ids, func(pastNight) bool { return true })
}

func foldAll(s *store.Store, ids []string, wanted func(pastNight) bool) ([]pastNight, error) {
	var nights []pastNight
	for _, id := range ids {
		n, err := foldNight(s, id)
		if err != nil {
			return nil, err
		}
		if wanted(n) {
			nights = append(nights, n)
		}
	}
	if len(nights) == 0 {
		return nil, fmt.Errorf("%s holds no night that is over", s.Path())
	}
	return nights, nil
}

// roundOf scores one night: places as its own card gives them, among the drivers of a class if one is named. Drivers who never
// drove score nothing.
func roundOf(n *race.Night, points []int, class string) []score.RoundResult {
	card := n.Card()
	table := make(score.Table, len(points))
	for i, p := range points {
		table[i] = int64(p)
	}
	sharing := score.Equal
	if card.PointsShared == "average" {
		sharing = score.Average
	}
	var rows []race.ResultRow
	for _, r := range n.Standings(race.Filter{Class: class}) {
		if r.Heats > 0 {
			rows = append(rows, r)
		}
	}
	sizes := groupSizes(rows)
	award := table.Award(sizes, sharing)
	var round []score.RoundResult
	at := 0
	for g, size := range sizes {
		for range size {
			round = append(round, score.RoundResult{Driver: rows[at].Name, Place: rows[at].Place, Points: award[g]})
			at++
		}
	}
	return round
}

// groupSizes counts how many rows stand at each place.
func groupSizes(rows []race.ResultRow) []int {
	var sizes []int
	for i, r := range rows {
		if i > 0 && r.Place == rows[i-1].Place {
			sizes[len(sizes)-1]++
			continue
		}
		sizes = append(sizes, 1)
	}
	return sizes
}

func printSeason(w io.Writer, a seasonAnswer) {
	fmt.Fprintf(w, "%s, the worst %d dropped\n", count(len(a.Nights), "night"), a.Drops)
	fmt.Fprintf(w, "place  %s  %8s", pad("driver", 24), "points")
	for i := range a.Nights {
		fmt.Fprintf(w, "  %8s", fmt.Sprintf("night %d", i+1))
	}
	fmt.Fprintln(w)
	for _, s := range a.Standings {
		place := s.Place
		if s.Shared {
			place += "="
		}
		fmt.Fprintf(w, "%5s  %s  %8s", place, pad(s.Driver, 24), s.Net)
		for _, r := range s.Rounds {
			text := r.Points
			if r.Place == 0 {
				text = "-"
			}
			if r.Dropped {
				text = "(" + text + ")"
			}
			fmt.Fprintf(w, "  %8s", text)
		}
		fmt.Fprintln(w, "  "+s.Decided)
	}
}
