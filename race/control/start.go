package control

import (
	"fmt"
	"time"

	"lanewright/race"
	"lanewright/timing"
)

const lampsMost = 5

// startState is a start sequence.
type startState struct {
	on      bool
	lamps   int
	lit     int
	next    time.Time // when the next lamp comes on
	goAt    time.Time
	ordered bool
	id      uint64    // of the order that starts the heat
	giveUp  time.Time // when the host's estimate has to do
}

func (s *startState) due() time.Time {
	switch {
	case !s.on:
		return time.Time{}
	case s.ordered:
		return s.giveUp
	case s.lit < s.lamps && s.next.Before(s.goAt):
		return s.next
	}
	return s.goAt
}

// ackWait is how long the counter may take to answer before the host's estimate is used. It is a time of this computer, whatever
// the speed of a simulation.
const ackWait = 5 * time.Second

// startHeat begins the start sequence of the heat at the line.
func (d *desk) startHeat(now time.Time) error {
	card := d.night.Card()
	heat, attempt := d.night.AtLine()
	hold := randomHold(d.night.Info().Seed, heat, attempt, card.HoldMax)
	if err := d.emit(race.LampsStarted{Stamp: stamp(now), Lamps: lampsMost, Countdown: card.Countdown, Hold: hold}); err != nil {
		return err
	}
	d.judge.reset()
	d.end = endState{}
	step := d.host(card.Countdown) / lampsMost
	d.start = startState{on: true, lamps: lampsMost, next: now.Add(step), goAt: now.Add(d.host(card.Countdown) + d.host(hold))}
	d.wakeStart(now)
	return nil
}

// randomHold draws the hold after the last lamp from the night's seed, so that a replay holds as long. Whole milliseconds.
// Mixing: the finaliser of SplitMix64 (Steele, Lea, Flood, "Fast splittable pseudorandom number generators", 2014).
func randomHold(seed uint64, heat, attempt int, most time.Duration) time.Duration {
	ms := uint64(max(most, 0) / time.Millisecond)
	if ms == 0 {
		return 0
	}
	z := seed + uint64(heat)*0x9e3779b97f4a7c15 + uint64(attempt)*0xd1b54a32d192ed03
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	z ^= z >> 31
	return time.Duration(z%(ms+1)) * time.Millisecond
}

func (d *desk) wakeStart(now time.Time) {
	s := &d.start
	if !s.on {
		return
	}
	if d.night.Phase() != race.Lamps {
		*s = startState{}
		return
	}
	card := d.night.Card()
	step := d.host(card.Countdown) / time.Duration(max(s.lamps, 1))
	for !s.ordered && s.lit < s.lamps && reached(s.next, now) {
		s.lit++
		s.next = s.next.Add(step)
		d.lampsWait(s.lit)
	}
	switch {
	case s.ordered:
		if reached(s.giveUp, now) {
			d.goBy(now)
		}
	case reached(s.goAt, now):
		d.orderGo(now)
	}
}

// lampsWait shows lamps on the counter, where it has some and the card lets us switch.
func (d *desk) lampsWait(lit int) {
	d.moved = true
	if d.night.Card().Power {
		_, _ = d.counter.Lamps(lit, timing.Wait) // lamps are for show: without them the screen still counts down
	}
}

// orderGo switches power on and then gives the start, in this order, so that the cars' start depends on the counter's own time of the
// start only.
func (d *desk) orderGo(now time.Time) {
	s := &d.start
	if !d.night.Card().Power {
		d.goBy(now)
		return
	}
	_, _ = d.counter.Power(d.night.LanesMask()) // a counter without power switching still may have lamps
	id, err := d.counter.Lamps(0, timing.Start)
	if err != nil {
		d.goBy(now)
		return
	}
	s.ordered, s.id, s.giveUp = true, id, now.Add(ackWait)
}

func (d *desk) startAcked(now time.Time, m timing.LampAck) {
	if d.start.on && d.start.ordered && m.Source == d.source && m.Go == timing.Start && d.answers(m.ID, d.start.id) {
		if !d.plausible(m.Segment, m.At, m.Heard, d.start.giveUp.Add(-ackWait)) {
			d.goBy(now)
			return
		}
		d.went(now, m.Segment, m.At, true)
	}
}

// goBy starts the heat by the host's clock.
func (d *desk) goBy(now time.Time) {
	if !d.start.on {
		return
	}
	segment, at := d.placed(now)
	d.went(now, segment, at, false)
}

func (d *desk) went(now time.Time, segment int, at time.Duration, acked bool) {
	d.start = startState{}
	d.mark(now, race.Went{Stamp: stamp(now), Source: d.source, Segment: segment, At: at, Acked: acked}, acked)
}

// stopStart takes a start sequence back.
func (d *desk) stopStart(now time.Time, why string) error {
	if err := d.emit(race.StartBroken{Stamp: stamp(now), Why: why}); err != nil {
		return err
	}
	d.start = startState{}
	d.lampsWait(0)
	d.plan(now, d.powerOff())
	return nil
}

// jumped deals with a pass while the lamps are on. Before the order for go has been given it is a jump start; afterwards counter time
// tells.
func (d *desk) jumped(now time.Time, seat int) {
	heat, _ := d.night.AtLine()
	who := d.night.DriverIn(heat, seat)
	if d.start.ordered || who == 0 || d.night.Card().Jump != "restart" {
		return
	}
	if err := d.stopStart(now, fmt.Sprintf("jump start of %s", d.night.DriverName(who))); err != nil {
		d.must(now, race.Commented{Stamp: stamp(now), Text: err.Error()})
	}
}

// jumpedAfterGo applies the card to passes that turn out to have been before go.
func (d *desk) jumpedAfterGo(now time.Time) {
	card := d.night.Card()
	if card.Jump == "ignore" || card.Jump == "" {
		return
	}
	heat, _ := d.night.AtLine()
	for _, seat := range d.night.Jumped() {
		if d.night.JumpDealtWith(seat) {
			continue
		}
		name := d.night.DriverName(d.night.DriverIn(heat, seat))
		switch card.Jump {
		case "lap":
			d.must(now, race.Penalised{Stamp: stamp(now), Heat: heat, Seat: seat, Laps: 1, Why: race.JumpStart, By: "rule card"})
		case "void":
			d.must(now, race.StintDropped{Stamp: stamp(now), Heat: heat, Seat: seat, Why: race.JumpStart, By: "rule card"})
		default: // ask; and restart where the pass came to light after go
			d.must(now, race.Asked{Stamp: stamp(now), ID: d.night.NextQuestion(seat), Heat: heat, Seat: seat, What: race.JumpStart,
				Text: fmt.Sprintf("%s passed before go", name), Proposal: race.Proposal{Do: "penalise", Laps: 1}})
		}
	}
}
