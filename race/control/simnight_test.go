package control

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"lanewright/race"
	"lanewright/timing"
	"lanewright/timing/bench"
	"lanewright/timing/listen"
	"lanewright/timing/tape"
)

func sortedKeys(m map[string]int) []string { return slices.Sorted(maps.Keys(m)) }

// simNight is a whole race night in a bubble of fake time: cars and counter, the cable, the computer with its clock and disk, the program,
// the race director, and what goes wrong. Everything is drawn from one seed.
//
// One goroutine moves the world from one moment at which something is due to the next, and waits after each until the program has come to
// rest; so the order of things is that of the fake clock.
type simNight struct {
	t     *testing.T
	seed  uint64
	stats *simStats
	trail []string // what went wrong when, for the printout of a failure

	began   time.Time // fake time of the first moment
	slept   time.Duration
	clock   hostClock
	counter *simCounter
	opened  race.Opened

	mu      sync.Mutex // guards what follows; the loop's goroutine gives orders
	in, out simLine    // to the computer, to the counter
	plugged bool
	open    bool // the program has the port open
	prog    *simProgram
	nudge   chan struct{}

	agenda   []simDue
	director *simDirector
	runs     []*simTape
	lost     []simLost
	trouble  time.Time // the line was bad until then
	over     bool
}

type simDue struct {
	at time.Time
	do func()
}

// simLost is a report of passes that cannot be had.
type simLost struct {
	timing.Missing
	newest  uint64 // number of the newest pass then
	trouble bool   // the line was bad lately
}

// simProgram is one run of the program.
type simProgram struct {
	w       *simNight
	ear     *listen.Ear
	tape    *tape.Writer
	file    *simTape
	disk    *simDisk
	control *Control
	stop    context.CancelFunc
	ended   chan error

	dead  atomic.Bool
	mu    sync.Mutex
	shown *race.Snapshot
}

// world is the time since the night began, that of the computer's sleep included.
func (w *simNight) world(now time.Time) time.Duration { return now.Sub(w.began) + w.slept }

func (w *simNight) note(format string, args ...any) {
	w.trail = append(w.trail, fmt.Sprintf("%9.3f s  %s", w.world(time.Now()).Seconds(), fmt.Sprintf(format, args...)))
}

func (w *simNight) after(d time.Duration, do func()) {
	w.agenda = append(w.agenda, simDue{time.Now().Add(d), do})
}

// next is when something is due in the world.
func (w *simNight) next() time.Time {
	w.mu.Lock()
	defer w.mu.Unlock()
	t := w.began.Add(w.counter.when(w.counter.m.Next()) - w.slept)
	sooner := func(u time.Time, ok bool) {
		if ok && u.Before(t) {
			t = u
		}
	}
	sooner(w.in.next())
	sooner(w.out.next())
	for _, d := range w.agenda {
		sooner(d.at, true)
	}
	if w.prog != nil {
		if due, ok := w.prog.ear.Due(); ok { // by the computer's clock
			sooner(time.Now().Add(due.Sub(w.clock.Now())), true)
		}
	}
	return t
}

// run moves the world on until the night is over.
func (w *simNight) run() {
	for !w.over {
		timer := time.NewTimer(time.Until(w.next()))
		select {
		case <-timer.C:
		case <-w.nudge:
			timer.Stop()
		}
		w.step(time.Now())
		synctest.Wait()
	}
}

// step does what is due now.
func (w *simNight) step(now time.Time) {
	w.mu.Lock()
	w.turn(now)
	for _, b := range w.in.take(now) {
		w.heard(b)
	}
	if w.prog != nil {
		at := w.clock.Now()
		if due, ok := w.prog.ear.Due(); ok && !at.Before(due) {
			w.prog.ear.Wake(at)
			w.prog.tape.Heard("c", at, nil)
			w.prog.flush(at)
		}
	}
	w.mu.Unlock()
	var due []simDue
	w.agenda = slices.DeleteFunc(w.agenda, func(d simDue) bool {
		if d.at.After(now) {
			return false
		}
		due = append(due, d)
		return true
	})
	for _, d := range due {
		d.do()
	}
}

