package control

import (
	"context"
	"errors"
	"time"

	"lanewright/race"
)

var errNoCounter = errors.New("there is no counter to give orders to")

// desk decides. It has no goroutine, no clock and no disk: now comes with every call, events pile up in out, orders go to the
// counter at once. due tells when it wants to be called again.
type desk struct {
	night    *race.Night
	counter  Counter
	source   string
	record   Recorder
	foresee  func(race.Kind) race.Event // a replay: the mark that the tape holds next, nil if none is near
	draw     Draw
	auto     bool // unattended
	rotation race.MakeDraw
	speed    float64
	waits    bool // a replay: moments by the host's clock come from the tape
	loose    bool // a replay: ids of orders are not those of the tape
	dumb     bool // the tape could not be written
	alone    bool // the host's clock decides, the counter being silent: what it decides goes onto the tape

	seq   uint64
	out   []made
	moved bool // something is to be shown that is no event: a lamp

	seen   sighting
	start  startState
	call   callState
	back   backState
	end    endState
	pause  pauseState
	judge  docket
	power  *powerState
	boot   uint64    // of the counting source, 0 unknown
	moving time.Time // when a pass was heard last in a heat of an unattended night

	// later runs a job beside the loop; what it returns is then called in the loop.
	later   func(job func(context.Context) func(now time.Time))
	drawing bool

	// A command is being carried out: what goes onto the tape meanwhile comes behind it.
	acting bool
	after  []func()
}

// made is an event that has been applied and waits for the disk.
type made struct {
	seq   uint64
	kind  race.Kind
	wall  race.Wall
	data  []byte
	event race.Event
}

// powerState is what is known of the track's power.
type powerState struct {
	lanes   uint32
	segment int
	at      time.Duration // counter time of the last acknowledgement
	known   bool
}

// emit applies an event and hands it on to the journal.
func (d *desk) emit(e race.Event) error {
	if err := d.night.Apply(d.seq+1, e); err != nil {
		return err
	}
	d.seq++
	k, data := race.Encode(e)
	d.out = append(d.out, made{d.seq, k, e.When(), data, e})
	return nil
}

// must is emit for events that the desk itself brings forward: when one does not apply after all, that is written down and racing
// goes on.
func (d *desk) must(now time.Time, e race.Event) bool {
	err := d.emit(e)
	if err == nil {
		return true
	}
	note := race.Commented{Stamp: stamp(now), Text: "not carried out: " + err.Error()}
	_ = d.emit(note) // a night that takes no comment is closed, and then there is nothing left to say
	return false
}

func stamp(now time.Time) race.Stamp { return race.Stamp{Wall: race.WallOf(now)} }

// host turns racing time into time of this computer; they differ only in simulated nights.
func (d *desk) host(racing time.Duration) time.Duration {
	return time.Duration(float64(racing) / d.speed)
}

// racing is the inverse of host.
func (d *desk) racing(host time.Duration) time.Duration {
	return time.Duration(float64(host) * d.speed)
}

// take returns the events made since the last call.
func (d *desk) take() []made {
	out := d.out
	d.out = nil
	return out
}

// next returns when wake wants to be called, zero if never.
func (d *desk) next() time.Time {
	var t time.Time
	for _, u := range []time.Time{d.start.due(), d.call.due(), d.back.due(), d.end.due, d.pause.due} {
		if !u.IsZero() && (t.IsZero() || u.Before(t)) {
			t = u
		}
	}
	return t
}

// wake does what is due.
func (d *desk) wake(now time.Time) {
	d.wakeStart(now)
	d.wakeCall(now)
	d.wakeBack(now)
	d.wakeEnd(now)
	d.wakePause(now)
}

func reached(due, now time.Time) bool { return !due.IsZero() && !now.Before(due) }
