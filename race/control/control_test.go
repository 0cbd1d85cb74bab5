package control

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"lanewright/race"
	"lanewright/timing"
)

// memory is a journal in memory that needs a while, as disks do.
type memory struct {
	mu      sync.Mutex
	records []Record
	slow    time.Duration
	fail    error
	calls   int
}

func (m *memory) Append(_ context.Context, rs []Record) error {
	m.mu.Lock()
	slow, fail := m.slow, m.fail
	m.calls++
	m.mu.Unlock()
	time.Sleep(slow)
	if fail != nil {
		return fail
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, r := range rs {
		if want := uint64(len(m.records) + 1); r.Seq != want {
			return fmt.Errorf("record %d where %d was due", r.Seq, want)
		}
		r.Data = slices.Clone(r.Data)
		m.records = append(m.records, r)
	}
	return nil
}

func (m *memory) past(fn func(Record) error) error {
	m.mu.Lock()
	rs := slices.Clone(m.records)
	m.mu.Unlock()
	for _, r := range rs {
		if err := fn(r); err != nil {
			return err
		}
	}
	return nil
}

// track is a counter with cars: car on lane k needs laps[k] for a lap, and starts at the timing line at go.
type track struct {
	c      atomic.Pointer[Control]
	zero   time.Time // counter time 0
	laps   []time.Duration
	delay  time.Duration
	mu     sync.Mutex
	id     uint64
	serial uint64
	power  uint32
	round  int // of the start, so that cars of an earlier one stop
}

func (tr *track) now() time.Duration { return time.Since(tr.zero) }

func (tr *track) say(m timing.Message) {
	time.AfterFunc(tr.delay, func() { tr.c.Load().Hear(m) })
}

func (tr *track) Power(lanes uint32) (uint64, error) {
	tr.mu.Lock()
	defer tr.mu.Unlock()
	tr.id++
	tr.power = lanes
	tr.say(timing.PowerAck{Source: "c", ID: tr.id, Lanes: lanes, At: tr.now(), Segment: 1, Heard: time.Now().Add(tr.delay)})
	if lanes == 0 {
		tr.round++
	}
	return tr.id, nil
}

func (tr *track) PowerAt(lanes uint32, at time.Duration) (uint64, error) {
	tr.mu.Lock()
	tr.id++
	id := tr.id
	tr.mu.Unlock()
	time.AfterFunc(at-tr.now(), func() {
		tr.mu.Lock()
		tr.power = lanes
		if lanes == 0 {
			tr.round++
		}
		tr.mu.Unlock()
		tr.say(timing.PowerAck{Source: "c", ID: id, Lanes: lanes, At: tr.now(), Segment: 1, Heard: time.Now().Add(tr.delay)})
	})
	return id, nil
}

func (tr *track) Lamps(lit int, g timing.Go) (uint64, error) {
	tr.mu.Lock()
	defer tr.mu.Unlock()
	tr.id++
	tr.say(timing.LampAck{Source: "c", ID: tr.id, Lit: lit, Go: g, At: tr.now(), Segment: 1, Heard: time.Now().Add(tr.delay)})
	if g == timing.Start || g == timing.Again {
		tr.round++
		for lane, lap := range tr.laps {
			if lap > 0 {
				tr.roll(tr.round, lane+1, lap)
			}
		}
	}
	return tr.id, nil
}

func (tr *track) roll(round, lane int, lap time.Duration) {
	time.AfterFunc(lap, func() {
		tr.mu.Lock()
		defer tr.mu.Unlock()
		if tr.round != round || tr.power>>(lane-1)&1 == 0 {
			return
		}
		tr.serial++
		tr.say(timing.Pass{Source: "c", Sensor: 1, Lane: lane, At: tr.now(), Segment: 1, Timed: true, Serial: tr.serial, Heard: time.Now().Add(tr.delay), Raw: "raw"})
		tr.roll(round, lane, lap)
	})
}

func (tr *track) CounterTime(host time.Time) (time.Duration, int, bool) {
	return host.Sub(tr.zero), 1, true
}

func (tr *track) beats(ctx context.Context) {
	for ctx.Err() == nil {
		time.Sleep(time.Second)
		tr.say(timing.Beat{Source: "c", At: tr.now(), Segment: 1, Heard: time.Now().Add(tr.delay)})
	}
}

type screen struct {
	mu   sync.Mutex
	seen []*race.Snapshot
}

func (s *screen) Publish(p *race.Snapshot) {
	s.mu.Lock()
	s.seen = append(s.seen, p)
	s.mu.Unlock()
}

func beginning(change func(*race.Opened)) []race.Event {
	card := race.DefaultCard()
	card.Length, card.Power, card.Pause = 21*time.Second, true, 10*time.Second
	o := race.Opened{Night: "n", Club: "Mill Lane", Layout: race.LayoutInfo{Name: "oval"}, Scale: 32, Card: card, Seed: 7, Counter: "c"}
	for range 4 {
		o.Layout.Lanes = append(o.Layout.Lanes, race.LaneInfo{LengthMM: 15543})
	}
	if change != nil {
		change(&o)
	}
	events := []race.Event{o}
	for i, name := range []string{"Ann", "Ben", "Cid", "Dot"} {
		events = append(events, race.DriverAdded{Driver: i + 1, Name: name})
	}
	return events
}

// meeting is a night in a bubble of fake time.
type meeting struct {
	t      *testing.T
	c      *Control
	tr     *track
	j      *memory
	screen *screen
	stop   func()
}

func meet(t *testing.T, o Options, laps []time.Duration) *meeting {
	m := &meeting{t: t, j: &memory{slow: time.Millisecond}, screen: &screen{}}
	if o.Journal != nil {
		m.j = o.Journal.(*memory)
	}
	m.tr = &track{zero: time.Now().Add(-time.Hour), laps: laps, delay: 12 * time.Millisecond}
	o.Journal, o.Counter, o.Publish = m.j, m.tr, m.screen
	c, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	m.c = c
	m.tr.c.Store(c)
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	go m.tr.beats(ctx)
	m.stop = func() {
		cancel()
		if err := <-ended; err != nil {
			t.Errorf("Run: %v", err)
		}
		time.Sleep(time.Hour) // every timer of the track runs out
	}
	return m
}

func (m *meeting) do(cmd race.Command) race.Reply {
	m.t.Helper()
	r := <-m.c.Do(cmd)
	if r.Err != nil {
		m.t.Fatalf("%T: %v", cmd, r.Err)
	}
	return r
}

func (m *meeting) phase() race.Phase {
	synctest.Wait()
	return m.c.Newest().Phase
}

func TestUnattendedNightRunsToItsEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var lines []string
		m := meet(t, Options{Begin: beginning(nil), Unattended: true, First: race.MakeDraw{Kind: "balanced", Rounds: 1}, OnDurable: func(seq uint64, e race.Event, line []byte) {
			if !json.Valid(line) {
				t.Errorf("event line is not JSON: %s", line)
			}
			lines = append(lines, string(line))
		}}, []time.Duration{4 * time.Second, 5 * time.Second, 6 * time.Second, 7500 * time.Millisecond})
		<-m.c.Over()
		rep, err := m.c.Report(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		m.stop()
		if len(rep.Heats) != 4 {
			t.Fatalf("%d heats, want 4", len(rep.Heats))
		}
		// 21 s: lane 1 passes at 4 (starts lap 1), 8, 12, 16, 20 -> 4 laps; lane 2 at 5, 10, 15, 20 -> 3; lane 3 at 6, 12, 18 -> 2; lane 4 at 7.5, 15 -> 1.
		// Everybody drives every lane once: 10 laps each, all level.
		for _, r := range rep.Standings {
			if r.Laps != 10 || r.Heats != 4 {
				t.Errorf("%s: %d laps in %d heats, want 10 in 4", r.Name, r.Laps, r.Heats)
			}
		}
		if len(lines) != len(m.j.records) {
			t.Errorf("%d event lines for %d records", len(lines), len(m.j.records))
		}
		// The same journal gives the same report.
		n := race.NewNight()
		if _, err := Fold(n, m.j.past); err != nil {
			t.Fatal(err)
		}
		a, _ := json.Marshal(rep)
		b, _ := json.Marshal(n.Report())
		if string(a) != string(b) {
			t.Errorf("the journal gives another report:\n%s\n%s", a, b)
		}
	})
}

func TestTrackCallHoldsTheClockInCounterTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meet(t, Options{Begin: beginning(nil)}, []time.Duration{3 * time.Second, 0, 0, 0})
		m.do(race.Enter{}) // draw
		m.do(race.Enter{}) // stage
		m.do(race.Enter{}) // start
		time.Sleep(5*time.Second + 2*time.Second + time.Second)
		if p := m.phase(); p != race.Green {
			t.Fatalf("phase %s, want GREEN", p)
		}
		time.Sleep(6 * time.Second)
		m.do(race.CallTrack{Why: "crash"})
		time.Sleep(30 * time.Second)
		if p := m.phase(); p != race.TrackCall {
			t.Fatalf("phase %s, want TRACK CALL", p)
		}
		held := m.c.Newest().Clock
		if held.Ticking || held.Elapsed <= 6*time.Second || held.Elapsed > 10*time.Second {
			t.Fatalf("clock %+v while held", held)
		}
		m.do(race.Enter{}) // resume
		time.Sleep(4 * time.Second)
		if p := m.phase(); p != race.Green {
			t.Fatalf("phase %s, want GREEN", p)
		}
		time.Sleep(20 * time.Second)
		if p := m.phase(); p != race.Finish {
			t.Fatalf("phase %s, want FINISH", p)
		}
		m.do(race.Enter{})
		if p := m.phase(); p != race.Idle {
			t.Fatalf("phase %s, want READY", p)
		}
		m.stop()
	})
}

