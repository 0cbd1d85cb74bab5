// Package listen turns a line into messages: it ties port, decoder and clock
// together, keeps the passes in the counter's order, asks for those that were
// lost, and carries commands to the counter until they are acknowledged.
//
// [Ear] does the thinking and has no goroutine, clock or port of its own, so that
// a recording is heard exactly like the live line. [Source] runs an Ear on a port.
package listen

import (
	"fmt"
	"strconv"
	"time"

	"lanewright/timing"
	"lanewright/timing/clock"
	"lanewright/timing/describe"
	"lanewright/timing/wire"
)

// EarConfig says what an Ear listens to.
type EarConfig struct {
	Name   string                // for Message.Source
	Format *describe.Description // nil: the sentences of timing/wire

	// After is the last pass known from an earlier run of the program. If the
	// counter has not restarted since, its clock segment goes on and what passed
	// meanwhile is asked for.
	After *timing.Pass

	// Stepped is how far the wall clock has been seen to jump since After was heard: it was set, or the computer slept.
	Stepped time.Duration

	// Segment is the highest segment number used so far by this source; new ones
	// go on from there.
	Segment int

	Speed float64 // counter seconds per host second; 0 means 1

	// FirstID is the id of the first command. It must not be one that an earlier
	// run used for its last command. 0 takes one from the time of the first event.
	FirstID uint64
}

// Times of patience, all by the host's clock.
const (
	quiet     = 3 * time.Second        // without a sentence the line is silent
	askAgain  = 500 * time.Millisecond // an unanswered request, doubled each time
	triesMax  = 5                      // then it is given up, 15.5 s after the first
	stepMin   = time.Second            // a jump of wall minus monotonic that is told
	earlyMax  = 4096                   // sentences kept while the tick rate is unknown
	beyondAll = 9_999_999_999          // a running number that no counter reaches
)

// Ear turns bytes with their times into messages.
type Ear struct {
	c     EarConfig
	begun bool
	start time.Time
	skew  time.Duration // wall minus monotonic, since start

	dec   wire.Decoder
	text  *describe.Decoder // instead of dec, if a format is given
	marks []mark

	state timing.State // as told last
	open  bool
	said  time.Time // of the last sound sentence

	caps    *timing.Status
	asking  request // for capabilities
	early   []early // what came before the capabilities
	line    *clock.Line
	segment int // highest used
	boot    uint64
	alarmed bool // drift told in this segment

	order order
	jobs  []*job
	id    uint64
	acked [2]uint64 // the ids acknowledged last, of power and lamps

	out []timing.Message
	say [][]byte
}

type mark struct {
	offset uint64
	at     time.Time
}

type early struct {
	s     wire.Sentence
	raw   string
	heard time.Time
}

// request is something asked of the counter and not answered yet.
type request struct {
	open  bool
	due   time.Time
	tries int
}

// again notes that it was sent at now; false when it has been sent too often.
func (r *request) again(now time.Time) bool {
	if r.open && r.tries >= triesMax {
		r.open = false
		return false
	}
	if !r.open {
		r.tries = 0
	}
	r.open = true
	r.due = now.Add(askAgain << r.tries)
	r.tries++
	return true
}

// NewEar returns an ear that has heard nothing yet.
func NewEar(c EarConfig) *Ear {
	e := &Ear{c: c, segment: c.Segment, id: c.FirstID}
	if c.Format != nil {
		e.text = c.Format.Decoder()
	}
	if c.After != nil {
		e.segment = max(e.segment, c.After.Segment)
	}
	return e
}

// Messages takes what has been understood since the last call.
func (e *Ear) Messages() []timing.Message {
	m := e.out
	e.out = nil
	return m
}

// Say takes what is to be sent to the counter, one command each.
func (e *Ear) Say() [][]byte {
	s := e.say
	e.say = nil
	return s
}

// Status returns the counter's newest capabilities.
func (e *Ear) Status() (timing.Status, bool) {
	if e.caps == nil {
		return timing.Status{}, false
	}
	return *e.caps, true
}

// State returns the state of the line as last told.
func (e *Ear) State() timing.State { return e.state }

// CounterTime estimates the counter's time at a moment of the host. Not ok
// before the counter's clock is known.
func (e *Ear) CounterTime(host time.Time) (at time.Duration, segment int, ok bool) {
	if e.untimed() {
		return host.Sub(e.start), e.segment, e.begun
	}
	if e.line == nil {
		return 0, 0, false
	}
	at, ok = e.line.At(host.Sub(e.start))
	return at, e.line.Segment(), ok
}

// Drift returns the counter's rate against the host's.
func (e *Ear) Drift() (clock.Drift, bool) {
	if e.line == nil {
		return clock.Drift{}, false
	}
	return e.line.Drift()
}

