package control

import (
	"slices"
	"testing/synctest"
	"time"

	"lanewright/race"
)

func synctestRest() { synctest.Wait() }

// simHeat is what the journal says of the last attempt at a heat, without the fold.
type simHeat struct {
	heat    int
	went    *race.Went
	bases   map[int]time.Duration
	holds   [][2]time.Duration // in time since go; open while the second is negative
	end     time.Duration      // time up, in time since go; negative if not
	fin     time.Duration
	early   bool
	over    bool
	odd     bool // it holds something that this count by hand does not know
	passes  map[int][]handPass
	strange map[int]bool // seats with rulings about passes
}

type handPass struct {
	number  uint64
	at      time.Duration // since go
	segment int
}

// tallies walks through the journal and collects each heat's passes and marks.
func tallies(events []race.Event, o race.Opened) []*simHeat {
	var all []*simHeat
	var h *simHeat // at the line
	var staged int
	rel := func(segment int, at time.Duration) time.Duration { return at - h.bases[segment] }
	var pending []race.Passed
	what := map[uint64]race.Event{}
	for seq, e := range events {
		if e == nil {
			continue
		}
		what[uint64(seq)] = e
		switch e := e.(type) {
		case race.HeatStaged:
			staged = e.Heat
		case race.LampsStarted:
			h = &simHeat{heat: staged, bases: map[int]time.Duration{}, end: -1, passes: map[int][]handPass{}, strange: map[int]bool{}}
			pending = nil
		case race.StartBroken:
			h = nil
		case race.Went:
			h.went = &e
			h.bases[e.Segment] = e.At
		case race.Passed:
			pending = append(pending, e)
		case race.Held:
			if at := rel(e.Segment, e.At); len(h.holds) == 0 || h.holds[len(h.holds)-1][1] >= 0 {
				if k := len(h.holds); k > 0 {
					at = max(at, h.holds[k-1][1])
				}
				h.holds = append(h.holds, [2]time.Duration{max(at, 0), -1})
			}
		case race.Resumed:
			k := len(h.holds) - 1
			h.holds[k][1] = max(rel(e.Segment, e.At), h.holds[k][0])
		case race.SegmentBroke:
			if h != nil && h.went != nil && h.fits(e) {
				h.bases[e.To] = e.New - rel(e.From, e.Old)
			}
		case race.TimeUp:
			h.end = rel(e.Segment, e.At)
		case race.Finished:
			h.over, h.fin, h.early = true, rel(e.Segment, e.At), e.Early
			if k := len(h.holds) - 1; k >= 0 && h.holds[k][1] < 0 {
				h.fin = min(h.fin, h.holds[k][0])
			}
			h.fin = max(h.fin, 0)
			all = slices.DeleteFunc(all, func(o *simHeat) bool { return o.heat == h.heat })
			all = append(all, h)
		case race.Voided:
			all = slices.DeleteFunc(all, func(o *simHeat) bool { return o.heat == e.Heat })
		case race.PassStruck:
			mark(all, h, e.Heat, e.Seat)
		case race.PassMoved:
			mark(all, h, e.Heat, e.Seat)
			mark(all, h, e.Heat, e.To)
		case race.LapsGiven:
			if o.Card.Kind == "laps" {
				mark(all, h, e.Heat, e.Seat)
			}
		case race.Answered:
			// The question says which seat; any of them may be touched.
			for _, q := range events {
				if q, ok := q.(race.Asked); ok && q.ID == e.ID && e.Yes {
					mark(all, h, q.Heat, q.Seat)
					if q.Proposal.To > 0 {
						mark(all, h, q.Heat, q.Proposal.To)
					}
				}
			}
		}
		if h != nil && h.went != nil {
			for _, p := range pending {
				h.take(p, o)
			}
			pending = nil
		}
	}
	// Passes that came later than the heat was over belong to it all the same.
	for _, e := range events {
		if p, ok := e.(race.Passed); ok {
			for _, h := range all {
				h.late(p, o)
			}
		}
	}
	return all
}

func mark(all []*simHeat, h *simHeat, heat, seat int) {
	for _, o := range append(slices.Clone(all), h) {
		if o != nil && o.heat == heat {
			o.strange[seat] = true
		}
	}
}

