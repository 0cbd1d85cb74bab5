package control

import (
	"time"

	"lanewright/race"
	"lanewright/timing"
)

// callWait is how long a track call waits for the counter to say when power went off. Longer would show on the screen.
const callWait = 250 * time.Millisecond

// callState is a track call between the order and the counter's answer.
type callState struct {
	on      bool
	id      uint64
	at      time.Duration // estimate of the moment of the key
	segment int
	why, by string
	giveUp  time.Time
}

func (c *callState) due() time.Time {
	if !c.on {
		return time.Time{}
	}
	return c.giveUp
}

// callTrack stops the track.
func (d *desk) callTrack(now time.Time, why string) error {
	switch d.night.Phase() {
	case race.Lamps:
		return d.stopStart(now, orElse(why, "track call"))
	case race.Resuming:
		d.back = backState{}
		d.lampsWait(0)
		d.powerOff()
		segment, at := d.here(now)
		return d.emit(race.Held{Stamp: stamp(now), Segment: segment, At: at, Why: why})
	case race.TrackCall:
		return errSaid("the track is stopped already; enter resumes")
	case race.Green, race.Finishing:
	default:
		return errSaid("no heat is being driven")
	}
	if d.call.on {
		return nil
	}
	d.call = callState{on: true, why: why, giveUp: now.Add(callWait)}
	d.call.segment, d.call.at = d.here(now)
	if !d.night.Card().Power {
		d.holdBy(now)
		return nil
	}
	id, err := d.counter.Power(0)
	if err != nil {
		d.holdBy(now)
		return nil
	}
	d.call.id = id
	return nil
}

func (d *desk) callAcked(now time.Time, m timing.PowerAck) {
	if d.call.on && d.answers(m.ID, d.call.id) && m.Lanes == 0 && d.night.Knows(m.Segment) {
		if !d.plausible(m.Segment, m.At, m.Heard, d.call.giveUp.Add(-callWait)) {
			d.holdBy(now)
			return
		}
		d.held(now, m.Segment, m.At, true)
	}
}

func (d *desk) wakeCall(now time.Time) {
	if d.call.on && reached(d.call.giveUp, now) {
		d.holdBy(now)
	}
}

// holdBy holds the clock at the moment of the key by the host's clock.
func (d *desk) holdBy(now time.Time) {
	if d.call.on {
		d.held(now, d.call.segment, d.call.at, false)
	}
}

func (d *desk) held(now time.Time, segment int, at time.Duration, acked bool) {
	c := d.call
	d.call = callState{}
	d.mark(now, race.Held{Stamp: stamp(now), Segment: segment, At: at, Acked: acked, Why: c.why, By: c.by}, acked)
}

// answers tells whether an acknowledgement is that of an order. In a replay the ids on the tape may differ from ours, but not so far that
// one would be that of another order of ours.
func (d *desk) answers(id, order uint64) bool {
	return id == order || d.loose && id != 0 && id != d.end.cutID && id != d.start.id && id != d.back.id
}

// backState is the countdown back to green.
type backState struct {
	on      bool
	lamps   int
	lit     int
	next    time.Time
	goAt    time.Time
	ordered bool
	id      uint64
	giveUp  time.Time
}

func (b *backState) due() time.Time {
	switch {
	case !b.on:
		return time.Time{}
	case b.ordered:
		return b.giveUp
	case b.lit < b.lamps && b.next.Before(b.goAt):
		return b.next
	}
	return b.goAt
}

const backLamps = 3

// resume counts down and goes on.
func (d *desk) resume(now time.Time) error {
	in := d.night.Card().ResumeIn
	if err := d.emit(race.ResumeStarted{Stamp: stamp(now), Lamps: backLamps, Countdown: in}); err != nil {
		return err
	}
	d.back = backState{on: true, lamps: backLamps, next: now.Add(d.host(in) / backLamps), goAt: now.Add(d.host(in))}
	d.wakeBack(now)
	return nil
}

func (d *desk) wakeBack(now time.Time) {
	b := &d.back
	if !b.on {
		return
	}
	if d.night.Phase() != race.Resuming {
		*b = backState{}
		return
	}
	step := d.host(d.night.Card().ResumeIn) / backLamps
	for !b.ordered && b.lit < b.lamps && reached(b.next, now) {
		b.lit++
		b.next = b.next.Add(step)
		d.lampsWait(b.lit)
	}
	switch {
	case b.ordered:
		if reached(b.giveUp, now) {
			d.backBy(now)
		}
	case reached(b.goAt, now):
		if !d.night.Card().Power {
			d.backBy(now)
			return
		}
		_, _ = d.counter.Power(d.night.LanesMask()) // before the lamps, as at the start
		id, err := d.counter.Lamps(0, timing.Again)
		if err != nil {
			d.backBy(now)
			return
		}
		b.ordered, b.id, b.giveUp = true, id, now.Add(ackWait)
	}
}

func (d *desk) backAcked(now time.Time, m timing.LampAck) {
	if d.back.on && d.back.ordered && m.Source == d.source && m.Go == timing.Again && d.answers(m.ID, d.back.id) && d.night.Knows(m.Segment) {
		if !d.plausible(m.Segment, m.At, m.Heard, d.back.giveUp.Add(-ackWait)) {
			d.backBy(now)
			return
		}
		d.green(now, m.Segment, m.At, true)
	}
}

func (d *desk) backBy(now time.Time) {
	if d.back.on {
		segment, at := d.here(now)
		d.green(now, segment, at, false)
	}
}

func (d *desk) green(now time.Time, segment int, at time.Duration, acked bool) {
	d.back = backState{}
	d.mark(now, race.Resumed{Stamp: stamp(now), Segment: segment, At: at, Acked: acked}, acked)
}

// powerOff cuts the power of all lanes where the card lets us. It is a convenience for racing and never a safety device.
func (d *desk) powerOff() (id uint64) {
	if d.night.Card().Power {
		id, _ = d.counter.Power(0) // a counter that cannot switch leaves it to the director
	}
	return id
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