// untimed tells whether the counter sends no ticks.
func (e *Ear) untimed() bool { return e.c.Format != nil && !e.c.Format.Timed() }

// at must be called first with the time of every event.
func (e *Ear) at(now time.Time) {
	if !e.begun {
		e.begun, e.start = true, now
		if e.id == 0 {
			// Ten a second since 1970, cut to 32 bits for small counters: higher
			// than whatever the run before has used.
			e.id = uint64(uint32(now.UnixMilli()/100)) | 1
		}
		if e.untimed() {
			e.segment++ // monotonic times of two runs cannot be compared
		}
		return
	}
	skew := now.Round(0).Sub(e.start.Round(0)) - now.Sub(e.start)
	by := skew - e.skew
	if by < stepMin && by > -stepMin {
		return
	}
	e.skew = skew
	e.stepped(by, now)
}

// Step says that the wall clock has jumped against the times given to the ear: what a live ear sees by itself, and a recording
// tells.
func (e *Ear) Step(by time.Duration, now time.Time) {
	e.at(now)
	e.stepped(by, now)
}

func (e *Ear) stepped(by time.Duration, now time.Time) {
	e.tell(timing.ClockStep{Source: e.c.Name, By: by, Heard: now})
	if by > 0 { // perhaps asleep: the monotonic clock may have stood still
		if e.line != nil {
			e.line.Slip(by)
		}
		if e.untimed() {
			e.segment++
			e.tell(timing.Reset{Source: e.c.Name, Segment: e.segment, Heard: now,
				Why: "this computer slept or its clock was set; the counter sends no ticks"})
		}
	}
}

func (e *Ear) host(t time.Time) time.Duration { return t.Sub(e.start) }

func (e *Ear) tell(m timing.Message) { e.out = append(e.out, m) }

func (e *Ear) send(s wire.Sentence) { e.say = append(e.say, wire.Append(nil, &s)) }

// Port takes a change of the line's state. timing.Silent means that it is open.
func (e *Ear) Port(s timing.State, detail string, at time.Time) {
	e.at(at)
	if s == timing.Lost || s == timing.Closed {
		e.cut(at)
		e.open = false
	}
	if s == timing.Silent && !e.open {
		e.open, e.said = true, at
		e.marks = nil
		if e.text == nil {
			e.asking = request{}
			e.askCaps(at)
			e.order.ask = request{}
			e.resend(at)
		}
	}
	e.turn(s, detail, at)
}

// cut ends what has begun on a line that is torn.
func (e *Ear) cut(at time.Time) {
	var s wire.Sentence
	if e.text != nil {
		var ev describe.Event
		if e.text.Rest(&ev) {
			e.tell(timing.Damaged{Source: e.c.Name, Bytes: ev.Bytes, Why: ev.Why, Heard: at, Raw: quoted(ev.Raw)})
		}
		return
	}
	if e.dec.Rest(&s) {
		e.damaged(&s, at)
	}
}

// turn tells a state if it is news.
func (e *Ear) turn(s timing.State, detail string, at time.Time) {
	if s == e.state && (detail == "" || s == timing.Talking) {
		return
	}
	e.state = s
	e.tell(timing.Port{Source: e.c.Name, State: s, Detail: detail, Heard: at})
}

// Hear takes bytes that were read at one moment.
func (e *Ear) Hear(b []byte, at time.Time) {
	e.at(at)
	e.marks = append(e.marks, mark{e.offset(), at})
	if e.text != nil {
		e.hearText(b)
	} else {
		var s wire.Sentence
		for len(b) > 0 {
			n, ok := e.dec.Decode(b, &s)
			b = b[n:]
			if ok {
				e.sentence(&s, e.began(s.Offset), at)
			}
		}
	}
	// Keep the mark of what has begun and not ended, and what came behind it.
	keep := 0
	for keep+1 < len(e.marks) && e.marks[keep+1].offset <= e.pending() {
		keep++
	}
	e.marks = append(e.marks[:0], e.marks[keep:]...)
	e.Wake(at)
}

func (e *Ear) pending() uint64 {
	if e.text != nil {
		return e.text.Pending()
	}
	return e.dec.Pending()
}

func (e *Ear) offset() uint64 {
	if e.text != nil {
		return e.text.Offset()
	}
	return e.dec.Offset()
}

// began returns when the byte at offset was read.
func (e *Ear) began(offset uint64) time.Time {
	for i := len(e.marks) - 1; i > 0; i-- {
		if e.marks[i].offset <= offset {
			return e.marks[i].at
		}
	}
	return e.marks[0].at
}

