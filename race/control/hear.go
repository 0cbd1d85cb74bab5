package control

import (
	"fmt"
	"time"

	"lanewright/race"
	"lanewright/timing"
)

// hear takes one message of a counter.
func (d *desk) hear(now time.Time, m timing.Message) {
	switch m := m.(type) {
	case timing.Pass:
		d.hearPass(now, m)
	case timing.Beat:
		d.hearTime(now, m.Source, m.Segment, m.At, m.Heard)
		if m.Source == d.source {
			d.seen.beats = m.Heard
			if m.Boot != 0 {
				d.boot = m.Boot
			}
		}
	case timing.PowerAck:
		d.hearTime(now, m.Source, m.Segment, m.At, m.Heard)
		d.hearPower(now, m)
	case timing.LampAck:
		d.hearTime(now, m.Source, m.Segment, m.At, m.Heard)
		d.startAcked(now, m)
		d.backAcked(now, m)
	case timing.Missing:
		d.note(now, race.PassesMissing{Stamp: stamp(now), Source: m.Source, First: m.First, Last: m.Last, Count: m.Count, Why: m.Why})
		if m.Source == d.source {
			d.lost(now)
		}
	case timing.Port:
		d.note(now, race.PortNoted{Stamp: stamp(now), Source: m.Source, State: m.State.String(), Text: m.Detail})
	case timing.Reset:
		d.note(now, race.ClockNoted{Stamp: stamp(now), Source: m.Source, Text: fmt.Sprintf("the clock of counter %s began anew: %s", m.Source, m.Why)})
		d.restarted(now, m)
	case timing.Damaged:
		d.note(now, race.DamageNoted{Stamp: stamp(now), Source: m.Source, Bytes: m.Bytes, Why: m.Why, Raw: m.Raw})
	case timing.ClockStep:
		d.note(now, race.ClockNoted{Stamp: stamp(now), Source: m.Source, By: m.By, Text: "the computer slept or its clock was set"})
	case timing.Drift:
		d.note(now, race.ClockNoted{Stamp: stamp(now), Source: m.Source, Text: fmt.Sprintf("the clock of counter %s is off by %.0f parts per million; nothing is corrected", m.Source, m.PPM)})
	case timing.Unanswered:
		d.unanswered(now, m)
	}
}

// note writes something down while the night is open.
func (d *desk) note(now time.Time, e race.Event) {
	if d.night.IsOpen() {
		d.must(now, e)
	}
}

// hearTime takes the time that any message of the counting source carries: everything before it is known now.
func (d *desk) hearTime(now time.Time, source string, segment int, at time.Duration, heard time.Time) {
	if source != d.source {
		return
	}
	d.relate(now, source, segment, at, heard, "the counter was restarted or silent too long")
	if d.seen.hear(segment, at, heard, d.speed) {
		d.settle(now, segment, at)
		d.pauseHeard(now, segment, at)
	}
}

func (d *desk) hearPass(now time.Time, m timing.Pass) {
	if !d.night.IsOpen() {
		return
	}
	believed := true
	if m.Source == d.source {
		d.relate(now, m.Source, m.Segment, m.At, m.Heard, "the counter was restarted or silent too long")
		if believed = m.Again || d.seen.hear(m.Segment, m.At, m.Heard, d.speed); believed {
			d.settle(now, m.Segment, m.At)
		}
	}
	p := race.Passed{Stamp: stamp(now), Pass: race.Pass{Source: m.Source, Segment: m.Segment, Sensor: m.Sensor, Lane: m.Lane, Car: m.Car, At: m.At, Ticks: m.Ticks,
		Serial: m.Serial, Boot: m.Boot, Untimed: !m.Timed, Again: m.Again, Heard: race.WallOf(m.Heard), Raw: m.Raw}}
	d.emitPass(&p)
	if seat := d.night.SeatOf(p.Pass); seat > 0 {
		d.passed(now, p.Segment, p.At, seat, believed)
	}
}

