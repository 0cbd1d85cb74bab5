package listen

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"lanewright/timing"
	"lanewright/timing/wire"
)

// ErrCannot says that the counter has no such command.
var ErrCannot = errors.New("this counter cannot do that")

// noteSlack is how long, on the counter's clock, the acknowledgement of a command
// noted may be late before it is asked for.
const noteSlack = 2 * time.Second

// job is a command that has not been acknowledged.
type job struct {
	s     wire.Sentence
	what  string
	ask   request
	noted bool // the counter will do it when its tick comes
	after *job // not sent before this one is acknowledged
}

// Power switches the power of all lanes: on where the bit is set, bit 0 is lane
// 1. at, if not nil, is the time of the current segment at which it is to be done.
// It returns the id that the acknowledgement will carry.
func (e *Ear) Power(lanes uint32, at *time.Duration, now time.Time) (uint64, error) {
	if e.c.Format != nil || e.caps != nil && !e.caps.Power {
		return 0, fmt.Errorf("switching lane power: %w", ErrCannot)
	}
	return e.command(wire.Sentence{Kind: wire.SetPower, Mask: lanes}, fmt.Sprintf("lane power %02X", lanes), at, now)
}

// Lamps lights the first lit start lamps; g tells what that means for the race.
func (e *Ear) Lamps(lit int, g timing.Go, at *time.Duration, now time.Time) (uint64, error) {
	if e.c.Format != nil || e.caps != nil && e.caps.Lamps == 0 {
		return 0, fmt.Errorf("setting start lamps: %w", ErrCannot)
	}
	if lit < 0 || lit > 99 || e.caps != nil && lit > e.caps.Lamps {
		return 0, fmt.Errorf("setting start lamps: %d lit, the counter has fewer: %w", lit, ErrCannot)
	}
	return e.command(wire.Sentence{Kind: wire.SetLamps, Lit: uint32(lit), Go: uint32(g)}, fmt.Sprintf("start lamps %d, go %d", lit, g), at, now)
}

func (e *Ear) command(s wire.Sentence, what string, at *time.Duration, now time.Time) (uint64, error) {
	e.at(now)
	if at != nil {
		if e.line == nil || !e.line.Begun() {
			return 0, fmt.Errorf("%s at a counter time: the counter's clock is not known yet", what)
		}
		s.Timed, s.At = true, e.line.Raw(*at)
	}
	s.ID = e.id
	e.id++
	// The newest command of a kind replaces those that wait. Only one that is
	// to be done now must be done first if the newest is for later: were it
	// repeated afterwards, it would undo the newest.
	j := &job{s: s, what: what}
	kept := e.jobs[:0]
	for _, old := range e.jobs {
		switch {
		case old.s.Kind != s.Kind:
			kept = append(kept, old)
		case s.Timed && !old.s.Timed:
			kept = append(kept, old)
			j.after = old
		case old.s.Kind == wire.SetLamps && old.s.Go == 0:
			// One more lamp is lit before the last was answered: nothing is lost.
		default:
			e.tell(timing.Unanswered{Source: e.c.Name, ID: old.s.ID, What: old.what, Why: "replaced by a newer command", Heard: now})
		}
	}
	e.jobs = append(kept, j)
	if j.after == nil {
		j.ask.again(now)
		e.send(s)
	}
	return s.ID, nil
}

// resend repeats what has not been acknowledged, on a line that is open anew.
func (e *Ear) resend(now time.Time) {
	for _, j := range e.jobs {
		if j.after != nil {
			continue
		}
		j.ask, j.noted = request{}, false
		j.ask.again(now)
		e.send(j.s)
	}
}

// gone lets go of what waited for j, which is not in the list any more.
func (e *Ear) gone(j *job, now time.Time) {
	for _, next := range e.jobs {
		if next.after == j {
			next.after = nil
			next.ask.again(now)
			e.send(next.s)
		}
	}
}

func (e *Ear) wakeJobs(now time.Time) {
	var failed []*job
	kept := e.jobs[:0]
	for _, j := range e.jobs {
		if !j.ask.open || now.Before(j.ask.due) {
			kept = append(kept, j)
			continue
		}
		if j.noted {
			if at, ok := e.line.At(e.host(now)); ok {
				if r, ok := e.line.Near(j.s.At); ok && r.At+noteSlack > at {
					// Its tick has not come, or only just. Look again then.
					j.ask.due = now.Add(askAgain)
					kept = append(kept, j)
					continue
				}
			}
			j.noted, j.ask = false, request{}
		}
		if e.state == timing.Lost {
			j.ask.due = now.Add(askAgain)
			kept = append(kept, j)
			continue
		}
		if j.ask.again(now) {
			e.send(j.s)
			kept = append(kept, j)
			continue
		}
		failed = append(failed, j)
	}
	e.jobs = kept
	for _, j := range failed {
		e.tell(timing.Unanswered{Source: e.c.Name, ID: j.s.ID, What: j.what, Why: "the counter did not acknowledge it", Heard: now})
		e.gone(j, now)
	}
}

const (
	forPower = 0
	forLamps = 1
)

// answered takes an acknowledgement; false if it is a repetition.
func (e *Ear) answered(id uint64, kind int, now time.Time) bool {
	for i, j := range e.jobs {
		if j.s.ID == id {
			e.jobs = slices.Delete(e.jobs, i, i+1)
			e.gone(j, now)
			break
		}
	}
	if id == 0 {
		return true
	}
	news := e.acked[kind] != id
	e.acked[kind] = id
	return news
}

func (e *Ear) noted(id uint64) {
	for _, j := range e.jobs {
		if j.s.ID == id {
			j.noted = true
		}
	}
}

func (e *Ear) refused(id uint64, now time.Time) {
	for i, j := range e.jobs {
		if j.s.ID == id {
			e.jobs = slices.Delete(e.jobs, i, i+1)
			e.tell(timing.Unanswered{Source: e.c.Name, ID: id, What: j.what, Why: "the counter says that it cannot", Heard: now})
			e.gone(j, now)
			return
		}
	}
}

func (e *Ear) failJobs(why string, now time.Time) {
	for _, j := range e.jobs {
		e.tell(timing.Unanswered{Source: e.c.Name, ID: j.s.ID, What: j.what, Why: why, Heard: now})
	}
	e.jobs = nil
}
