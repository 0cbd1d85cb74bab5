package control

import (
	"bytes"
	"context"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"lanewright/race"
	"lanewright/store"
	"lanewright/timing/bench"
	"lanewright/timing/wire"
)

// sameAgain checks a store as a killed program has left it: what was shown is there, and folding the journal up to the snapshot that was
// shown last gives that snapshot.
func (w *simNight) sameAgain(path string, shown *race.Snapshot) {
	if shown == nil {
		return
	}
	s, err := store.Open(path, store.Options{ReadOnly: true, MustExist: true})
	if err != nil {
		w.t.Errorf("after the kill: %v", err)
		return
	}
	defer s.Close()
	j, err := s.Night("n")
	if err != nil {
		w.t.Errorf("after the kill: %v", err)
		return
	}
	if j.Last() < shown.Seq {
		w.t.Errorf("event %d was shown and after the kill the journal ends with %d", shown.Seq, j.Last())
		return
	}
	n := race.NewNight()
	if _, err := Fold(n, func(fn func(Record) error) error {
		return j.Read(1, func(r store.Record) error {
			if r.Seq > shown.Seq {
				return nil
			}
			return fn(Record{r.Seq, r.Kind, r.Wall, r.Data})
		})
	}); err != nil {
		w.t.Errorf("after the kill: %v", err)
		return
	}
	was, is := *shown, *n.Snapshot(shown.Taken)
	was.Clock, is.Clock = race.Clock{}, race.Clock{}                                                            // told by the counter while it can be asked
	was.JustNow = slices.DeleteFunc(slices.Clone(was.JustNow), func(n race.NoteRow) bool { return n.Seq == 0 }) // of the program, not of the night
	a, _ := json.MarshalIndent(was, "", " ")
	b, _ := json.MarshalIndent(is, "", " ")
	if !bytes.Equal(a, b) {
		w.t.Errorf("after the kill the same events give another picture: %s\n%s", difference(b, a), around(b, a))
	}
}

// around shows the lines about the first difference of two texts.
func around(a, b []byte) string {
	la, lb := strings.Split(string(a), "\n"), strings.Split(string(b), "\n")
	i := 0
	for i < min(len(la), len(lb)) && la[i] == lb[i] {
		i++
	}
	cut := func(l []string) string { return strings.Join(l[max(0, min(i, len(l))-6):min(len(l), i+12)], "\n") }
	return cut(la) + "\n--- and not\n" + cut(lb)
}

// check ends the night and compares everything with what really happened.
func (w *simNight) check() {
	p := w.prog
	if p == nil {
		w.t.Fatal("no program at the end")
	}
	rep, err := p.control.Report(context.Background())
	if err != nil {
		w.t.Fatal(err)
	}
	synctestRest()
	events := w.journal(p)
	p.end()
	w.dump(events)
	w.passes(events)
	w.byHand(events, rep)
	w.again(rep)
	for kind, n := range w.in.hurt {
		w.stats.add("sentence "+kind, n)
	}
	for _, l := range w.counter.passes() {
		w.stats.add("pass made", len(l.made))
	}
	w.stats.add("night", 1)
	w.stats.add("heat", len(rep.Heats))
}

// journal reads the events of the night.
func (w *simNight) journal(p *simProgram) []race.Event {
	events := []race.Event{nil} // by number
	if err := p.disk.past(func(r Record) error {
		e, err := race.Decode(race.Kind(r.Kind), r.Data)
		if err != nil {
			return err
		}
		events = append(events, e)
		return nil
	}); err != nil {
		w.t.Fatal(err)
	}
	return events
}

// passes checks that the journal holds every pass once, with its true lane and time, or says that it is missing.
func (w *simNight) passes(events []race.Event) {
	t := w.t
	type key struct{ boot, number uint64 }
	heard := map[key]race.Pass{}
	zero := map[int]time.Duration{} // of each segment: counter time less true time
	lives := w.counter.passes()
	life := map[uint64]simLife{}
	for _, l := range lives {
		life[l.boot] = l
	}
	for seq, e := range events {
		p, ok := e.(race.Passed)
		if !ok {
			continue
		}
		k := key{p.Boot, p.Serial}
		if _, twice := heard[k]; twice {
			t.Errorf("pass %d of boot %d is in the journal twice, again as event %d", p.Serial, p.Boot, seq)
		}
		heard[k] = p.Pass
		l, ok := life[p.Boot]
		if !ok || p.Serial < 1 || p.Serial > uint64(len(l.made)) {
			t.Errorf("event %d: pass %d of boot %d never happened: %s", seq, p.Serial, p.Boot, p.Raw)
			continue
		}
		made := l.made[p.Serial-1]
		lane := p.Lane
		if w.counter.dig {
			lane = p.Car
		}
		if lane != made.Lane || p.Ticks != made.Ticks&(1<<w.counter.c.Bits-1) {
			t.Errorf("event %d: pass %d of boot %d is on %d at ticks %d; it really was on %d at %d: %s", seq, p.Serial, p.Boot, lane, p.Ticks, made.Lane, made.Ticks, p.Raw)
			continue
		}
		off := p.At - w.counter.truth(made.Ticks)
		if z, known := zero[p.Segment]; !known {
			zero[p.Segment] = off
		} else if d := off - z; d > 2*time.Microsecond || d < -2*time.Microsecond {
			t.Errorf("event %d: pass %d of boot %d in segment %d lies %v away from where it should", seq, p.Serial, p.Boot, p.Segment, d)
		}
	}
	missing := map[key]bool{}
	for _, l := range w.lost {
		for n := l.First; n <= l.Last; n++ {
			missing[key{l.Boot, n}] = true
		}
		if l.Count != l.Last-l.First+1 {
			t.Errorf("passes %d to %d missing, told as %d", l.First, l.Last, l.Count)
		}
		if made := len(life[l.Boot].made); l.Last > uint64(made) {
			t.Errorf("pass %d is reported missing and boot %d made %d only", l.Last, l.Boot, made)
		}
		gone := l.newest >= uint64(w.counter.c.Ring) && l.Last <= l.newest-uint64(w.counter.c.Ring)
		if !gone && !l.trouble {
			t.Errorf("passes %d to %d of boot %d are reported missing though the line was good and the counter held them (%s)", l.First, l.Last, l.Boot, l.Why)
		}
	}
	for _, l := range lives {
		top := uint64(0)
		for n := range uint64(len(l.made)) {
			if _, ok := heard[key{l.boot, n + 1}]; ok {
				top = n + 1
			}
		}
		if l.last {
			top = uint64(len(l.made))
		}
		for n := uint64(1); n <= top; n++ {
			k := key{l.boot, n}
			if _, ok := heard[k]; ok {
				w.stats.add("pass in the journal", 1)
				continue
			}
			if !missing[k] {
				t.Errorf("pass %d of boot %d (%+v) is neither in the journal nor reported missing", n, l.boot, l.made[n-1])
			}
			w.stats.add("pass lost for good", 1)
		}
	}
}

