package race

import (
	"slices"
	"time"
)

// Verdict says what became of a pass.
type Verdict uint8

// The verdicts.
const (
	Unheard   Verdict = iota // outside a heat, or go is not known yet
	Counted                  // completes a lap
	StartsLap                // cars stood before the line: it only starts lap 1
	BeforeGo                 // heard before go
	Bounce                   // within the dead time after a kept pass
	InCall                   // during a track call, after the coast window
	AfterEnd                 // the heat was over, or the car had finished
	Struck                   // by a ruling
	Moved                    // to another lane, by a ruling
	NoClock                  // of a clock segment that cannot be related to this heat
)

var verdictWords = [...]string{
	"outside a heat", "counted", "starts lap 1", "before go", "bounce: within the dead time", "during a track call", "after the end",
	"struck out", "moved to another lane", "on another clock",
}

// String returns the verdict in words.
func (v Verdict) String() string {
	if int(v) < len(verdictWords) {
		return verdictWords[v]
	}
	return "unknown"
}

// heard is one pass of a run.
type heard struct {
	seq     uint64
	serial  uint64
	at      time.Duration // counter time
	ht      time.Duration // since go, holds left in
	segment int32
	untimed bool
	verdict Verdict
}

// lap is one counted lap; its number is its place in the list.
type lap struct {
	pass    uint64        // journal number of the pass that completed it
	at      time.Duration // driven time of the heat at that pass
	time    time.Duration // holds left out
	timed   bool          // false: the clock was interrupted, time means nothing
	clean   bool          // may be a best lap: timed, no track call in it, from line to line, not under the minimum
	arrival bool          // taken from times of receipt
}

// span is a track call in heat time; open while to < 0.
type span struct{ from, to time.Duration }

// run is one attempt at a heat. All its results follow from passes, marks and active rulings, so that taking something back
// is exact.
type run struct {
	card    Card
	went    bool
	source  string
	acked   bool
	bases   []base // clock segments, oldest first
	holds   []span
	ended   bool // time up, or the winner is home
	end     time.Duration
	over    bool // no pass counts after fin
	fin     time.Duration
	early   bool
	seats   []seat
	lampsAt Wall
	goWall  Wall
}

// base relates a clock segment to the heat: heat time is counter time less offset.
type base struct {
	segment int32
	offset  time.Duration
}

// seat is one lane of a run, or one car on digital nights.
type seat struct {
	driver int
	passes []heard // in order of heat time, then of the journal
	in     []heard // moved here by rulings

	// from rulings
	given      int
	penalty    int // laps
	hundredths int
	part       int // in 1/PartOf, -1 not set
	partFrom   string
	dropped    bool

	t tally

	// median of the timed laps, worked out when it is shown
	median   time.Duration
	medianOf int // laps it was worked out from
}

// tally is what stepping through the passes of a seat gives.
type tally struct {
	laps     []lap
	started  bool
	done     bool
	last     time.Duration // heat time of the last kept pass
	lastSeg  int32
	lastReal bool          // last is a pass over the line (or the start, for cars past it)
	lastPass time.Duration // driven time of the last counted pass
	best     time.Duration
	top      time.Duration // latest heat time stepped through
	any      bool
}

// heatTime gives the time since go of a counter time.
func (r *run) heatTime(segment int, at time.Duration) (time.Duration, bool) {
	for i := len(r.bases) - 1; i >= 0; i-- {
		if int(r.bases[i].segment) == segment {
			return at - r.bases[i].offset, true
		}
	}
	return 0, false
}

// driven takes the track calls out of a heat time.
func (r *run) driven(ht time.Duration) time.Duration {
	d := ht
	for i := len(r.holds) - 1; i >= 0; i-- {
		h := r.holds[i]
		switch {
		case ht <= h.from:
		case h.to < 0 || ht < h.to:
			d -= ht - h.from
		default:
			d -= h.to - h.from
		}
	}
	return d
}

// holdAt returns the track call during which ht lies.
func (r *run) holdAt(ht time.Duration) (span, bool) {
	for i := len(r.holds) - 1; i >= 0; i-- {
		h := r.holds[i]
		if ht > h.from && (h.to < 0 || ht < h.to) {
			return h, true
		}
		if h.to >= 0 && ht >= h.to {
			break
		}
	}
	return span{}, false
}

// held tells whether a track call lies, wholly or in part, between two heat times.
func (r *run) heldBetween(a, b time.Duration) bool {
	for i := len(r.holds) - 1; i >= 0; i-- {
		h := r.holds[i]
		if h.from < b && (h.to < 0 || h.to > a) {
			return true
		}
	}
	return false
}

// hear adds a pass to a seat and counts it.
func (r *run) hear(s *seat, p heard) Verdict {
	if r.went {
		ht, ok := r.heatTime(int(p.segment), p.at)
		if !ok {
			p.verdict = NoClock
			s.passes = append(s.passes, p)
			return NoClock
		}
		p.ht = ht
		if s.t.any && ht < s.t.top || len(s.in) > 0 { // late, or a list to merge with
			i := len(s.passes)
			for i > 0 && s.passes[i-1].ht > ht {
				i--
			}
			s.passes = slices.Insert(s.passes, i, p)
			r.recount(s)
			return s.passes[i].verdict
		}
		p.verdict = r.step(s, &p)
	}
	s.passes = append(roomy(s.passes), p)
	return p.verdict
}

// roomy doubles the room of a full list. Append alone grows long lists by a quarter at a time, and a night's passes are copied often then.
func roomy[T any](s []T) []T {
	if len(s) < cap(s) {
		return s
	}
	return slices.Grow(s, max(len(s), 16))
}

// recount works out a seat anew from its passes.
func (r *run) recount(s *seat) {
	s.t, s.medianOf, s.median = tally{}, 0, 0
	if !r.went {
		return
	}
	if len(s.in) == 0 {
		for i := range s.passes {
			r.again(s, &s.passes[i])
		}
		return
	}
	all := make([]*heard, 0, len(s.passes)+len(s.in))
	for i := range s.passes {
		all = append(all, &s.passes[i])
	}
	for i := range s.in {
		all = append(all, &s.in[i])
	}
	slices.SortStableFunc(all, func(a, b *heard) int {
		if a.ht != b.ht {
			if a.ht < b.ht {
				return -1
			}
			return 1
		}
		if a.seq < b.seq {
			return -1
		}
		return 1
	})
	for _, p := range all {
		r.again(s, p)
	}
}

func (r *run) again(s *seat, p *heard) {
	if p.verdict == Struck || p.verdict == Moved || p.verdict == NoClock {
		return
	}
	p.verdict = r.step(s, p)
}

// relate gives all passes their heat time anew, after go or after a new clock segment.
func (r *run) relate() {
	for i := range r.seats {
		s := &r.seats[i]
		for j := range s.passes {
			p := &s.passes[j]
			ht, ok := r.heatTime(int(p.segment), p.at)
			switch {
			case !ok && p.verdict != Struck && p.verdict != Moved:
				p.verdict = NoClock
			case ok:
				p.ht = ht
				if p.verdict == NoClock {
					p.verdict = Unheard
				}
			}
		}
		slices.SortStableFunc(s.passes, func(a, b heard) int {
			switch {
			case a.ht < b.ht:
				return -1
			case a.ht > b.ht:
				return 1
			}
			return 0
		})
	}
	for i := range r.seats {
		r.recount(&r.seats[i])
	}
}
