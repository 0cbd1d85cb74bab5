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
}

// hear takes one message.
func (s *sighting) hear(segment int, at time.Duration, host time.Time, speed float64) {
	if s.segment != segment || at > s.latest {
		s.latest = at
	}
	if s.known && s.segment == segment {
		guess := s.at + time.Duration(float64(host.Sub(s.host))*speed)
		if at <= guess && host.Sub(s.host) < time.Minute {
			return // it was under way for longer than the one we have
		}
	}
	s.known, s.segment, s.at, s.host = true, segment, at, host
}

// counterTime estimates counter time at a host time.
func (d *desk) counterTime(host time.Time) (segment int, at time.Duration, ok bool) {
	if at, segment, ok = d.counter.CounterTime(host); ok && (!d.seen.known || segment >= d.seen.segment) {
		return segment, at, true
	}
	if d.seen.known {
		return d.seen.segment, d.seen.at + d.racing(host.Sub(d.seen.host)), true
	}
	return 0, 0, false
}

// here is counter time now, for an event of the heat being driven. Before the counter has been heard it follows from the wall time
// of go: the night was taken up after a restart, or the counter speaks only when a car passes.
func (d *desk) here(now time.Time) (segment int, at time.Duration) {
	if s, a, ok := d.counterTime(now); ok && d.night.Knows(s) {
		return s, a
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
