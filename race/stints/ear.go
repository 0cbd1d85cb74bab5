package stints

import (
	"slices"
	"time"

	"lanewright/race"
)

// Ear gathers from the passes of a night what a fold does not keep: the length of the counter's tick, which passes had no time of the
// counter's own, and how long cars took from one sensor to the next. Hand it every pass in the order of the journal, each after the
// night has applied it.
type Ear struct {
	ticks    []float64 // nanoseconds a tick, one for each interval that tells
	grain    time.Duration
	first    map[string]race.Pass
	last     map[string]race.Pass
	untimed  map[uint64]bool
	passed   int
	crossing map[int]race.Pass // by seat
	sprints  []Sprint
}

// Sprint is a car from one sensor to the next that it passed.
type Sprint struct {
	Heat, Seat, Driver int
	From, To           int // sensors
	Took               time.Duration
}

// sprintMost bounds how long a car may take from sensor to sensor: what takes longer came to a stop or missed a sensor.
const sprintMost = 2 * time.Minute

// Hear takes the pass with journal number seq.
func (e *Ear) Hear(n *race.Night, seq uint64, p race.Pass) {
	if c := n.Info().Counter; c != "" && p.Source != c {
		return
	}
	e.passed++
	if e.untimed == nil {
		e.first, e.last, e.untimed, e.crossing = map[string]race.Pass{}, map[string]race.Pass{}, map[uint64]bool{}, map[int]race.Pass{}
	}
	if p.Untimed {
		e.untimed[seq] = true
		return
	}
	e.measure(p)
	seat := p.Lane
	if n.Info().Digital {
		seat = p.Car
	}
	if !n.Phase().Live() || seat < 1 || seat > n.Seats() {
		delete(e.crossing, seat)
		return
	}
	heat, _ := n.AtLine()
	if before, ok := e.crossing[seat]; ok && before.Segment == p.Segment && before.Sensor != p.Sensor && p.At > before.At && p.At-before.At <= sprintMost {
		e.sprints = append(e.sprints, Sprint{heat, seat, n.DriverIn(heat, seat), max(before.Sensor, 1), max(p.Sensor, 1), p.At - before.At})
	}
	p.Raw = ""
	e.crossing[seat] = p
}

// measure learns the length of a tick.
func (e *Ear) measure(p race.Pass) {
	p.Raw = ""
	if last, ok := e.last[p.Source]; ok && last.Segment == p.Segment && p.At > last.At && p.Ticks > last.Ticks {
		e.ticks = append(e.ticks, float64(p.At-last.At)/float64(p.Ticks-last.Ticks))
	}
	if first, ok := e.first[p.Source]; !ok || first.Segment != p.Segment {
		e.first[p.Source] = p
	} else if d := p.At - first.At; d > 0 {
		e.grain = common(e.grain, d)
	}
	e.last[p.Source] = p
}

// Tick returns the length of the counter's tick: the middle of what its ticks and times say, where it sends ticks, else the
// greatest time of which all its times are multiples. ok is false when no pass of the counter had a time.
func (e *Ear) Tick() (tick time.Duration, ok bool) {
	if len(e.ticks) > 0 {
		slices.Sort(e.ticks)
		return time.Duration(e.ticks[len(e.ticks)/2] + 0.5), true
	}
	return e.grain, e.grain > 0
}

// Untimed returns how many of the passes had no time of the counter's own, and how many passes there were.
func (e *Ear) Untimed() (untimed, all int) { return len(e.untimed), e.passed }

// ByReceipt tells whether the pass with this journal number was timed by its receipt.
func (e *Ear) ByReceipt(seq uint64) bool { return e.untimed[seq] }

// Sprints returns the runs from sensor to sensor during heats, in the order in which they ended.
func (e *Ear) Sprints() []Sprint { return e.sprints }

// common is the greatest common divisor.
func common(a, b time.Duration) time.Duration {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
