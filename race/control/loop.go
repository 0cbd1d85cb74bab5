package control

import (
	"context"
	"time"

	"lanewright/race"
)

// frame is how long snapshots lie apart at least while only passes come in; screens draw no faster.
const frame = 15 * time.Millisecond

// loop is the state of Run.
type loop struct {
	*Control
	groups chan<- group
	done   <-chan group

	writing bool
	waiting group     // gathers while the writer works
	stale   bool      // something has happened since the last snapshot was taken
	at      time.Time // of the last snapshot
	told    bool      // over has been closed
}

func (l *loop) run(ctx context.Context) {
	l.stale = true
	stop, ready := ctx.Done(), l.in.ready
	for {
		l.flush()
		if stop == nil && !l.writing && len(l.waiting.events) == 0 {
			close(l.groups)
			return
		}
		var alarm <-chan time.Time
		release := func() {}
		if wait, ok := l.wait(); ok {
			alarm, release = l.clock.After(wait)
		}
		select {
		case <-stop:
			close(l.hurry)
			stop, ready = nil, nil
			l.turnAway()
		case <-ready:
			l.work(l.in.take())
		case g, ok := <-l.done:
			if !ok { // the journal cannot be written and we are to end
				release()
				close(l.groups)
				return
			}
			l.finished(g)
		case err := <-l.alarm:
			l.showTrouble(err)
		case <-alarm:
			if stop != nil {
				l.desk.wake(l.clock.Now())
			}
		}
		release()
	}
}

// turnAway takes what counters have said so far and refuses what people want: the loop is ending.
func (l *loop) turnAway() {
	for _, it := range l.in.take() {
		switch {
		case it.message != nil:
			l.desk.hear(l.clock.Now(), it.message)
		case it.command != nil:
			it.reply <- race.Reply{Err: errEnded, At: l.clock.Now()}
		case it.look != nil:
			it.look(l.desk.night)
		}
	}
}

// wait is how long until something is due.
func (l *loop) wait() (time.Duration, bool) {
	now := l.clock.Now()
	due := l.desk.next()
	if l.stopping() {
		due = time.Time{}
	}
	if l.stale && !l.writing {
		if t := l.at.Add(frame); due.IsZero() || t.Before(due) {
			due = t
		}
	}
	if due.IsZero() {
		return 0, false
	}
	return max(due.Sub(now), 0), true
}

func (l *loop) work(items []intake) {
	for _, it := range items {
		now := l.clock.Now()
		switch {
		case it.message != nil:
			l.desk.hear(now, it.message)
		case it.command != nil:
			reply, later := l.desk.do(now, it.command, func(r race.Reply) { l.waiting.replies = append(l.waiting.replies, answered{it.reply, r}) })
			if !later {
				l.waiting.replies = append(l.waiting.replies, answered{it.reply, reply})
			}
		case it.result != nil:
			it.result(now)
		case it.look != nil:
			it.look(l.desk.night)
		}
	}
	l.desk.wake(l.clock.Now())
}

// flush gives the writer what has gathered, if it is free, and takes a snapshot of exactly that state.
func (l *loop) flush() {
	if made := l.desk.take(); len(made) > 0 {
		l.waiting.events = append(l.waiting.events, made...)
		l.stale = true
	}
	if l.desk.moved {
		l.desk.moved, l.stale = false, true
		l.at = time.Time{} // at once
	}
	if l.writing {
		return
	}
	now := l.clock.Now()
	if l.stale && (now.Sub(l.at) >= frame || notOnlyPasses(l.waiting.events) || len(l.waiting.replies) > 0) {
		l.waiting.picture = l.picture(now)
		l.stale, l.at = false, now
	}
	if len(l.waiting.events) == 0 {
		if l.waiting.picture != nil || len(l.waiting.replies) > 0 {
			g := l.waiting
			l.waiting = group{}
			l.finished(g) // nothing to write: all of it is on disk already
			l.writing = false
		}
		return
	}
	l.groups <- l.waiting
	l.waiting, l.writing = group{}, true
}

func notOnlyPasses(events []made) bool {
	for _, m := range events {
		if m.kind != race.KindPassed {
			return true
		}
	}
	return false
}

// finished shows and answers what is on disk now.
func (l *loop) finished(g group) {
	l.writing = false
	if g.picture != nil {
		l.newest.Store(g.picture)
		if l.o.Publish != nil {
			l.o.Publish.Publish(g.picture)
		}
	}
	for _, a := range g.replies {
		a.to <- a.reply // has room for one
	}
	if l.o.OnDurable != nil {
		l.durable.put(g.events...)
	}
	if !l.told && g.picture != nil && g.picture.Phase == race.Over {
		l.told = true
		close(l.over)
	}
}

// showTrouble shows that the journal cannot be written, on top of what is on disk: nothing newer is shown until it can.
func (l *loop) showTrouble(err error) {
	newest := l.newest.Load()
	if newest == nil || l.o.Publish == nil {
		return
	}
	s := *newest
	s.JustNow = append(s.JustNow[:len(s.JustNow):len(s.JustNow)], race.NoteRow{Wall: l.clock.Now(), Bad: true, // no number: it is not in the journal
		Text: "the journal cannot be written: " + err.Error() + "; passes are kept and counted, and shown once it can"})
	l.newest.Store(&s)
	l.o.Publish.Publish(&s)
}

// picture takes a snapshot with the clock as the counter has it.
func (l *loop) picture(now time.Time) *race.Snapshot {
	return l.desk.picture(now)
}
