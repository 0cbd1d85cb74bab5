package listen

import (
	"fmt"
	"slices"
	"time"

	"lanewright/timing"
	"lanewright/timing/wire"
)

// order gives passes in the order of their running numbers and everything else
// behind the passes that came before it. While a number is missing, what comes
// later waits until the counter has said it again or it is given up.
type order struct {
	next uint64 // number to be given next; 0: any
	top  uint64 // highest number heard of
	held []item // sorted by after, then as they came
	ask  request

	recent [256]known // of the passes given, by number mod 256
	gone   []span     // numbers given up, the newest last
	odd    known      // a pass that was not believed
	deaf   bool       // it has never answered when asked lately: do not wait long again
}

// item waits until every number up to after has been given.
type item struct {
	after uint64
	pass  bool // it is itself number after+1
	again bool
	s     wire.Sentence
	raw   string
	heard time.Time
	tell  func()
}

type known struct{ serial, ticks uint64 }

type span struct{ first, last uint64 }

// goneMax bounds the list of what was given up, heldMax what waits.
const (
	goneMax = 64
	heldMax = 4096
)

func (o *order) pass(e *Ear, s *wire.Sentence, raw string, heard, now time.Time) {
	n := s.Serial
	if o.next == 0 {
		o.next = n
		if o.ask.open && o.top == 0 {
			// The question for the newest number is under way; from here on the
			// passes tell.
			o.ask = request{}
		}
	}
	again := o.ask.open
	switch {
	case n < o.next:
		o.old(e, s, raw, heard, now)
		return
	case n == o.next:
		if !o.plausible(e, s, raw, heard, now) {
			return
		}
		o.give(e, s, raw, heard, again && n <= o.top)
	default:
		if o.isHeld(n, s.Ticks) || len(o.held) >= heldMax {
			return
		}
		if e.caps.Ring == 0 && n-o.next > 1000 && o.odd.serial != n-1 {
			// Nobody to ask whether so many have really been lost.
			o.odd = known{n, s.Ticks}
			e.doubt(raw, fmt.Sprintf("number %d follows %d", n, o.next-1), heard)
			return
		}
		o.hold(item{after: n - 1, pass: true, again: again && n <= o.top, s: bare(s), raw: raw, heard: heard})
	}
	o.top = max(o.top, n)
	o.sweep(e)
	if len(o.held) > 0 && !o.ask.open {
		o.askNow(e, now)
	}
}

// plausible refuses a pass whose ticks cannot be, until it has been said twice: one
// damaged line in 256 has good check digits.
func (o *order) plausible(e *Ear, s *wire.Sentence, raw string, heard, now time.Time) bool {
	if e.caps.Ring == 0 || !e.line.Begun() {
		return true
	}
	r, ok := e.line.Near(s.Ticks)
	last, _ := e.line.Near(e.line.Last())
	limit := 2 * time.Minute
	if e.c.Speed > 1 {
		limit = time.Duration(float64(limit) * e.c.Speed)
	}
	fits := ok && r.Ticks >= last.Ticks
	if fits {
		if host, hok := e.line.At(e.host(now)); hok && r.At > host+limit {
			fits = false
		}
	}
	this := known{s.Serial, s.Ticks}
	if fits || o.odd == this {
		return true
	}
	o.odd = this
	e.doubt(raw, "its ticks do not fit the clock; asked for again", heard)
	if !o.ask.open {
		o.top = max(o.top, s.Serial)
		o.askNow(e, now)
	}
	return false
}