// turn moves the counter to now and hands it what has come for it.
func (w *simNight) turn(now time.Time) {
	k := w.counter
	said := k.m.Advance(k.tick(w.world(now)), nil)
	for _, b := range w.out.take(now) {
		if w.plugged {
			said = k.m.Take(b, said)
		}
	}
	w.say(now, said)
}

// say puts what the counter said onto the line.
func (w *simNight) say(now time.Time, said []byte) {
	sentences := w.counter.sentences(said)
	if w.plugged && w.open {
		w.in.put(now, sentences)
	}
}

func (w *simNight) heard(b []byte) {
	if p := w.prog; p != nil && w.open {
		at := w.clock.Now()
		p.tape.Heard("c", at, b)
		p.ear.Hear(b, at)
		p.flush(at)
	}
}

func (w *simNight) port(s timing.State, why string) {
	p, at := w.prog, w.clock.Now()
	p.tape.Port("c", at, s, why)
	p.ear.Port(s, why, at)
	p.flush(at)
}

// flush hands on what the ear has understood and what it wants to say.
func (p *simProgram) flush(at time.Time) {
	w := p.w
	for _, m := range p.ear.Messages() {
		if m, ok := m.(timing.Missing); ok {
			w.lost = append(w.lost, simLost{m, uint64(len(w.counter.m.Made())), time.Now().Before(w.trouble)})
			w.stats.add("passes reported missing", int(m.Count))
			w.note("passes %d to %d missing: %s", m.First, m.Last, m.Why)
		}
		p.control.Hear(m)
	}
	for _, b := range p.ear.Say() {
		if !w.open {
			continue
		}
		p.tape.Sent("c", at, b)
		if w.plugged {
			w.out.put(time.Now(), [][]byte{b})
		}
	}
	select {
	case w.nudge <- struct{}{}:
	default:
	}
}

// The orders of the loop.

func (p *simProgram) order(give func(now time.Time) (uint64, error)) (uint64, error) {
	p.w.mu.Lock()
	defer p.w.mu.Unlock()
	if p.dead.Load() {
		return 0, errKilled
	}
	now := p.w.clock.Now()
	id, err := give(now)
	p.flush(now)
	return id, err
}

// Power is part of Counter.
func (p *simProgram) Power(lanes uint32) (uint64, error) {
	return p.order(func(now time.Time) (uint64, error) { return p.ear.Power(lanes, nil, now) })
}

// PowerAt is part of Counter.
func (p *simProgram) PowerAt(lanes uint32, at time.Duration) (uint64, error) {
	return p.order(func(now time.Time) (uint64, error) { return p.ear.Power(lanes, &at, now) })
}

// Lamps is part of Counter.
func (p *simProgram) Lamps(lit int, g timing.Go) (uint64, error) {
	return p.order(func(now time.Time) (uint64, error) { return p.ear.Lamps(lit, g, nil, now) })
}

// CounterTime is part of Counter.
func (p *simProgram) CounterTime(host time.Time) (time.Duration, int, bool) {
	p.w.mu.Lock()
	defer p.w.mu.Unlock()
	return p.ear.CounterTime(host)
}

