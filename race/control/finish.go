package control

import (
	"time"

	"lanewright/race"
)

// finishMax is how long after the end, in racing time, cars may take to finish their lap before the heat is closed without them.
// Common practice, no source; the director can close it sooner.
const finishMax = time.Minute

// Times of this computer, whatever the speed of a simulation.
const (
	cutAhead  = time.Second            // how long before the end the counter is told when to cut power
	lateGrace = 500 * time.Millisecond // how long bytes may be under way
	lostGrace = 15 * time.Second       // for a counter with a heartbeat: it will say itself that the end has passed, unless it is lost
)

// endState is the end of a heat ahead.
type endState struct {
	due    time.Time // when to look again by the host's clock
	cutSet bool      // the counter has been told when to cut power
	cutID  uint64    // of that order
}

// planEnd sets the alarm for the end of a timed heat.
func (d *desk) planEnd(now time.Time) {
	d.end = endState{}
	card := d.night.Card()
	if card.Kind != "timed" {
		if d.auto {
			d.moving = now
			d.end.due = now.Add(d.host(stillMax))
		}
		return
	}
	left := d.left(now)
	d.end.due = now.Add(max(d.host(left)-cutAhead, 0))
	d.wakeEnd(now)
}

// left is the racing time left in a timed heat, by estimate.
func (d *desk) left(now time.Time) time.Duration {
	segment, at := d.here(now)
	driven, ok := d.night.Driven(segment, at)
	end, has := d.night.EndDriven()
	if !ok || !has {
		return 0
	}
	return end - driven
}

// wakeEnd looks at the end by the host's clock: it tells the counter when to cut, and closes a heat whose counter is silent.
func (d *desk) wakeEnd(now time.Time) {
	if !reached(d.end.due, now) {
		return
	}
	d.end.due = time.Time{}
	phase := d.night.Phase()
	if phase != race.Green && phase != race.Finishing {
		return
	}
	card := d.night.Card()
	if phase == race.Green && card.Kind == "laps" && d.auto {
		d.endStill(now)
		return
	}
	if phase == race.Green && card.Kind == "timed" && card.AtEnd == "cut" && card.Power && !d.end.cutSet {
		d.end.cutSet = true
		if _, at, ok := d.night.CounterTime(card.Length); ok {
			id, err := d.counter.PowerAt(0, at)
			d.end.cutID = id
			if err != nil {
				d.end.cutSet, d.end.cutID = false, 0 // the host will cut when the time comes
			}
		}
	}
	if left := d.left(now); phase == race.Green && card.Kind == "timed" && left > 0 {
		d.end.due = now.Add(max(d.host(left), time.Millisecond))
		return
	}
	if phase == race.Green && card.Kind == "timed" && card.AtEnd == "cut" && card.Power && !d.end.cutSet {
		d.end.cutSet = true
		d.powerOff()
	}
	// The time is over by our clock. If the counter is alive its next word settles the end; if not, we do after a while.
	wait := lateGrace
	if !d.seen.beats.IsZero() {
		wait = lostGrace
	}
	if d.waits {
		return // what the host's clock has ended is on the tape
	}
	segment, at := d.here(now.Add(-wait))
	if d.night.Knows(segment) {
		d.alone = true
		d.settleEnd(now, segment, at)
		d.alone = false
	}
	if p := d.night.Phase(); p == race.Green || p == race.Finishing {
		d.end.due = now.Add(lateGrace / 2)
	}
}

// stillMax is how long, in racing time, nothing may move in a lap heat before an unattended night ends it.
const stillMax = 5 * time.Minute

// endStill ends a lap heat of an unattended night in which nothing has moved for long: nobody is there to do it.
func (d *desk) endStill(now time.Time) {
	if until := d.moving.Add(d.host(stillMax)); now.Before(until) {
		d.end.due = until
		return
	}
	d.note(now, race.Commented{Stamp: stamp(now), Text: "nothing has moved for long: the heat is ended"})
	segment, at := d.here(now)
	d.mark(now, race.Finished{Stamp: stamp(now), Segment: segment, At: at, Early: true}, false)
}

// settle takes the news that everything before a counter time is known.
func (d *desk) settle(now time.Time, segment int, at time.Duration) {
	switch d.night.Phase() {
	case race.Green, race.Finishing:
		if d.night.Knows(segment) && !d.call.on {
			d.settleEnd(now, segment, at)
		}
	}
}

func (d *desk) settleEnd(now time.Time, segment int, at time.Duration) {
	driven, ok := d.night.Driven(segment, at)
	end, has := d.night.EndDriven()
	if !ok || !has || driven <= end {
		return
	}
	card := d.night.Card()
	if d.night.Phase() == race.Green {
		seg, endAt, _ := d.night.CounterTime(end)
		up := race.TimeUp{Stamp: stamp(now), Segment: seg, At: endAt}
		if d.alone {
			d.keepEvent(now, up)
		}
		if !d.must(now, up) {
			return
		}
		d.endPower()
	}
	if d.night.Phase() != race.Finishing {
		return
	}
	last := end + card.Coast
	if card.AtEnd == "lap" {
		last = end + finishMax
		if len(d.night.Out()) == 0 {
			last = max(end, d.night.Newest())
		}
	}
	if driven > last {
		d.finish(now, last, false)
	}
}

// endPower cuts power at the end of a heat that is cut, unless the counter has been told to do it at the exact time.
func (d *desk) endPower() {
	if d.night.Card().AtEnd == "cut" && !d.end.cutSet {
		d.end.cutSet = true
		d.powerOff()
	}
}

// home sees the winner of a lap heat come home, and the last car of a heat whose cars finish their lap.
func (d *desk) home(now time.Time) {
	switch d.night.Phase() {
	case race.Green:
		_, driven, ok := d.night.Home()
		if !ok {
			return
		}
		seg, at, _ := d.night.CounterTime(driven)
		if !d.must(now, race.TimeUp{Stamp: stamp(now), Segment: seg, At: at}) {
			return
		}
		d.endPower()
		d.end.due = now.Add(lateGrace)
		fallthrough
	case race.Finishing:
		if d.night.Card().AtEnd == "lap" && len(d.night.Out()) == 0 {
			if end, ok := d.night.EndDriven(); ok {
				d.finish(now, max(end, d.night.Newest()), false)
			}
		}
	}
}

// finish ends the heat at a driven time.
func (d *desk) finish(now time.Time, driven time.Duration, early bool) {
	seg, at, _ := d.night.CounterTime(driven)
	f := race.Finished{Stamp: stamp(now), Segment: seg, At: at, Early: early}
	if d.alone {
		d.keepEvent(now, f)
	}
	if !d.must(now, f) {
		return
	}
	d.finished(now)
}

func (d *desk) finished(now time.Time) {
	d.end, d.back, d.call = endState{}, backState{}, callState{}
	off := d.powerOff()
	d.consultAll(now)
	if d.auto {
		d.acceptItself(now)
		d.plan(now, off)
	}
}

// finishNow ends the heat by hand.
func (d *desk) finishNow(now time.Time) error {
	switch p := d.night.Phase(); p {
	case race.Green, race.TrackCall, race.Resuming, race.Finishing:
	default:
		return errSaid("no heat is being driven (%s)", p)
	}
	segment, at := d.here(now)
	d.mark(now, race.Finished{Stamp: stamp(now), Segment: segment, At: at, Early: true}, false)
	return nil
}
