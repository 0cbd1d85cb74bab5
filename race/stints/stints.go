package stints

import (
	"slices"
	"time"

	"lanewright/race"
	"lanewright/race/analysis"
)

// Options say how a night is to be seen.
type Options struct {
	Night int                   // number of the night, growing with time
	Par   map[int]time.Duration // par lap by lane; lanes may be lacking
	ByCar bool                  // stints are told apart by the car's name instead of the driver's
	Class string                // only this class; "" takes all
}

// Found is what a night gives.
type Found struct {
	Stints []analysis.Stint // by heat, then by lane; lane 0 on digital nights, where cars share lanes
	Left   []Left           // stints that are not among them, in the same order

	LapsTimed  int // laps in Stints, standing starts left out
	LapsSetOff int // counted laps that pace does not look at: not clean or not timed; standing starts left out
}

// Left is a stint that is left out, or whose pace is.
type Left struct {
	Heat, Seat int
	Driver     string
	Why        Why
}

// Why says why a stint is left out.
type Why string

// The reasons.
const (
	NotAccepted Why = "heat not accepted"
	NoLap       Why = "no lap"
	NotCounted  Why = "not counted by a ruling"
	NoCar       Why = "no car named"
	Early       Why = "stopped early: score only"
)

// silentLaps is how many laps a car must not be seen for, up to the end of a heat, to have stopped early.
const silentLaps = 3

// Of returns the stints of a night. It changes nothing.
func Of(n *race.Night, o Options) Found {
	var found Found
	names := namesOf(n, o.ByCar)
	info := n.Info()
	for _, h := range n.Report().Heats {
		if h.Results == nil {
			continue // never started
		}
		rows := map[int]race.ResultRow{} // by driver
		for _, r := range h.Results {
			rows[r.Driver] = r
		}
		var some []analysis.Stint
		var last, typical []time.Duration
		var leave []Left
		for seat := 1; seat <= n.Seats(); seat++ {
			driver := n.DriverIn(h.Heat, seat)
			row, ok := rows[driver]
			if driver == 0 || !ok || o.Class != "" && row.Class != o.Class {
				continue
			}
			left := Left{Heat: h.Heat, Seat: seat, Driver: names[driver]}
			t := timesOf(n.Laps(h.Heat, seat))
			switch {
			case h.State != "run":
				left.Why = NotAccepted
			case row.Reason == "not counted" || row.Reason == "not driven":
				left.Why = NotCounted
			case t.counted == 0:
				left.Why = NoLap
			case names[driver] == "":
				left.Driver, left.Why = n.DriverName(driver), NoCar
			}
			if left.Why != "" {
				leave = append(leave, left)
				continue
			}
			s := analysis.Stint{Driver: names[driver], Night: o.Night, Heat: h.Heat, Lane: seat, Layout: info.Layout.Name, Class: row.Class, Laps: t.laps,
				Score: float64(row.Laps) + float64(row.Part)/float64(max(row.PartOf, 1))}
			switch {
			case info.Digital:
				s.Lane = 0
			case seat <= len(info.Layout.Lanes):
				s.LaneLengthMM, s.Par = info.Layout.Lanes[seat-1].LengthMM, o.Par[seat]
			}
			some, last, typical = append(some, s), append(last, t.last), append(typical, t.median())
			found.LapsTimed += max(len(t.laps)-1, 0)
			found.LapsSetOff += t.setOff
		}
		leave = append(leave, markEarly(some, last, typical)...)
		slices.SortStableFunc(leave, func(a, b Left) int { return a.Seat - b.Seat })
		found.Stints, found.Left = append(found.Stints, some...), append(found.Left, leave...)
	}
	return found
}

// markEarly marks the stints whose car was not seen for the last laps of the heat. The end is the last pass of any car.
func markEarly(some []analysis.Stint, last, typical []time.Duration) []Left {
	end, usual := time.Duration(0), time.Duration(0)
	var known []time.Duration
	for i := range some {
		end = max(end, last[i])
		if typical[i] > 0 {
			known = append(known, typical[i])
		}
	}
	if len(known) > 0 {
		slices.Sort(known)
		usual = known[len(known)/2]
	}
	var left []Left
	for i := range some {
		lap := typical[i]
		if lap <= 0 {
			lap = usual
		}
		if lap > 0 && end-last[i] > silentLaps*lap {
			some[i].Early = true
			left = append(left, Left{some[i].Heat, some[i].Lane, some[i].Driver, Early})
		}
	}
	return left
}

// times is what one seat's passes give.
type times struct {
	laps    []time.Duration // the standing start first, then clean laps
	counted int
	setOff  int
	last    time.Duration // driven time of the last counted pass
}

func timesOf(rows []race.LapRow) times {
	var t times
	first := time.Duration(0)
	for _, r := range rows {
		if r.Verdict != race.Counted {
			continue
		}
		t.counted++
		t.last = max(t.last, r.At)
		switch {
		case r.Lap == 1:
			first = r.Time
		case r.Clean && r.Time > 0:
			t.laps = append(t.laps, r.Time)
		default:
			t.setOff++
		}
	}
	if first <= 0 && len(t.laps) > 0 {
		first = slices.Max(t.laps)
	}
	if first > 0 {
		t.laps = slices.Insert(t.laps, 0, first)
	}
	return t
}

// median is the middle lap without the standing start, 0 if there is none.
func (t times) median() time.Duration {
	if len(t.laps) < 2 {
		return 0
	}
	s := slices.Sorted(slices.Values(t.laps[1:]))
	return s[(len(s)-1)/2]
}

// namesOf returns the name of every driver, or of his car, by number. The fold refuses two drivers of one name; cars of one name are
// one car, as they may be shared.
func namesOf(n *race.Night, byCar bool) map[int]string {
	names := map[int]string{}
	if byCar {
		for _, e := range n.Snapshot(time.Time{}).Entries {
			names[e.Driver] = e.Car
		}
		return names
	}
	for _, d := range n.EveryDriver() {
		names[d.Number] = d.Name
	}
	return names
}