// Publish is part of Publisher.
func (p *simProgram) Publish(s *race.Snapshot) {
	if p.dead.Load() {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.shown = s
	if last := p.disk.j.Last(); s.Seq > last {
		p.w.t.Errorf("a snapshot of event %d is shown and event %d is the last on disk", s.Seq, last)
	}
}

func (p *simProgram) newest() *race.Snapshot {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.shown
}

// start runs the program on the store at path.
func (w *simNight) start(path string) {
	p := &simProgram{w: w, file: &simTape{}, disk: openDisk(w.t, path, w.stats), ended: make(chan error, 1)}
	now := w.clock.Now()
	w.runs = append(w.runs, p.file)
	p.tape = tape.NewWriter(p.file, now)
	o := Options{Journal: p.disk, Counter: p, Source: "c", Publish: p, Record: p.tape, Draw: w.draw, Clock: &w.clock, Unattended: w.director.absent}
	c := listen.EarConfig{Name: "c"}
	if p.disk.j.Last() == 0 {
		o.Begin = w.begin()
	} else {
		o.Past = p.disk.past
		known := race.NewNight()
		if _, err := Fold(known, p.disk.past); err != nil {
			w.t.Fatalf("the journal does not fold: %v", err)
		}
		c.After, c.Stepped, c.Segment = Heard(known, "c")
	}
	p.ear = listen.NewEar(c)
	var err error
	if p.control, err = New(o); err != nil {
		w.t.Fatalf("the night cannot be taken up: %v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	p.stop = stop
	go func() { p.ended <- p.control.Run(ctx) }()
	w.mu.Lock()
	w.prog = p
	w.port(timing.Opening, "")
	if w.plugged {
		w.open = true
		w.port(timing.Silent, "sim")
	} else {
		w.port(timing.Lost, "no such device")
	}
	w.mu.Unlock()
}

// kill ends the program without warning, and starts it again after a while.
func (w *simNight) kill(down time.Duration) {
	w.mu.Lock()
	p := w.prog
	if p == nil {
		w.mu.Unlock()
		return
	}
	w.note("the program is killed, for %v", down)
	w.stats.add("kill", 1)
	p.dead.Store(true)
	w.prog, w.open = nil, false
	w.in.queue, w.out.queue = nil, nil
	p.file.kill(w.in.rnd.IntN(3) == 0)
	path := p.disk.kill(w.t)
	w.mu.Unlock()
	w.director.killed()
	shown := p.newest()
	p.end()
	w.sameAgain(path, shown)
	w.after(down, func() { w.start(path) })
}

// end lets everything of a run go.
func (p *simProgram) end() {
	p.stop()
	if err := <-p.ended; err != nil && !p.dead.Load() {
		p.w.t.Errorf("Run: %v", err)
	}
	if err := p.tape.Close(); err != nil {
		p.w.t.Errorf("tape: %v", err)
	}
	if err := p.disk.store.Close(); err != nil {
		p.w.t.Errorf("store: %v", err)
	}
}

// draw makes the heats of a small field at once; draws have tests of their own.
func (w *simNight) draw(_ context.Context, r DrawRequest) (race.Drawn, error) {
	return race.Drawn{Draw: "plain", Rounds: r.Rounds, Heats: rest(r)}, nil
}

// unplug pulls the cable in the middle of whatever is under way.
func (w *simNight) unplug(out time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if !w.plugged {
		return
	}
	w.note("unplugged for %v", out)
	w.stats.add("unplug", 1)
	w.bad(out + 20*time.Second)
	if piece := w.in.tear(); len(piece) > 0 {
		w.heard(piece)
	}
	w.out.tear()
	w.plugged = false
	if w.prog != nil && w.open {
		w.open = false
		w.port(timing.Lost, "the line was cut")
	}
	w.after(out, w.plug)
}

func (w *simNight) plug() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.plugged = true
	if w.prog != nil && !w.open {
		w.open = true
		w.port(timing.Silent, "sim")
	}
}

// bad notes that the line is not to be trusted for a while.
func (w *simNight) bad(d time.Duration) {
	if until := time.Now().Add(d); until.After(w.trouble) {
		w.trouble = until
	}
}

// restartCounter switches the counter off and on.
func (w *simNight) restartCounter() {
	w.mu.Lock()
	defer w.mu.Unlock()
	now := time.Now()
	w.turn(now)
	w.note("the counter is restarted, boot %d at %d passes", w.counter.c.Boot, len(w.counter.m.Made()))
	w.stats.add("counter restart", 1)
	w.bad(20 * time.Second)
	w.out.queue = nil
	w.say(now, w.counter.restart(w.world(now), w.in.rnd))
}

// sleep closes the lid: the world goes on, the computer does not.
func (w *simNight) sleep(d time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.note("the computer sleeps for %v", d)
	w.stats.add("sleep", 1)
	w.bad(20 * time.Second)
	w.slept += d
	w.clock.ahead.Add(int64(d / time.Second))
}

// setClock sets the wall clock.
func (w *simNight) setClock(by time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.note("the wall clock is set by %v", by)
	w.stats.add("wall clock set", 1)
	w.clock.ahead.Add(int64(by / time.Second))
}

// stall makes the disk hang at the next append.
func (w *simNight) stall() {
	if w.prog == nil {
		return
	}
	w.stats.add("disk stall", 1)
	w.note("the disk stalls")
	w.prog.disk.mu.Lock()
	w.prog.disk.stall = 500 * time.Millisecond
	w.prog.disk.mu.Unlock()
}

// refuse makes the next appends fail.
func (w *simNight) refuse(n int) {
	if w.prog == nil {
		return
	}
	w.stats.add("disk failure", 1)
	w.note("the next %d appends fail", n)
	w.prog.disk.mu.Lock()
	w.prog.disk.fail = n
	w.prog.disk.mu.Unlock()
}

// bursts makes the line noisy for a while.
func (w *simNight) burst(noise float64, d time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.stats.add("noisy spell", 1)
	w.note("%.0f %% of sentences damaged for %v", noise*100, d)
	w.in.noise, w.out.noise = noise, noise
	w.bad(d + 20*time.Second)
	w.after(d, func() {
		w.mu.Lock()
		defer w.mu.Unlock()
		w.in.noise, w.out.noise = 0, 0
	})
}

// begin is what the night begins with.
func (w *simNight) begin() []race.Event {
	events := []race.Event{w.opened}
	for i := range w.director.field {
		events = append(events, race.DriverAdded{Driver: i + 1, Name: string(rune('A'+i)) + "da"})
	}
	return events
}

// newSimNight lays a night out from its seed.
func newSimNight(t *testing.T, seed uint64, stats *simStats) *simNight {
	draw := func(stream uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, stream)) }
	rnd := draw(1)
	between := func(a, b time.Duration) time.Duration { return a + time.Duration(rnd.Int64N(int64(b-a))) }
	w := &simNight{t: t, seed: seed, stats: stats, nudge: make(chan struct{}, 1), plugged: true, began: time.Now()}
	w.in = simLine{rnd: draw(2), delay: between(100*time.Microsecond, 4*time.Millisecond), hurt: map[string]int{}}
	w.out = simLine{rnd: draw(3), delay: w.in.delay, hurt: w.in.hurt}
	if rnd.IntN(2) == 0 {
		w.in.batch = 16 * time.Millisecond
	}

	card := race.DefaultCard()
	card.Power, card.Jump = true, "ask"
	card.Length = between(20*time.Second, 50*time.Second).Truncate(time.Second)
	card.Countdown, card.HoldMax, card.ResumeIn, card.Pause = 2*time.Second, time.Second, time.Second, 5*time.Second
	card.LapMin = 2 * time.Second
	switch rnd.IntN(6) {
	case 0:
		card.AtEnd = "lap"
	case 1:
		card.Kind, card.Laps, card.Length = "laps", 4+rnd.IntN(5), 0
	case 2:
		card.Grid = "past"
	}
	lanes := 2 + rnd.IntN(3)
	w.opened = race.Opened{Night: "n", Layout: race.LayoutInfo{Name: "oval"}, Scale: 32, Card: card, Seed: seed, Counter: "c"}
	for range lanes {
		w.opened.Layout.Lanes = append(w.opened.Layout.Lanes, race.LaneInfo{LengthMM: 15543})
	}
	if rnd.IntN(6) == 0 {
		w.opened.Digital, w.opened.Cars, w.opened.ShortestMM, w.opened.LongestMM = true, lanes, 15000, 16000
	}

	clocks := []struct {
		rate uint64
		bits int
	}{{1_000_000, 32}, {1_000_000, 30}, {1000, 20}, {10_000, 23}, {32_768, 32}}
	c := clocks[rnd.IntN(len(clocks))]
	model := bench.Model(bench.Profile{Lap: between(3500*time.Millisecond, 7*time.Second), Off: 25}, seed)
	twins := rnd.IntN(3) == 0 // lanes 1 and 2 drive alike: two passes in one tick
	w.counter = &simCounter{dig: w.opened.Digital, c: bench.Config{Lanes: lanes, Rate: c.rate, Bits: c.bits, Boot: 40 + uint64(rnd.IntN(20)), Ring: []int{32, 64, 256}[rnd.IntN(3)],
		Coast: 400 * time.Millisecond, Seed: seed,
		Laps: func(heat, lane, lap int) time.Duration {
			if twins && lane == 2 {
				lane = 1
			}
			return model(heat, lane, lap)
		},
		Faults: bench.Faults{Bounce: 0.03, Phantom: 0.02, Miss: 0.02}}}
	w.counter.c.Start = rnd.Uint64N(1 << c.bits)
	if rnd.IntN(2) == 0 { // the ticks wrap in the course of the night
		w.counter.c.Start = 1<<c.bits - uint64(between(time.Second, 4*time.Minute).Seconds()*float64(c.rate))
	}
	w.counter.rate = float64(c.rate) * (1 + (rnd.Float64()-0.5)*160e-6)
	w.director = newSimDirector(w, draw(4), lanes)
	w.misfortunes(rnd, between)
	return w
}