func TestLampsAreShownAsTheyLight(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meet(t, Options{Begin: beginning(nil)}, nil)
		m.do(race.Enter{})
		m.do(race.Enter{})
		m.do(race.Enter{})
		for lit := range 5 {
			time.Sleep(100 * time.Millisecond)
			synctest.Wait()
			if c := m.c.Newest().Clock; c.Lamps != lit || c.LampsOf != 5 {
				t.Errorf("%d of %d lamps are shown, want %d", c.Lamps, c.LampsOf, lit)
			}
			time.Sleep(900 * time.Millisecond)
		}
		m.stop()
	})
}

func TestNothingIsShownBeforeItIsOnDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meet(t, Options{Begin: beginning(nil)}, []time.Duration{time.Second, time.Second, time.Second, time.Second})
		m.do(race.Enter{})
		m.do(race.Enter{})
		m.do(race.Enter{})
		time.Sleep(10 * time.Second)
		m.j.mu.Lock()
		m.j.slow = 500 * time.Millisecond
		m.j.mu.Unlock()
		for range 40 {
			time.Sleep(100 * time.Millisecond)
			synctest.Wait()
			s := m.c.Newest()
			m.j.mu.Lock()
			if on := uint64(len(m.j.records)); s.Seq > on {
				t.Errorf("snapshot of event %d is shown while event %d is the last on disk", s.Seq, on)
			}
			m.j.mu.Unlock()
		}
		m.stop()
	})
}

func TestJournalThatFailsIsTriedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meet(t, Options{Begin: beginning(nil)}, []time.Duration{time.Second, 0, 0, 0})
		m.do(race.Enter{})
		m.do(race.Enter{})
		m.do(race.Enter{})
		time.Sleep(10 * time.Second)
		m.j.mu.Lock()
		m.j.fail = errors.New("no space left on device")
		m.j.mu.Unlock()
		time.Sleep(3 * time.Second)
		synctest.Wait()
		if notes := m.c.Newest().JustNow; m.c.Trouble() == nil || len(notes) == 0 || !strings.Contains(notes[len(notes)-1].Text, "no space left") {
			t.Error("nobody is told that the journal cannot be written")
		}
		before := m.c.Newest().Seq
		time.Sleep(2 * time.Second)
		if m.c.Newest().Seq != before {
			t.Error("something was shown that is not on disk")
		}
		m.j.mu.Lock()
		m.j.fail = nil
		m.j.mu.Unlock()
		time.Sleep(2 * time.Second)
		synctest.Wait()
		if m.c.Trouble() != nil || m.c.Newest().Seq <= before {
			t.Errorf("the journal was not taken up again: %v", m.c.Trouble())
		}
		m.stop()
	})
}

func TestRestartGoesOnWithALiveHeat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meet(t, Options{Begin: beginning(nil)}, []time.Duration{2 * time.Second, 3200 * time.Millisecond, 0, 0})
		m.do(race.Enter{})
		m.do(race.Enter{})
		m.do(race.Enter{})
		time.Sleep(14 * time.Second)
		was := m.c.Newest()
		if was.Phase != race.Green {
			t.Fatalf("phase %s", was.Phase)
		}
		// The program is killed: the loop is left alone with a journal that takes nothing more, and another one takes the night up.
		m.j.mu.Lock()
		records := slices.Clone(m.j.records)
		m.j.mu.Unlock()
		second := &memory{records: records, slow: time.Millisecond}
		c2, err := New(Options{Journal: second, Counter: m.tr, Publish: m.screen, Past: second.past})
		if err != nil {
			t.Fatal(err)
		}
		old := m.c
		m.tr.c.Store(c2)
		ctx, cancel := context.WithCancel(context.Background())
		ended := make(chan error, 1)
		go func() { ended <- c2.Run(ctx) }()
		time.Sleep(30 * time.Second)
		synctest.Wait()
		now := c2.Newest()
		if now.Phase != race.Finish {
			t.Fatalf("phase %s after restart, want FINISH", now.Phase)
		}
		for i := range was.Running {
			if now.Running[i].Laps < was.Running[i].Laps {
				t.Errorf("lane %d: %d laps after restart, %d were shown before", i+1, now.Running[i].Laps, was.Running[i].Laps)
			}
		}
		// 21 s: lane 1 passes at 2, 4, ..., 20 -> 9 laps; lane 2 at 3.2, ..., 19.2 -> 5 laps.
		if now.Running[0].Laps != 9 || now.Running[1].Laps != 5 {
			t.Errorf("laps %d and %d, want 9 and 5", now.Running[0].Laps, now.Running[1].Laps)
		}
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		m.c = old
		m.stop()
	})
}

func TestAfterTheEndEverybodyGetsAnAnswer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meet(t, Options{Begin: beginning(nil)}, nil)
		m.do(race.Enter{})
		m.stop()
		if r := <-m.c.Do(race.Enter{}); r.Err == nil {
			t.Error("a command was taken after the end")
		}
		m.c.Hear(timing.Beat{Source: "c"})
		rep, err := m.c.Report(context.Background())
		if err != nil || len(rep.Heats) != 4 {
			t.Errorf("report of %d heats, %v", len(rep.Heats), err)
		}
	})
}
