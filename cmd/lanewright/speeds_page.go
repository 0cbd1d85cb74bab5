package main

import (
	"cmp"
	"slices"
	"time"

	"lanewright/layout/pace"
	"lanewright/race/analysis"
	"lanewright/race/stints"
	"lanewright/store"
	"lanewright/tui/speedview"
)

// speedPage works out the screen that compares, for a night of an open store: the audit and the lanes of that night, and drivers against
// layouts over all nights of the store. What is durable is looked at, so a night may be under way.
type speedPage struct {
	store *store.Store
	night string
}

var _ speedview.Source = speedPage{}

// Speeds reads and works everything out anew. A night of several classes is compared in the one that most of its drivers are in.
func (s speedPage) Speeds() (speedview.Page, error) {
	n, err := readPaceNight(s.store, s.night, 1)
	if err != nil {
		return speedview.Page{}, err
	}
	p := speedview.Page{Title: cmp.Or(n.Info().Title, n.id) + " on " + n.Info().Layout.Name, Scale: n.Info().Scale}
	car := pace.BuiltinCars()[0]
	_, audit, err := auditOf(n, auditFlags{car: car.Name, draws: 20000, seed: 1})
	if err == errNoStints {
		p.Sentence = "No heat with laps in it is accepted yet, so there is nothing to compare."
		return p, nil
	}
	if err != nil {
		return p, err
	}
	p.Sentence = audit.Sentence
	for _, r := range audit.Rows {
		x := speedview.Standing{Place: r.Place, Driver: r.Driver, Laps: r.Laps, LaneLuck: r.LaneLuck, Right: r.RightScore}
		if r.AdjustedPlace != nil {
			x.AdjustedPlace = *r.AdjustedPlace
		}
		p.Standing = append(p.Standing, x)
	}
	if !n.Info().Digital {
		lanes, err := laneEffectsOf([]*paceNight{n}, car, lanesFlags{})
		if err != nil {
			return p, err
		}
		for _, l := range lanes.Lanes {
			p.Lanes = append(p.Lanes, speedview.Lane{Lane: l.Lane, Seconds: l.Seconds.Value, Low: l.Seconds.Low, High: l.Seconds.High, Length: l.Length, Bends: l.Par, Rest: l.Rest, Notable: l.Notable})
		}
		p.Notes = lanes.Notes
	}
	return p, s.across(&p, n)
}

// across adds drivers against layouts.
func (s speedPage) across(p *speedview.Page, tonight *paceNight) error {
	nights, err := nightsOf(s.store)
	if err != nil {
		return err
	}
	orderNights(nights)
	f := acrossFlags{measureFlags: measureFlags{lengthSD: 5}, car: pace.BuiltinCars()[0].Name, by: "driver", class: usualClass(stints.Of(tonight.Night, stints.Options{}).Stints)}
	a, err := acrossOf(nights, f)
	if err != nil {
		return nil // several classes of which none is named: there is no one table
	}
	p.Layouts = a.Layouts
	// Tonight's layout first: it is what people ask about.
	here := tonight.Info().Layout.Name
	slices.SortStableFunc(p.Layouts, func(x, y string) int {
		switch {
		case x == here && y != here:
			return -1
		case y == here && x != here:
			return 1
		}
		return cmp.Compare(x, y)
	})
	against, why := map[string]*float64{}, map[string]string{}
	for _, d := range a.Duels {
		against[d.A] = &d.Percent
	}
	for _, r := range a.Refusals {
		why[r.A] = r.Why
	}
	for _, name := range a.Names {
		d := speedview.Driver{Name: name, Percent: against[name], Why: why[name], Cells: make([]speedview.Cell, len(p.Layouts))}
		for _, c := range a.Cells {
			if c.Name != name {
				continue
			}
			x := speedview.Cell{Laps: c.Laps, Best: time.Duration(c.BestUS) * time.Microsecond}
			if c.MedianUS != nil {
				x.Median = time.Duration(*c.MedianUS) * time.Microsecond
			}
			if c.BestKMH != nil {
				x.Kmh = c.BestKMH.Value
			}
			if c.ParRatio != nil {
				x.ParRatio = *c.ParRatio
			}
			d.Cells[slices.Index(p.Layouts, c.Layout)] = x
		}
		p.Drivers = append(p.Drivers, d)
	}
	slices.SortStableFunc(p.Drivers, func(x, y speedview.Driver) int { return cmp.Compare(rankOf(x), rankOf(y)) })
	return nil
}

// rankOf puts the quickest first and those who cannot be compared last.
func rankOf(d speedview.Driver) float64 {
	switch {
	case d.Percent != nil:
		return *d.Percent
	case d.Why != "":
		return 1e9
	}
	return 0
}

// usualClass is the class with most stints; of equal ones the first by name.
func usualClass(all []analysis.Stint) string {
	count := map[string]int{}
	best := ""
	for _, s := range all {
		count[s.Class]++
	}
	for _, s := range all {
		if n := count[s.Class] - count[best]; n > 0 || n == 0 && s.Class < best {
			best = s.Class
		}
	}
	return best
}