// misfortunes draws what goes wrong and when.
func (w *simNight) misfortunes(rnd *rand.Rand, between func(a, b time.Duration) time.Duration) {
	heats := w.director.field
	long := time.Duration(heats) * (w.opened.Card.Length + 20*time.Second)
	if w.opened.Card.Kind == "laps" {
		long = time.Duration(heats) * time.Minute
	}
	several := func(most int, what func()) {
		for range rnd.IntN(most + 1) {
			w.after(between(time.Second, long), what)
		}
	}
	short := func() time.Duration { return between(50*time.Millisecond, 40*time.Second) }
	several(3, func() { w.unplug(short()) })
	several(3, func() { w.kill(between(300*time.Millisecond, 20*time.Second)) })
	several(2, func() { w.burst([]float64{0.02, 0.1, 0.4}[rnd.IntN(3)], between(2*time.Second, 40*time.Second)) })
	several(3, w.stall)
	several(2, func() { w.refuse(1 + rnd.IntN(4)) })
	several(2, func() {
		w.setClock([]time.Duration{time.Hour, -time.Hour, 3 * time.Second, -2 * time.Second}[rnd.IntN(4)])
	})
	if rnd.IntN(3) == 0 {
		several(2, w.restartCounter)
	}
	if rnd.IntN(3) == 0 {
		several(1, func() { w.sleep(between(2*time.Second, 3*time.Minute).Truncate(time.Second)) })
	}
}

// tapes returns what all runs have recorded.
func (w *simNight) tapes() ([]tape.Entry, error) {
	var all []tape.Entry
	for _, r := range w.runs {
		part, err := tape.Read(strings.NewReader(r.buf.String()))
		if err != nil {
			return nil, err
		}
		all = append(all, part...)
	}
	return all, nil
}

// raceNight runs one night and checks it.
func raceNight(t *testing.T, seed uint64, stats *simStats) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		w := newSimNight(t, seed, stats)
		defer func() {
			if t.Failed() {
				t.Logf("seed %d\n%s", seed, strings.Join(w.trail, "\n"))
			}
		}()
		w.say(w.began, w.counter.switchOn(0))
		w.start(filepath.Join(dir, "night.lw"))
		w.after(500*time.Millisecond, w.director.act)
		w.run()
		w.check()
	})
}