// Due returns when Wake should be called at the latest, if there is anything to
// wait for.
func (e *Ear) Due() (time.Time, bool) {
	var due time.Time
	ok := false
	sooner := func(t time.Time) {
		if !ok || t.Before(due) {
			due, ok = t, true
		}
	}
	if e.asking.open {
		sooner(e.asking.due)
	}
	if e.order.ask.open {
		sooner(e.order.ask.due)
	}
	for _, j := range e.jobs {
		if j.ask.open {
			sooner(j.ask.due)
		}
	}
	if e.state == timing.Talking {
		sooner(e.said.Add(quiet))
	}
	return due, ok
}

// Wake does what is due.
func (e *Ear) Wake(now time.Time) {
	e.at(now)
	if e.state == timing.Talking && !now.Before(e.said.Add(quiet)) {
		e.turn(timing.Silent, fmt.Sprintf("nothing understood for %v", quiet), now)
	}
	if e.asking.open && !now.Before(e.asking.due) {
		e.askCaps(now)
	}
	e.order.wake(e, now)
	e.wakeJobs(now)
}

func (e *Ear) askCaps(now time.Time) {
	if e.asking.again(now) {
		e.send(wire.Sentence{Kind: wire.AskCaps})
	}
}

// sentence takes one decoded sentence. heard is when its first byte was read,
// now when its last one was.
func (e *Ear) sentence(s *wire.Sentence, heard, now time.Time) {
	if s.Kind == wire.Damaged {
		e.damaged(s, heard)
		return
	}
	e.said = now
	if s.Kind != wire.Foreign {
		e.turn(timing.Talking, "", now)
	}
	if s.Kind == wire.Caps {
		e.capabilities(s, heard, now)
		return
	}
	if e.line == nil { // no rate yet: ticks cannot be placed
		switch s.Kind {
		case wire.Pass, wire.Beat, wire.Power, wire.Lamps:
			if !e.asking.open {
				e.askCaps(now)
			}
			if len(e.early) < earlyMax {
				kept := *s
				kept.Raw, kept.Name = nil, nil
				e.early = append(e.early, early{kept, string(s.Raw), heard})
			}
			return
		}
	}
	e.placed(s, string(s.Raw), heard, now)
}

// placed takes a sentence when the clock is known.
func (e *Ear) placed(s *wire.Sentence, raw string, heard, now time.Time) {
	switch s.Kind {
	case wire.Pass:
		if int(s.Lane) > e.caps.Lanes || s.Ticks>>e.caps.Bits != 0 {
			e.doubt(raw, "a lane or tick beyond what the counter says it has", heard)
			return
		}
		e.order.pass(e, s, raw, heard, now)
	case wire.Beat:
		if s.Boot != e.boot && s.Boot != 0 && e.boot != 0 {
			e.restarted(s.Boot, now)
			e.askCaps(now)
		}
		e.order.beat(e, s, raw, heard, now)
	case wire.End:
		e.order.end(e, s, now)
	case wire.Power:
		if !e.answered(s.ID, forPower, now) {
			return
		}
		id, mask, ticks := s.ID, s.Mask, s.Ticks
		e.order.behind(e.order.top, func() {
			t, seg := e.place(ticks, heard)
			ack := timing.PowerAck{Source: e.c.Name, ID: id, Lanes: mask, Ticks: ticks, At: t, Segment: seg, Heard: heard, Raw: raw}
			if e.order.next != 0 {
				ack.Boot, ack.Last = e.boot, e.order.next-1
			}
			e.tell(ack)
		})
	case wire.Lamps:
		if !e.answered(s.ID, forLamps, now) {
			return
		}
		id, lit, g, ticks := s.ID, s.Lit, s.Go, s.Ticks
		e.order.behind(e.order.top, func() {
			t, seg := e.place(ticks, heard)
			e.tell(timing.LampAck{Source: e.c.Name, ID: id, Lit: int(lit), Go: timing.Go(g), Ticks: ticks, At: t, Segment: seg, Heard: heard, Raw: raw})
		})
	case wire.Noted:
		e.noted(s.ID)
	case wire.Refused:
		e.refused(s.ID, now)
	}
}