// old deals with a number that has been given or given up.
func (o *order) old(e *Ear, s *wire.Sentence, raw string, heard, now time.Time) {
	k := o.recent[s.Serial%uint64(len(o.recent))]
	if k.serial == s.Serial && k.ticks == s.Ticks {
		return // said again, known
	}
	if e.boot == 0 && !o.ask.open {
		// A counter that cannot announce a restart: small numbers with other
		// ticks mean that there was one.
		o.restart(e, now)
		o.next = s.Serial
		if s.Serial <= uint64(e.caps.Ring) {
			o.next = 1
		}
		e.line.Break("the running numbers of the counter began anew")
		e.failJobs("the counter restarted", now)
		o.pass(e, s, raw, heard, now)
		return
	}
	for i, g := range o.gone {
		if s.Serial < g.first || s.Serial > g.last {
			continue
		}
		// Given up, and here it is.
		o.gone = slices.Delete(o.gone, i, i+1)
		if s.Serial > g.first {
			o.gone = append(o.gone, span{g.first, s.Serial - 1})
		}
		if s.Serial < g.last {
			o.gone = append(o.gone, span{s.Serial + 1, g.last})
		}
		if r, ok := e.line.Near(s.Ticks); ok {
			o.recent[s.Serial%uint64(len(o.recent))] = known{s.Serial, s.Ticks}
			e.tell(e.passed(s, raw, heard, r.At, r.Segment, true))
		}
		return
	}
	if k.serial == s.Serial {
		e.doubt(raw, fmt.Sprintf("number %d was said before with ticks %d", s.Serial, k.ticks), heard)
	}
}

func (o *order) give(e *Ear, s *wire.Sentence, raw string, heard time.Time, again bool) {
	at, segment := e.read(s.Ticks, heard)
	o.recent[s.Serial%uint64(len(o.recent))] = known{s.Serial, s.Ticks}
	o.next = s.Serial + 1
	e.tell(e.passed(s, raw, heard, at, segment, again))
}

func (e *Ear) passed(s *wire.Sentence, raw string, heard time.Time, at time.Duration, segment int, again bool) timing.Pass {
	return timing.Pass{
		Source: e.c.Name, Sensor: int(s.Sensor), Lane: int(s.Lane), Car: int(s.Car),
		At: at, Segment: segment, Ticks: s.Ticks, Timed: true, Heard: heard,
		Serial: s.Serial, Boot: e.boot, Again: again, Raw: raw,
	}
}

func (o *order) beat(e *Ear, s *wire.Sentence, raw string, heard, now time.Time) {
	if o.next == 0 && !o.ask.open {
		o.next = s.Last + 1
	}
	if e.boot == 0 && o.next > s.Last+1 && s.Last < o.top && !o.ask.open {
		o.restart(e, now)
		o.next = 1
		e.line.Break("the running numbers of the counter began anew")
		e.failJobs("the counter restarted", now)
	}
	o.top = max(o.top, s.Last)
	kept := *s
	o.behind(s.Last, func() {
		at, segment := e.place(kept.Ticks, heard)
		e.tell(timing.Beat{Source: e.c.Name, Ticks: kept.Ticks, At: at, Segment: segment, Last: kept.Last, Boot: kept.Boot, Heard: heard, Raw: raw})
	})
	if o.next != 0 && s.Last >= o.next && !o.ask.open {
		o.askNow(e, now)
	}
}

// behind tells now if every number up to after has been given, else later.
func (o *order) behind(after uint64, tell func()) {
	if o.next == 0 || o.next > after && len(o.held) == 0 {
		tell()
		return
	}
	if len(o.held) < heldMax {
		o.hold(item{after: after, tell: tell})
	}
}

func (o *order) hold(it item) {
	i := len(o.held)
	for i > 0 && o.held[i-1].after > it.after {
		i--
	}
	o.held = slices.Insert(o.held, i, it)
}

func (o *order) isHeld(n, ticks uint64) bool {
	for _, it := range o.held {
		if it.pass && it.s.Serial == n {
			return it.s.Ticks == ticks
		}
	}
	return false
}

// sweep gives what no longer has to wait.
func (o *order) sweep(e *Ear) {
	for len(o.held) > 0 && o.held[0].after < o.next {
		it := o.held[0]
		o.held = slices.Delete(o.held, 0, 1)
		switch {
		case !it.pass:
			it.tell()
		case it.s.Serial == o.next:
			o.give(e, &it.s, it.raw, it.heard, it.again)
		}
	}
	if len(o.held) == 0 && o.next > o.top {
		o.ask = request{}
	}
}

