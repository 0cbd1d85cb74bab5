package main

import (
	"context"
	"time"

	"lanewright/race"
	"lanewright/tui"
)

// lookMost is how long a screen waits for the loop to answer a question about the past.
const lookMost = 5 * time.Second

// unfolder tells the screens where a number came from.
type unfolder struct{ host }

// look asks the live loop about the night.
func (s *session) look(fn func(*race.Night)) error {
	ctx, cancel := context.WithTimeout(context.Background(), lookMost)
	defer cancel()
	return s.control.Look(ctx, fn)
}

func (u unfolder) look(fn func(*race.Night)) error {
	return u.current().look(fn)
}

// Heat returns the results of one heat, or of the whole night for heat 0.
func (u unfolder) Heat(heat int) (rows []race.ResultRow, err error) {
	err = u.look(func(n *race.Night) {
		if heat == 0 {
			rows = n.Standings(race.Filter{})
			return
		}
		rows = n.HeatResults(heat)
	})
	return rows, err
}

// Laps returns a driver's laps in a heat, or of the whole night for heat 0.
func (u unfolder) Laps(heat, driver int) (laps []tui.Lap, err error) {
	err = u.look(func(n *race.Night) {
		for _, h := range n.Snapshot(time.Time{}).Ahead {
			if heat != 0 && h.Heat != heat {
				continue
			}
			for i, d := range h.Drivers {
				if d == driver {
					laps = append(laps, lapsOf(n, h.Heat, i+1)...)
				}
			}
		}
	})
	return laps, err
}

func lapsOf(n *race.Night, heat, seat int) []tui.Lap {
	var laps []tui.Lap
	for _, r := range n.Laps(heat, seat) {
		l := tui.Lap{Heat: heat, Lane: seat, Number: r.Lap, Time: r.Time, At: r.At}
		if r.Verdict != race.Counted {
			l.Note = r.Verdict.String()
		}
		if r.Moved {
			l.Note = "moved here"
		}
		laps = append(laps, l)
	}
	return laps
}

// Classes returns the standings of each class.
func (u unfolder) Classes() (classes map[string][]race.ResultRow, err error) {
	err = u.look(func(n *race.Night) {
		classes = map[string][]race.ResultRow{}
		for _, c := range n.Report().Classes {
			classes[c.Class] = c.Standings
		}
	})
	return classes, err
}
