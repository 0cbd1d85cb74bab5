package listen

import (
	"encoding/hex"
	"fmt"
	"time"

	"lanewright/timing"
	"lanewright/timing/clock"
	"lanewright/timing/describe"
)

// hearText reads a counter that a line description explains. It cannot be asked
// anything: what its running numbers show to be lost is lost.
func (e *Ear) hearText(b []byte) {
	e.text.Feed(b, func(ev *describe.Event) {
		heard := e.began(ev.Offset)
		if ev.Damaged {
			e.tell(timing.Damaged{Source: e.c.Name, Bytes: ev.Bytes, Why: ev.Why, Heard: heard, Raw: quoted(ev.Raw)})
			return
		}
		e.said = e.marks[len(e.marks)-1].at
		e.turn(timing.Talking, "", e.said)
		e.foreign(ev, heard)
	})
}

func (e *Ear) foreign(ev *describe.Event, heard time.Time) {
	raw := string(ev.Raw)
	if ev.Binary {
		raw = hex.EncodeToString(ev.Raw)
	}
	p := timing.Pass{
		Source: e.c.Name, Sensor: ev.Sensor, Lane: ev.Lane, Car: ev.Car,
		Ticks: ev.Ticks, Timed: ev.HasTicks, Heard: heard, Serial: ev.Serial, Raw: raw,
	}
	if ev.HasSerial && !e.numbered(ev, raw, heard) {
		return
	}
	if !ev.HasTicks {
		p.At, p.Segment = e.host(heard), e.segment
		e.tell(p)
		return
	}
	if e.line == nil {
		e.segment++
		e.line = clock.New(clock.Config{Rate: e.c.Format.Rate(), Bits: e.c.Format.Clock.Bits, Speed: e.c.Speed}, e.segment)
	}
	p.At, p.Segment = e.read(ev.Ticks, heard)
	e.tell(p)
}

// numbered follows the running numbers; false if the pass is a repetition.
func (e *Ear) numbered(ev *describe.Event, raw string, heard time.Time) bool {
	o := &e.order
	n := ev.Serial
	k := &o.recent[n%uint64(len(o.recent))]
	switch {
	case o.next == 0 || n == o.next:
	case n > o.next:
		if n-o.next > 1000 { // rather a restart or a damaged number than so many
			e.tell(timing.Damaged{Source: e.c.Name, Heard: heard, Raw: quoted([]byte(raw)),
				Why: fmt.Sprintf("running number %d follows %d; counted as a pass all the same", n, o.next-1)})
			break
		}
		e.tell(timing.Missing{Source: e.c.Name, First: o.next, Last: n - 1, Count: n - o.next, Heard: heard,
			Why: "the counter cannot say passes again"})
	case k.serial == n && k.ticks == ev.Ticks && ev.HasTicks:
		return false
	default:
		if e.line != nil {
			e.line.Break("the running numbers of the counter began anew")
		}
	}
	*k = known{n, ev.Ticks}
	o.next = n + 1
	return true
}
