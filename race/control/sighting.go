package control

import (
	"time"

	"lanewright/race"
)

// sighting relates counter time to host time for the counting source, where the counter itself cannot be asked. Messages arrive
// late, never early, so the earliest one is the good one; the estimate is never ahead of the counter.
type sighting struct {
	known   bool
	segment int
	at      time.Duration
	host    time.Time
	latest  time.Duration // of what has been heard of this segment
	beats   time.Time     // when the counter last gave a sign of life without a pass

	odd     bool // the last message told a time that could not be
	oddAt   time.Duration
	oddHost time.Time
}

// hear takes one message and tells whether its time can be believed. A time far ahead of what the clock can show is a damaged sentence with a good
// check, unless the next one says the same.
func (s *sighting) hear(segment int, at time.Duration, host time.Time, speed float64) bool {
	same := s.known && s.segment == segment
	if same {
		since := host.Sub(s.host)
		guess := s.at + time.Duration(float64(since)*speed)
		slack := time.Duration(float64(believedDelay)*speed) + max(guess-s.at, 0)/believedPart
		if at > guess+slack && !s.confirmed(at, host, speed) {
			return false
		}
		s.latest = max(s.latest, at)
		if at <= guess && since < time.Minute {
			return true // it was under way for longer than the one we have
		}
	}
	if !same {
		s.latest = at
	}
	s.known, s.segment, s.at, s.host = true, segment, at, host
	s.odd = false
	return true
}

// confirmed tells whether an odd time agrees with the odd one before, and keeps it for the next otherwise.
func (s *sighting) confirmed(at time.Duration, host time.Time, speed float64) bool {
	off := at - s.oddAt - time.Duration(float64(host.Sub(s.oddHost))*speed)
	agrees := s.odd && max(off, -off) < time.Duration(float64(believedDelay)*speed)
	s.odd, s.oddAt, s.oddHost = true, at, host
	return agrees
}

// believed is how far the counter's own estimate of its time may lie from what its last words say: half a second of delay on this computer,
// and a thousandth of the time since. More is a fault of the estimate, and an estimate can end a heat.
const (
	believedDelay = 500 * time.Millisecond
	believedPart  = 1000
)

// counterTime estimates counter time at a host time.
func (d *desk) counterTime(host time.Time) (segment int, at time.Duration, ok bool) {
	theirs, theirSegment, told := d.counter.CounterTime(host)
	if !d.seen.known {
		return theirSegment, theirs, told
	}
	since := d.racing(host.Sub(d.seen.host))
	ours := d.seen.at + since
	if !told || theirSegment < d.seen.segment {
		return d.seen.segment, ours, true
	}
	if theirSegment == d.seen.segment {
		if off := max(theirs-ours, ours-theirs); off > d.racing(believedDelay)+max(since, -since)/believedPart {
			return d.seen.segment, ours, true
		}
	}
	return theirSegment, theirs, true
}

// plausible tells whether a moment that the counter is said to have told can be: not later than its clock can show when the bytes came,
// and not before the order it answers. One damaged sentence in 256 has a good check.
func (d *desk) plausible(segment int, at time.Duration, heard, ordered time.Time) bool {
	if !d.seen.known || d.seen.segment != segment {
		return true
	}
	slack := d.racing(believedDelay)
	ours := d.seen.at + d.racing(heard.Sub(d.seen.host))
	return at <= ours+slack && at >= ours-d.racing(heard.Sub(ordered))-slack
}

// here is counter time now, for an event of the heat being driven. Before the counter has been heard it follows from the wall time
// of go: the night was taken up after a restart, or the counter speaks only when a car passes.
func (d *desk) here(now time.Time) (segment int, at time.Duration) {
	if s, a, ok := d.counterTime(now); ok && d.night.Knows(s) {
		return s, a
	}
	if d.seen.known && d.night.Knows(d.seen.segment) { // its clock has begun anew and we have not been told from where
		return d.seen.segment, d.seen.at + d.racing(now.Sub(d.seen.host))
	}
	return d.byWall(now)
}

// byWall is counter time from the wall time of go. The wall clock may have been set back meanwhile: it is never earlier than what is known to
// have happened.
func (d *desk) byWall(now time.Time) (segment int, at time.Duration) {
	wall, ok := d.night.WentAt()
	if !ok {
		return 0, 0
	}
	segment, latest, _ := d.night.Latest()
	_, at, _ = d.night.HeatTime(d.racing(now.Sub(wall)))
	return segment, max(at, latest)
}

// placed tells what to write as the moment of go when the counter did not say: its time now, or zero of segment 0 where it has not
// been heard yet. Segment 0 is related to its clock by its first message.
func (d *desk) placed(now time.Time) (segment int, at time.Duration) {
	segment, at, ok := d.counterTime(now)
	if !ok {
		return 0, 0
	}
	return segment, at
}

// relate makes sure that a clock segment of the counter has a place in the heat being driven.
func (d *desk) relate(now time.Time, source string, segment int, at time.Duration, heard time.Time, why string) {
	going, _, _, ok := d.night.Going()
	if !ok || going != source || d.night.Knows(segment) {
		return
	}
	from, old := d.byWall(heard)
	if d.seen.known && d.night.Knows(d.seen.segment) && d.seen.segment != segment {
		from, old = d.seen.segment, d.seen.at+d.racing(heard.Sub(d.seen.host))
	}
	d.mark(now, race.SegmentBroke{Stamp: stamp(now), Source: source, From: from, To: segment, Old: old, New: at, Why: why}, false)
}
