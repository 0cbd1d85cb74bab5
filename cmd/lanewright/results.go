package main

import (
	"fmt"
	"io"
	"time"

	"lanewright/race"
	"lanewright/tui/figure"
)

// resultsAnswer is the results of a night as programs read them: `demo --json`, `night run --json`, `night show --json`. Times
// are whole microseconds, of a counter without a clock whole hundredths of a second; part laps are in 1/part_of of a lap. It holds nothing that depends on when the night was raced.
type resultsAnswer struct {
	Schema    int          `json:"schema"`
	Club      string       `json:"club"`
	Title     string       `json:"title"`
	Layout    string       `json:"layout"`
	Scale     int          `json:"scale"`
	Heats     []heatAnswer `json:"heats"`
	Standings []rowAnswer  `json:"standings"`
	Classes   []classRows  `json:"classes,omitempty"`
	Rulings   []string     `json:"rulings,omitempty"`
}

type heatAnswer struct {
	Heat    int         `json:"heat"`
	Group   string      `json:"group,omitempty"`
	State   string      `json:"state"`
	Results []rowAnswer `json:"results"`
}

type classRows struct {
	Class     string      `json:"class"`
	Standings []rowAnswer `json:"standings"`
}

type rowAnswer struct {
	Place   int    `json:"place"`
	Shared  bool   `json:"shared"`
	Driver  int    `json:"driver"`
	Name    string `json:"name"`
	Class   string `json:"class,omitempty"`
	Laps    int    `json:"laps"`
	Part    *int   `json:"part"` // null where no part lap was set
	PartOf  int    `json:"part_of"`
	BestUS  *int64 `json:"best_us"` // null where no lap was timed
	LastUS  *int64 `json:"last_pass_us"`
	Heats   int    `json:"heats"`
	Gap     string `json:"gap"`
	Reason  string `json:"reason,omitempty"`
	ByLane  []*int `json:"laps_by_lane,omitempty"` // null: not driven
	Points  string `json:"points,omitempty"`
	Penalty int    `json:"penalty_laps,omitempty"`
}

func resultsOf(r race.Report) resultsAnswer {
	fine := time.Nanosecond
	if r.Arrival {
		fine = 10 * time.Millisecond
	}
	a := resultsAnswer{Schema: 1, Club: r.Club, Title: r.Title, Layout: r.Layout, Scale: r.Scale, Heats: []heatAnswer{}, Standings: rowsOf(r.Standings, fine), Rulings: r.Rulings}
	for _, h := range r.Heats {
		a.Heats = append(a.Heats, heatAnswer{h.Heat, h.Group, h.State, rowsOf(h.Results, fine)})
	}
	for _, c := range r.Classes {
		a.Classes = append(a.Classes, classRows{c.Class, rowsOf(c.Standings, fine)})
	}
	return a
}

// rowsOf turns rows into answers; fine is how fine their times are.
func rowsOf(rows []race.ResultRow, fine time.Duration) []rowAnswer {
	list := []rowAnswer{}
	for _, r := range rows {
		a := rowAnswer{
			Place: r.Place, Shared: r.Shared, Driver: r.Driver, Name: r.Name, Class: r.Class, Laps: r.Laps, PartOf: r.PartOf,
			BestUS: micros(r.Best.Truncate(fine)), LastUS: micros(r.Last.Truncate(fine)), Heats: r.Heats, Gap: r.Gap, Reason: r.Reason, Points: r.Points, Penalty: r.Penalty,
		}
		if r.Part >= 0 && r.PartOf > 0 {
			a.Part = &r.Part
		}
		for _, laps := range r.ByLane {
			if laps < 0 {
				a.ByLane = append(a.ByLane, nil)
				continue
			}
			a.ByLane = append(a.ByLane, &laps)
		}
		list = append(list, a)
	}
	return list
}

func micros(d time.Duration) *int64 {
	if d <= 0 {
		return nil
	}
	us := d.Microseconds()
	return &us
}

// digitsOf is how many digits behind the mark the times of a night deserve.
func digitsOf(r race.Report) int {
	if r.Arrival {
		return 2
	}
	return 3
}

// printResults writes the standings as text.
func printResults(w io.Writer, r race.Report) error {
	var form figure.Form
	run := 0
	for _, h := range r.Heats {
		if h.State == "run" {
			run++
		}
	}
	fmt.Fprintf(w, "%s: %s on %s, %d of %d heats run\n\n", r.Club, r.Title, r.Layout, run, len(r.Heats))
	fmt.Fprintln(w, "place  driver                          laps       best  heats  gap")
	for _, row := range r.Standings {
		fmt.Fprintf(w, "%5s  %s  %9s  %9s  %5d  %s\n", figure.Place(row.Place, row.Shared), pad(row.Name, 26),
			form.Laps(row.Laps, row.Part, row.PartOf), form.Lap(row.Best, digitsOf(r)), row.Heats, row.Gap)
	}
	for _, row := range r.Standings {
		if row.Reason != "" {
			fmt.Fprintf(w, "%s: %s\n", row.Name, row.Reason)
		}
	}
	for _, line := range r.Rulings {
		fmt.Fprintln(w, line)
	}
	return nil
}