// askNow asks for everything from the next number on, or, when no number is
// known, for the number of the newest pass.
func (o *order) askNow(e *Ear, now time.Time) {
	if e.caps == nil {
		return
	}
	if e.caps.Ring == 0 {
		o.giveUp(e, "the counter cannot say passes again", now)
		return
	}
	if o.deaf && o.ask.open || !o.ask.again(now) {
		o.deaf = true
		o.giveUp(e, "the counter did not say them again", now)
		return
	}
	from := o.next
	if from == 0 {
		from = beyondAll
	}
	e.send(wire.Sentence{Kind: wire.SayAgain, From: from})
}

func (o *order) wake(e *Ear, now time.Time) {
	if o.ask.open && !now.Before(o.ask.due) {
		if !e.open && e.state == timing.Lost {
			// Nobody hears us; asked anew after the reconnection.
			o.ask.due = now.Add(askAgain)
			return
		}
		o.askNow(e, now)
	}
}

// end takes the counter's word that it has said everything it holds.
func (o *order) end(e *Ear, s *wire.Sentence, now time.Time) {
	o.deaf = false
	if o.next == 0 {
		o.next, o.top = s.Last+1, s.Last
		o.ask = request{}
		o.sweep(e)
		return
	}
	if s.From > o.next || s.From == beyondAll {
		return // not an answer to what is missing now
	}
	if s.First > o.next && s.First > s.From {
		o.miss(e, min(s.First-1, s.Last), "the counter no longer holds them", now)
	}
	// Numbers above the newest were damage with good check digits.
	o.held = slices.DeleteFunc(o.held, func(it item) bool {
		if it.pass && it.s.Serial > s.Last {
			e.doubt(it.raw, fmt.Sprintf("a number above the newest pass, %d", s.Last), it.heard)
			return true
		}
		return false
	})
	o.top = s.Last
	for _, it := range o.held {
		if it.pass {
			o.top = max(o.top, it.s.Serial)
		}
	}
	o.sweep(e)
	if o.next <= o.top { // some of it was damaged again
		o.askNow(e, now)
		return
	}
	o.ask = request{}
	o.flush(e)
}

// flush gives everything that waits though no number is missing any more.
func (o *order) flush(e *Ear) {
	held := o.held
	o.held = nil
	for _, it := range held {
		if !it.pass {
			it.tell()
		}
	}
}

// giveUp stops waiting for what is missing before the first pass that is held.
func (o *order) giveUp(e *Ear, why string, now time.Time) {
	o.ask = request{}
	if o.next == 0 {
		return
	}
	last := o.top
	for _, it := range o.held {
		if it.pass {
			last = it.s.Serial - 1
			break
		}
	}
	o.miss(e, last, why, now)
	o.sweep(e)
	if o.next <= o.top {
		o.askNow(e, now)
	}
}

// miss gives up the numbers from next to last, except those that are held.
func (o *order) miss(e *Ear, last uint64, why string, now time.Time) {
	for o.next <= last {
		to := last
		for _, it := range o.held {
			if it.pass && it.s.Serial >= o.next {
				to = min(to, it.s.Serial-1)
				break
			}
		}
		if to >= o.next {
			e.tell(timing.Missing{Source: e.c.Name, First: o.next, Last: to, Count: to - o.next + 1, Boot: e.boot, Why: why, Heard: now})
			o.gone = append(o.gone, span{o.next, to})
			if len(o.gone) > goneMax {
				o.gone = slices.Delete(o.gone, 0, 1)
			}
			o.next = to + 1
		}
		o.sweep(e)
	}
	o.sweep(e)
}

// restart gives up what is missing and forgets the numbers.
func (o *order) restart(e *Ear, now time.Time) {
	if o.next != 0 && o.top >= o.next {
		o.miss(e, o.top, "the counter restarted before it could say them again", now)
	}
	o.sweep(e)
	o.flush(e)
	*o = order{}
}

// bare returns s without the parts that belong to the decoder.
func bare(s *wire.Sentence) wire.Sentence {
	c := *s
	c.Raw, c.Name = nil, nil
	return c
}
