package main

import (
	"fmt"
	"strings"

	"lanewright/race/score"
	"lanewright/store"
	"lanewright/tui"
	"lanewright/tui/figure"
)

// furtherTables are results beyond the night: the season so far and the lap records of the store. What the store has no nights for
// is left out.
func furtherTables(h host) func() ([]tui.Table, error) {
	return func() ([]tui.Table, error) {
		s := h.current()
		var tables []tui.Table
		if season, err := seasonOf(s.store, nil, seasonOptions{drops: -1, countback: "most-firsts"}); err == nil {
			tables = append(tables, seasonTable(season))
		}
		records, err := recordTable(s.store)
		if err != nil {
			return tables, err
		}
		return append(tables, records), nil
	}
}

func seasonTable(a seasonAnswer) tui.Table {
	t := tui.Table{Name: "season", Head: []string{"place", "driver", "points", "nights"}, Right: []bool{true, false, true, false}}
	for _, st := range a.Standings {
		place := "P" + st.Place
		if st.Shared {
			place += "="
		}
		var rounds []string
		for _, r := range st.Rounds {
			text := r.Points
			if r.Place == 0 {
				text = "-"
			}
			if r.Dropped {
				text = "(" + text + ")"
			}
			rounds = append(rounds, text)
		}
		t.Rows = append(t.Rows, []string{place, st.Driver, st.Net, strings.Join(rounds, " ")})
	}
	return t
}

func recordTable(s *store.Store) (tui.Table, error) {
	t := tui.Table{Name: "records", Head: []string{"layout", "class", "lane", "lap", "driver"}, Right: []bool{false, false, false, true, false}}
	marks, err := lapMarks(s)
	if err != nil {
		return t, err
	}
	var form figure.Form
	for _, r := range score.Records(marks) {
		lane := "all"
		if r.Lane > 0 {
			lane = fmt.Sprint(r.Lane)
		}
		t.Rows = append(t.Rows, []string{r.Layout, r.Class, lane, form.Lap(r.Mark.Time, 3), r.Mark.Driver})
	}
	return t, nil
}