// fits tells whether a break relates a clock that is known to one that is not.
func (h *simHeat) fits(e race.SegmentBroke) bool {
	_, from := h.bases[e.From]
	_, to := h.bases[e.To]
	return from && !to && e.Source == h.went.Source
}

func (h *simHeat) take(p race.Passed, o race.Opened) {
	seat := p.Lane
	if o.Digital {
		seat = p.Car
	}
	h.passes[seat] = append(h.passes[seat], handPass{p.Serial, p.At, p.Segment})
}

// late takes a pass of this heat that is not in it yet.
func (h *simHeat) late(p race.Passed, o race.Opened) {
	base, ok := h.bases[p.Segment]
	if !ok {
		return
	}
	at := p.At - base
	if at < 0 || at > h.fin {
		return
	}
	seat := p.Lane
	if o.Digital {
		seat = p.Car
	}
	for _, q := range h.passes[seat] {
		if q.number == p.Serial && q.at == p.At && q.segment == p.Segment {
			return
		}
	}
	h.take(p, o)
}

// driven takes the track calls out.
func (h *simHeat) driven(at time.Duration) time.Duration {
	d := at
	for _, s := range h.holds {
		if at > s[0] {
			to := s[1]
			if to < 0 || at < to {
				to = at
			}
			d -= to - s[0]
		}
	}
	return d
}

// handLap is a pass that counts a lap.
type handLap struct {
	number uint64
	time   time.Duration // 0 if it cannot be told
}

// count counts the laps of a seat.
func (h *simHeat) count(seat int, card race.Card) []handLap {
	type pass struct {
		handPass
		ok bool
	}
	var ps []handPass
	for _, p := range h.passes[seat] {
		if base, ok := h.bases[p.segment]; ok {
			ps = append(ps, handPass{p.number, p.at - base, p.segment})
		}
	}
	slices.SortStableFunc(ps, func(a, b handPass) int { return int(a.at - b.at) })
	var laps []handLap
	last := pass{} // kept before
	if card.Grid == "past" {
		last = pass{handPass{at: 0, segment: h.went.Segment}, true}
	}
	real := card.Grid == "past"
	home := false
	for _, p := range ps {
		if p.at < 0 {
			if card.Grid == "before" && !last.ok {
				last, real = pass{p, true}, false
			}
			continue
		}
		d := h.driven(p.at)
		inCall := false
		for _, s := range h.holds {
			if p.at > s[0]+card.Coast && (s[1] < 0 || p.at < s[1]) {
				inCall = true
			}
		}
		fin := h.fin
		if h.early {
			fin += card.Coast
		}
		end := card.Length
		ended := card.Kind == "timed"
		if card.Kind == "laps" && h.end >= 0 {
			end, ended = h.driven(h.end), true
		}
		switch {
		case inCall, home, p.at > fin:
			continue
		case card.AtEnd == "cut" && ended && d > end+card.Coast:
			continue
		case last.ok && last.segment == p.segment && d-h.driven(last.at) < card.DeadTime():
			continue
		}
		if !last.ok && card.Grid == "before" {
			if ended && d > end {
				continue
			}
			last, real = pass{p, true}, true
			continue
		}
		l := handLap{number: p.number}
		if real && last.segment == p.segment {
			l.time = d - h.driven(last.at)
		}
		laps = append(laps, l)
		last, real = pass{p, true}, true
		if card.Kind == "laps" && len(laps) >= card.Laps || card.AtEnd == "lap" && ended && d > end {
			home = true
		}
	}
	return laps
}

// compare compares a heat's laps with those counted by hand.
func (w *simNight) compare(n *race.Night, h *simHeat) {
	card := n.Info().Card
	for seat := 1; seat <= n.Seats(); seat++ {
		if h.strange[seat] || h.odd {
			w.stats.add("stint with rulings about passes", 1)
			continue
		}
		var got []handLap
		for _, r := range n.Laps(h.heat, seat) {
			if r.Lap > 0 {
				got = append(got, handLap{r.Serial, r.Time})
			}
		}
		want := h.count(seat, card)
		if !slices.Equal(got, want) {
			w.t.Errorf("heat %d, seat %d: laps %v, counted by hand %v", h.heat, seat, got, want)
		}
		w.stats.add("stint counted by hand", 1)
		w.stats.add("lap compared", len(want))
	}
}
