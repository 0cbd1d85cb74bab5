package control

import (
	"time"

	"lanewright/race"
)

// What goes onto the tape, so that the night can be worked out from the tape alone: what people did, the events that no replay could make
// itself (what the night began with, a draw), and the moments that came from the host's clock because the counter did not tell them.

// runAction begins the tape of a run of the program.
const runAction = "run"

// runArgs say how the night was run.
type runArgs struct {
	Source     string  `json:"source"`
	Unattended bool    `json:"unattended,omitempty"`
	Speed      float64 `json:"speed"`
	Marks      bool    `json:"marks"` // moments from the host's clock are on the tape as events
	// Kept is how many events that change something the journal held already. A killed program may have put more onto the tape.
	Kept uint64 `json:"kept,omitempty"`
}

func (d *desk) tape(now time.Time, action string, args any) {
	if d.record == nil {
		return
	}
	if d.acting {
		d.after = append(d.after, func() { d.tape(now, action, args) })
		return
	}
	if err := d.record.Do(now, action, args); err != nil && !d.dumb {
		d.dumb = true // once is enough
		d.note(now, race.Commented{Stamp: stamp(now), Text: "the tape cannot be written: " + err.Error()})
	}
}

// keep hands a command to the recorder.
func (d *desk) keep(now time.Time, cmd race.Command) {
	action, args := race.CommandArgs(cmd)
	// Journal numbers may differ in a replay; the counter's own number of a pass does not.
	if len(d.out) > 0 {
		var heat, lane int
		var pass uint64
		switch e := d.out[len(d.out)-1].event.(type) {
		case race.PassStruck:
			heat, lane, pass = e.Heat, e.Seat, e.Pass
		case race.PassMoved:
			heat, lane, pass = e.Heat, e.Seat, e.Pass
		}
		for _, l := range d.night.Laps(heat, lane) {
			if l.Pass == pass && pass != 0 && !l.Moved {
				args["number"], args["segment"] = l.Serial, l.Segment
			}
		}
	}
	if args == nil {
		d.tape(now, action, nil)
		return
	}
	d.tape(now, action, args)
}

// acted puts a command onto the tape, if it was carried out, and behind it what was put there while it was.
func (d *desk) acted(now time.Time, cmd race.Command, carried bool) {
	after := d.after
	d.acting, d.after = false, nil
	if carried {
		d.keep(now, cmd)
	}
	for _, put := range after {
		put()
	}
}

func (d *desk) keepEvent(now time.Time, e race.Event) {
	if d.record != nil {
		action, args := race.EventArgs(e)
		d.tape(now, action, args)
	}
}

// mark brings an event forward that holds a moment of counter time: told by the counter (acked), or estimated by the host's clock. An
// estimate goes onto the tape, and a replay takes it from there.
func (d *desk) mark(now time.Time, e race.Event, acked bool) {
	if !acked {
		if d.waits {
			// The live night worked it out at this point, and wrote it down a moment later.
			if e = d.foresee(e.Kind()); e != nil {
				d.enact(now, e)
			}
			return
		}
		d.keepEvent(now, e)
	}
	d.enact(now, e)
}

// enact applies a mark and does what follows from it.
func (d *desk) enact(now time.Time, e race.Event) {
	switch e := e.(type) {
	case race.Went:
		d.start = startState{}
		if d.must(now, e) {
			d.jumpedAfterGo(now)
			d.planEnd(now)
		}
	case race.Held:
		d.call = callState{}
		if d.night.Phase() != race.Resuming {
			// Time may have run out just before: then the heat is over and only its finish is held.
			d.settleEnd(now, e.Segment, e.At)
			if d.night.Phase() == race.Finish {
				return
			}
		}
		d.must(now, e)
		d.end.due = time.Time{}
	case race.Resumed:
		d.back = backState{}
		if d.must(now, e) {
			d.planEnd(now)
		}
	case race.Finished:
		if d.must(now, e) {
			d.finished(now)
		}
	case race.TimeUp:
		if d.must(now, e) {
			d.endPower()
		}
	default:
		d.must(now, e)
	}
}
