package control

import (
	"time"

	"lanewright/race"
)

// pauseState is the pause before the next step of an unattended night. It is counted on the counter's clock where that can be heard: once
// the counter has acknowledged that power is off, and has spoken of a moment a whole pause later, every pass of a car that was still
// rolling is known, and none of them can get into the next heat however late its bytes come.
type pauseState struct {
	due     time.Time     // when the host's clock decides
	off     uint64        // order for power off that must be acknowledged first
	counted bool          // at holds
	segment int           // of at
	at      time.Duration // counter time from which on the night goes on
}

// plan sets the alarm for the next step of an unattended night. off is the order that has stopped the cars, 0 if none was given.
func (d *desk) plan(now time.Time, off uint64) {
	d.pause = pauseState{}
	if !d.auto {
		return
	}
	switch d.night.Phase() {
	case race.SignOn:
		if !d.night.HasDraw() && d.night.NextDriver() > 1 {
			d.pause.due = now
		}
	case race.Finish:
		d.pause.due = now
	case race.Idle, race.Staged:
		pause := d.night.Card().Pause
		d.pause.off = off
		d.pause.due = now.Add(d.host(pause))
		switch {
		case off != 0:
			d.pause.due = d.pause.due.Add(ackWait)
		case d.seen.known:
			d.pauseFrom(now, d.seen.segment, d.seen.latest)
		}
	}
}

// pauseFrom counts the pause from a counter time on.
func (d *desk) pauseFrom(now time.Time, segment int, at time.Duration) {
	pause := d.night.Card().Pause
	d.pause = pauseState{due: now.Add(d.host(pause)), counted: true, segment: segment, at: at + pause}
	if !d.seen.beats.IsZero() {
		d.pause.due = d.pause.due.Add(lostGrace) // it will say itself when the pause is over, unless it is lost
	}
}

// pauseAcked takes the acknowledgement that power is off.
func (d *desk) pauseAcked(now time.Time, id uint64, lanes uint32, segment int, at time.Duration) {
	if d.pause.off != 0 && d.answers(id, d.pause.off) && lanes == 0 {
		d.pauseFrom(now, segment, at)
	}
}

// pauseHeard takes any word of the counter about its time.
func (d *desk) pauseHeard(now time.Time, segment int, at time.Duration) {
	if d.pause.counted && d.pause.segment == segment && at >= d.pause.at {
		d.goOn(now)
	}
}

func (d *desk) wakePause(now time.Time) {
	if reached(d.pause.due, now) {
		d.goOn(now)
	}
}

// goOn takes the next step of an unattended night.
func (d *desk) goOn(now time.Time) {
	d.pause = pauseState{}
	if !d.auto || d.drawing {
		return
	}
	switch d.night.Phase() {
	case race.SignOn:
		if err := d.makeDraw(now, d.firstDraw(), nil); err != nil {
			d.note(now, race.Commented{Stamp: stamp(now), Text: "no draw: " + err.Error()})
		}
	case race.Finish: // taken up after a restart
		d.acceptItself(now)
	case race.Idle:
		if !d.byItself(now, race.Stage{}) {
			return
		}
		fallthrough
	case race.Staged:
		d.byItself(now, race.Start{})
	}
}

// byItself carries out a command that nobody gave. It goes onto the tape like any other, and a replay takes it from there.
func (d *desk) byItself(now time.Time, cmd race.Command) bool {
	d.acting = true
	_, err := d.carryOut(now, cmd)
	d.acted(now, cmd, err == nil)
	if err != nil {
		d.note(now, race.Commented{Stamp: stamp(now), Text: "not carried out: " + err.Error()})
	}
	return err == nil
}

func (d *desk) acceptItself(now time.Time) {
	heat, _ := d.night.AtLine()
	if d.must(now, race.Accepted{Stamp: stamp(now), Heat: heat, Auto: true}) {
		d.keep(now, race.Accept{})
		d.plan(now, 0)
	}
}