// emitPass is emit for a pass.
func (d *desk) emitPass(p *race.Passed) {
	if err := d.night.ApplyPassed(d.seq+1, p); err != nil {
		return // the night is closed: nothing more is written
	}
	d.seq++
	d.out = append(d.out, made{d.seq, race.KindPassed, p.Wall, race.AppendPassed(make([]byte, 0, 320), p), *p})
}

// passed looks at what a pass means for the heat.
func (d *desk) passed(now time.Time, segment int, at time.Duration, seat int, believed bool) {
	switch d.night.Phase() {
	case race.Lamps:
		d.jumped(now, seat)
	case race.Green, race.Finishing, race.TrackCall, race.Resuming:
		d.moving = now
		d.jumpedAfterGo(now)
		d.home(now)
		d.consult(now, seat)
		if believed {
			d.settle(now, segment, at)
		}
	}
}

// restarted stops the track when the counter has started anew in mid-heat: a counter that switches power starts with power off.
func (d *desk) restarted(now time.Time, m timing.Reset) {
	if m.Source != d.source || m.Boot == 0 {
		return
	}
	was := d.boot
	if p, ok := d.night.LastPass(m.Source); was == 0 && ok {
		was = p.Boot
	}
	d.boot = m.Boot
	if was == 0 || was == m.Boot || d.night.Phase() != race.Green || !d.night.Card().Power {
		return
	}
	segment, at := d.here(now)
	d.mark(now, race.Held{Stamp: stamp(now), Segment: segment, At: at, Why: "the counter was restarted", By: "counter"}, false)
}

// powerNews is how old news of power that went by itself may be.
const powerNews = 10 * time.Second

// hearPower takes an acknowledgement, or word that power changed by itself.
func (d *desk) hearPower(now time.Time, m timing.PowerAck) {
	if m.Source != d.source {
		return
	}
	asked := m.ID != 0
	if p := d.power; !asked && p.known && p.segment == m.Segment && m.At <= p.at {
		return // older than what was acknowledged: no news
	}
	d.power = &powerState{m.Lanes, m.Segment, m.At, true}
	d.note(now, race.PowerNoted{Stamp: stamp(now), Source: m.Source, Segment: m.Segment, At: m.At, Lanes: m.Lanes, Asked: asked, Ticks: m.Ticks, Boot: m.Boot, Number: m.Last})
	if asked {
		d.callAcked(now, m)
		d.pauseAcked(now, m.ID, m.Lanes, m.Segment, m.At)
		return
	}
	if d.night.Phase() == race.Green && d.night.Card().Power && m.Lanes&d.night.LanesMask() == 0 {
		segment, at, acked := m.Segment, m.At, true
		if !d.night.Knows(segment) || !d.plausible(segment, at, m.Heard, m.Heard.Add(-powerNews)) {
			segment, at = d.here(now)
			acked = false
		}
		d.mark(now, race.Held{Stamp: stamp(now), Segment: segment, At: at, Acked: acked, Why: "the counter says that power is off", By: "counter"}, acked)
	}
}

// unanswered takes word that an order got no answer: the host's own estimate has to do. Orders that matter no more, such as those that a newer
// one has replaced, are passed over.
func (d *desk) unanswered(now time.Time, m timing.Unanswered) {
	said := func() {
		d.note(now, race.Commented{Stamp: stamp(now), Text: fmt.Sprintf("counter %s did not answer (%s): %s", m.Source, m.What, m.Why)})
	}
	switch {
	case m.ID == 0:
	case d.start.ordered && m.ID == d.start.id:
		said()
		d.goBy(now)
	case d.call.on && m.ID == d.call.id:
		said()
		d.holdBy(now)
	case d.back.ordered && m.ID == d.back.id:
		said()
		d.backBy(now)
	case d.night.Phase() == race.Green && m.ID == d.end.cutID:
		said()
		d.end.cutSet, d.end.cutID = false, 0
	}
}