// byHand counts every heat anew from the passes of the counter, by the plainest rules, and compares laps and lap times.
func (w *simNight) byHand(events []race.Event, rep race.Report) {
	n := race.NewNight()
	for seq, e := range events[1:] {
		if err := n.Apply(uint64(seq+1), e); err != nil {
			w.t.Errorf("the journal does not fold: %v", err)
			return
		}
	}
	a, _ := json.MarshalIndent(rep, "", " ")
	b, _ := json.MarshalIndent(n.Report(), "", " ")
	if !bytes.Equal(a, b) {
		w.t.Errorf("the journal gives another report: %s", difference(b, a))
	}
	rulings := map[string]int{}
	for seq, e := range events {
		by, what := "", ""
		switch e := e.(type) {
		case race.LapsGiven:
			by, what = e.By, "laps given"
		case race.PassStruck:
			by, what = e.By, "pass struck"
		case race.PassMoved:
			by, what = e.By, "pass moved"
		case race.PartSet:
			by, what = e.By, "part set"
		case race.Penalised:
			by, what = e.By, "penalty"
		case race.StintDropped:
			by, what = e.By, "stint dropped"
		case race.Answered:
			by, what = e.By, "answer"
		case race.Asked:
			w.stats.add("question: "+e.What, 1)
			continue
		case race.Went:
			w.marked(seq, "go", e.Segment, e.At, e.Acked, events, func(a simAct) bool { return a.kind == wire.Lamps && a.goes == 1 })
			continue
		case race.Held:
			w.marked(seq, "hold", e.Segment, e.At, e.Acked, events, func(a simAct) bool { return a.kind == wire.Power && a.mask == 0 })
			w.stats.add("track call", 1)
			continue
		case race.Resumed:
			w.marked(seq, "resumption", e.Segment, e.At, e.Acked, events, func(a simAct) bool { return a.kind == wire.Lamps && a.goes == 2 })
			continue
		case race.SegmentBroke:
			w.stats.add("segment broke", 1)
			continue
		default:
			continue
		}
		rulings[what]++
		w.stats.add("ruling: "+what, 1)
		if by != simName {
			w.t.Errorf("event %d: %s (%q) was not ordered by anybody: %+v", seq, what, by, e)
		}
	}
	for _, h := range tallies(events, n.Info()) {
		w.compare(n, h)
	}
}

// marked checks that a moment which the counter has acknowledged is one at which it really did that.
func (w *simNight) marked(seq int, what string, segment int, at time.Duration, acked bool, events []race.Event, kind func(simAct) bool) {
	if !acked {
		w.stats.add("mark by the computer's clock", 1)
		return
	}
	w.stats.add("mark by the counter", 1)
	// The segment's zero, from any pass in it.
	for _, e := range events {
		p, ok := e.(race.Passed)
		if !ok || p.Segment != segment {
			continue
		}
		var made *bench.Pass
		for _, l := range w.counter.passes() {
			if l.boot == p.Boot && p.Serial >= 1 && p.Serial <= uint64(len(l.made)) {
				made = &l.made[p.Serial-1]
			}
		}
		if made == nil {
			return
		}
		zero := p.At - w.counter.truth(made.Ticks)
		if !w.counter.did(p.Boot, func(tick uint64) bool {
			d := w.counter.truth(tick) + zero - at
			return d > -2*time.Microsecond && d < 2*time.Microsecond
		}, kind) {
			w.t.Errorf("event %d: the %s is said to be acknowledged for %v of segment %d, when the counter did no such thing", seq, what, at, segment)
		}
		return
	}
}

// again checks that the tapes alone give the same results.
func (w *simNight) again(rep race.Report) {
	entries, err := w.tapes()
	if err != nil {
		w.t.Errorf("tape: %v", err)
		return
	}
	played, err := Replay(context.Background(), entries, ReplayOptions{})
	if err != nil {
		w.t.Errorf("the tapes cannot be played: %v", err)
		return
	}
	w.dumpPlayed(played.Records)
	a, _ := json.MarshalIndent(rep, "", " ")
	b, _ := json.MarshalIndent(played.Night.Report(), "", " ")
	if !bytes.Equal(a, b) {
		w.t.Errorf("the tapes give another report: %s", difference(b, a))
	}
	w.stats.add("tapes compared", 1)
}