// capabilities takes LWCAP.
func (e *Ear) capabilities(s *wire.Sentence, heard, now time.Time) {
	e.asking = request{}
	st := timing.Status{
		Source: e.c.Name, Name: string(s.Name), Boot: s.Boot, Lanes: int(s.Lanes), Sensors: int(s.Sensors),
		RateNum: s.Num, RateDen: s.Den, Bits: int(s.Bits), Ring: int(s.Ring), Power: s.HasPower, Lamps: int(s.Lit),
		Heard: heard, Raw: string(s.Raw),
	}
	before := e.caps
	e.caps = &st
	switch {
	case e.line == nil:
		e.firstCaps(st, now)
	case before != nil && (before.RateNum != st.RateNum || before.RateDen != st.RateDen || before.Bits != st.Bits):
		e.restarted(st.Boot, now)
		e.newLine(st)
		e.line.Break("another clock: the counter now counts " + rate(st))
	case st.Boot != e.boot && st.Boot != 0 && e.boot != 0:
		e.restarted(st.Boot, now)
	}
	e.boot = st.Boot
	e.tell(st)
	for _, w := range e.early {
		e.placed(&w.s, w.raw, w.heard, now)
	}
	e.early = nil
	if !e.order.ask.open && (e.open || e.order.next != 0) {
		e.order.askNow(e, now)
	}
}

func rate(st timing.Status) string {
	r := strconv.FormatUint(st.RateNum, 10)
	if st.RateDen != 1 {
		r += "/" + strconv.FormatUint(st.RateDen, 10)
	}
	return fmt.Sprintf("%s a second, %d bits", r, st.Bits)
}

// firstCaps begins the time line, or goes on with that of an earlier run.
func (e *Ear) firstCaps(st timing.Status, now time.Time) {
	a := e.c.After
	same := a != nil && a.Timed && a.Boot != 0 && a.Boot == st.Boot
	if !same {
		e.segment++
		e.newLine(st)
		if a != nil {
			e.tell(timing.Reset{Source: e.c.Name, Segment: e.segment, Boot: st.Boot, Heard: now,
				Why: fmt.Sprintf("the counter has restarted since the program ran before (boot number %d, was %d)", st.Boot, a.Boot)})
			if a.Boot != 0 && st.Boot != 0 {
				e.order.next = 1 // everything since its restart is of interest
			}
		}
		return
	}
	e.newLine(st)
	e.line.Resume(a.Ticks, a.At, a.Heard.Round(0).Sub(e.start.Round(0))+e.c.Stepped)
	if e.c.Stepped != 0 {
		e.line.Slip(e.c.Stepped) // the first reading shows which it was
	}
	e.order.next = a.Serial + 1
	e.order.top = a.Serial
}

func (e *Ear) newLine(st timing.Status) {
	e.line = clock.New(clock.Config{
		Rate: clock.Rate{Num: st.RateNum, Den: st.RateDen}, Bits: st.Bits,
		Sure: st.Boot != 0, Speed: e.c.Speed,
	}, e.segment)
	e.alarmed = false
}

// restarted ends everything that belongs to the counter's life before.
func (e *Ear) restarted(boot uint64, now time.Time) {
	e.order.restart(e, now)
	e.order.next = 1
	e.line.Break(fmt.Sprintf("the counter restarted (boot number %d, was %d)", boot, e.boot))
	e.boot = boot
	e.failJobs("the counter restarted", now)
}

// place puts ticks on the time line, moving it on unless they are older.
func (e *Ear) place(ticks uint64, heard time.Time) (time.Duration, int) {
	if r, ok := e.line.Near(ticks); ok {
		if last, _ := e.line.Near(e.line.Last()); r.Ticks < last.Ticks {
			return r.At, r.Segment
		}
	}
	return e.read(ticks, heard)
}

// read moves the time line on to ticks.
func (e *Ear) read(ticks uint64, heard time.Time) (time.Duration, int) {
	r := e.line.Read(ticks, e.host(heard))
	if r.Fresh && r.Why != "" {
		e.segment = r.Segment
		e.alarmed = false
		e.tell(timing.Reset{Source: e.c.Name, Segment: r.Segment, Boot: e.boot, Why: r.Why, Heard: heard})
	}
	if d, ok := e.line.Drift(); ok && !e.alarmed && e.c.Speed <= 1 {
		if ppm := d.PPM(); ppm > clock.AlarmPPM || ppm < -clock.AlarmPPM {
			e.alarmed = true
			e.tell(timing.Drift{Source: e.c.Name, PPM: ppm, Heard: heard})
		}
	}
	return r.At, r.Segment
}

func (e *Ear) damaged(s *wire.Sentence, at time.Time) {
	e.tell(timing.Damaged{Source: e.c.Name, Bytes: s.Bytes, Why: s.Why.String(), Heard: at, Raw: quoted(s.Raw)})
}

// doubt reports a sentence that is well formed and cannot be true.
func (e *Ear) doubt(raw, why string, at time.Time) {
	e.tell(timing.Damaged{Source: e.c.Name, Bytes: len(raw), Why: why, Heard: at, Raw: quoted([]byte(raw))})
}

func quoted(b []byte) string {
	q := strconv.QuoteToASCII(string(b))
	return q[1 : len(q)-1]
}
