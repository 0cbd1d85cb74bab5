package listen

import (
	"time"

	"lanewright/timing"
	"lanewright/timing/tape"
)

// Player hears a tape as the live line was heard: every run of the program with an
// ear of its own, waking at the moments at which the live one woke. It is given all
// entries in order and minds those of its source.
type Player struct {
	c    EarConfig
	ear  *Ear
	last timing.Pass
	at   time.Time // of the newest entry
}

// NewPlayer returns a player for the source c.Name; where that is empty, or an
// entry names no source, every entry is minded.
func NewPlayer(c EarConfig) *Player { return &Player{c: c, ear: NewEar(c)} }

// Play takes one entry and returns what has been understood up to and with it.
func (p *Player) Play(e *tape.Entry) []timing.Message {
	if e.Start {
		return p.run()
	}
	if p.c.Name != "" && e.Source != "" && e.Source != p.c.Name {
		return nil
	}
	if e.At.After(p.at) {
		p.at = e.At
	}
	p.wake(p.at)
	switch {
	case e.Heard != nil:
		p.ear.Hear(e.Heard, p.at)
	case e.Step != 0:
		p.ear.Step(e.Step, p.at)
	case e.Port != "":
		if s, ok := timing.ParseState(e.Port); ok {
			p.ear.Port(s, e.Detail, p.at)
		}
	}
	return p.take()
}

// End returns what is still to be said when the tape has ended: what waits for
// passes that were asked for and never came.
func (p *Player) End() []timing.Message {
	p.wake(p.at.Add(time.Minute))
	return p.take()
}

// run begins a new run of the program.
func (p *Player) run() []timing.Message {
	if p.at.IsZero() {
		return nil
	}
	m := p.End()
	c := p.c
	c.Segment = p.ear.segment
	if p.last.Source != "" {
		last := p.last
		c.After = &last
	}
	p.ear, p.at = NewEar(c), time.Time{}
	return m
}

func (p *Player) wake(until time.Time) {
	for range 1000 { // a bound, no more: between two entries little can be due
		due, ok := p.ear.Due()
		if !ok || due.After(until) {
			return
		}
		p.ear.Wake(due)
	}
}

func (p *Player) take() []timing.Message {
	p.ear.Say() // what was said then is on the tape
	m := p.ear.Messages()
	for _, m := range m {
		if pass, ok := m.(timing.Pass); ok {
			p.last = pass
		}
	}
	return m
}
