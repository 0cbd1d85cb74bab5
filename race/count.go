package race

import "time"

// step takes one more pass, in order of time, into the tally of a seat and says what becomes of it. All rules of the card
// that turn passes into laps are here.
func (r *run) step(s *seat, p *heard) Verdict {
	t := &s.t
	t.any, t.top = true, p.ht
	if p.ht < 0 {
		if r.card.Grid == "before" && !t.started {
			// The car has left the grid over the line. Its first lap begins at go and is never timed.
			t.started, t.last, t.lastSeg, t.lastReal = true, p.ht, p.segment, false
		}
		return BeforeGo
	}
	d := p.ht
	if len(r.holds) > 0 {
		d = r.driven(p.ht)
		if h, in := r.holdAt(p.ht); in && p.ht > h.from+r.card.Coast {
			return InCall
		}
	}
	if v, out := r.afterEnd(s, p.ht, d); out {
		return v
	}
	first := !t.started
	if dead := r.card.DeadTime(); dead > 0 {
		switch {
		case !first && p.segment == t.lastSeg && r.driven(p.ht)-r.driven(t.last) < dead:
			return Bounce
		case first && r.card.Grid == "past" && p.segment == r.bases[0].segment && d < dead:
			return Bounce // the car has not been round yet: it stood on the sensor
		}
	}
	if first && r.card.Grid == "before" {
		if r.endedBy(d) {
			return AfterEnd
		}
		t.started, t.last, t.lastSeg, t.lastReal = true, p.ht, p.segment, true
		return StartsLap
	}
	l := lap{pass: p.seq, at: d, arrival: p.untimed}
	switch {
	case first: // cars past the line: lap 1 runs from go
		l.time, l.timed = d, p.segment == r.bases[0].segment
	default:
		l.time = d - r.driven(t.last)
		l.timed = t.lastReal && p.segment == t.lastSeg
		l.clean = l.timed && !r.heldBetween(t.last, p.ht) && l.time >= r.card.LapMin
	}
	if !l.timed {
		l.time = 0
	}
	if l.clean && (t.best == 0 || l.time < t.best) {
		t.best = l.time
	}
	t.laps = append(roomy(t.laps), l)
	t.started, t.last, t.lastSeg, t.lastReal, t.lastPass = true, p.ht, p.segment, true, d
	if r.card.Kind == "laps" && len(t.laps)+s.given >= r.card.Laps || r.endedBy(d) && r.card.AtEnd == "lap" {
		t.done = true
	}
	return Counted
}

// endedBy tells whether the heat was over at a driven time: a timed heat after its length, a lap heat after the winner came home.
func (r *run) endedBy(d time.Duration) bool {
	if r.card.Kind == "timed" {
		return d > r.card.Length
	}
	return r.ended && d > r.driven(r.end)
}

// afterEnd says whether a pass is too late to count.
func (r *run) afterEnd(s *seat, ht, d time.Duration) (Verdict, bool) {
	if s.t.done {
		return AfterEnd, true
	}
	if r.over {
		late := ht - r.fin
		if r.early {
			late -= r.card.Coast
		}
		if late > 0 {
			return AfterEnd, true
		}
	}
	if r.card.AtEnd == "cut" {
		end := r.card.Length
		if r.card.Kind == "laps" {
			if !r.ended {
				return 0, false
			}
			end = r.driven(r.end)
		}
		if d > end+r.card.Coast {
			return AfterEnd, true
		}
	}
	return 0, false
}

// net is the number of laps that a seat's result has before penalties.
func (s *seat) net() int { return len(s.t.laps) + s.given }
