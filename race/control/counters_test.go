package control

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"lanewright/race"
	"lanewright/timing"
)

// plain is a night with a counter that takes no orders; the test says what it says.
type plain struct {
	*meeting
	start time.Time // when its clock showed nought
	seg   int
	n     uint64
}

func meetPlain(t *testing.T, change func(*race.Opened)) *plain {
	j := &memory{slow: time.Millisecond}
	s := &screen{}
	c, err := New(Options{Journal: j, Publish: s, Begin: beginning(func(o *race.Opened) {
		o.Card.Power = false
		if change != nil {
			change(o)
		}
	})})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	p := &plain{meeting: &meeting{t: t, c: c, j: j, screen: s}, start: time.Now().Add(-5000 * time.Second), seg: 1}
	p.stop = func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
	p.do(race.Enter{})
	p.do(race.Enter{})
	p.do(race.Enter{})
	time.Sleep(5*time.Second + 2*time.Second)
	if ph := p.phase(); ph != race.Green {
		t.Fatalf("phase %s, want GREEN", ph)
	}
	return p
}

// pass is a pass now, whose bytes take 20 ms.
func (p *plain) pass(lane int) {
	at := time.Since(p.start)
	p.n++
	m := timing.Pass{Source: "c", Sensor: 1, Lane: lane, At: at, Segment: p.seg, Timed: true, Serial: p.n}
	time.Sleep(20 * time.Millisecond)
	m.Heard = time.Now()
	p.c.Hear(m)
	synctest.Wait()
	time.Sleep(5 * time.Millisecond)
	synctest.Wait()
}

func (p *plain) rows() []race.LapRow {
	var rows []race.LapRow
	_ = p.c.Look(context.Background(), func(n *race.Night) { rows = n.Laps(n.LastRun(), 1) })
	return rows
}

func TestCounterThatSpeaksOnlyWhenACarPasses(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := meetPlain(t, nil)
		for range 3 {
			time.Sleep(5 * time.Second)
			p.pass(1)
		}
		rows := p.rows()
		if len(rows) != 3 || rows[0].Verdict != race.StartsLap || rows[2].Lap != 2 || rows[2].Time < 5*time.Second || rows[2].Time > 5100*time.Millisecond {
			t.Errorf("rows %+v", rows)
		}
		time.Sleep(10 * time.Second)
		if ph := p.phase(); ph != race.Finish {
			t.Errorf("phase %s: the heat has not been ended by the host's clock", ph)
		}
		p.stop()
	})
}

func TestCounterRestartedInMidHeat(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := meetPlain(t, nil)
		time.Sleep(3 * time.Second)
		p.pass(1)
		time.Sleep(4 * time.Second)
		p.pass(1)
		time.Sleep(time.Second)
		p.start, p.seg = time.Now(), 2
		p.c.Hear(timing.Reset{Source: "c", Segment: 2, Why: "it was switched on", Heard: time.Now()})
		time.Sleep(3 * time.Second)
		p.pass(1)
		time.Sleep(4 * time.Second)
		p.pass(1)
		rows := p.rows()
		if len(rows) != 4 || rows[1].Time == 0 || rows[2].Lap != 2 || rows[2].Time != 0 || rows[3].Lap != 3 || rows[3].Time == 0 {
			t.Errorf("rows %+v: all laps count, the one across the restart has no time", rows)
		}
		time.Sleep(10 * time.Second)
		if ph := p.phase(); ph != race.Finish {
			t.Errorf("phase %s", ph)
		}
		p.stop()
	})
}

func TestPowerThatGoesByItselfHoldsTheClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meet(t, Options{Begin: beginning(nil)}, []time.Duration{3 * time.Second, 0, 0, 0})
		m.do(race.Enter{})
		m.do(race.Enter{})
		m.do(race.Enter{})
		time.Sleep(9 * time.Second)
		// Word from before our order for power: no news.
		m.c.Hear(timing.PowerAck{Source: "c", Lanes: 0, At: m.tr.now() - 20*time.Second, Segment: 1, Heard: time.Now()})
		if ph := m.phase(); ph != race.Green {
			t.Fatalf("phase %s: old word about power has stopped the heat", ph)
		}
		m.c.Hear(timing.PowerAck{Source: "c", Lanes: 0, At: m.tr.now(), Segment: 1, Heard: time.Now()})
		time.Sleep(100 * time.Millisecond)
		if ph := m.phase(); ph != race.TrackCall {
			t.Fatalf("phase %s, want TRACK CALL", ph)
		}
		m.stop()
	})
}

func TestTroubleOnTheLineIsWrittenDown(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meet(t, Options{Begin: beginning(nil)}, nil)
		m.c.Hear(timing.Port{Source: "c", State: timing.Lost, Detail: "unplugged", Heard: time.Now()})
		m.c.Hear(timing.Missing{Source: "c", First: 4, Last: 6, Count: 3, Why: "the counter has forgotten them", Heard: time.Now()})
		m.c.Hear(timing.Damaged{Source: "c", Bytes: 7, Why: "bad check", Heard: time.Now()})
		m.c.Hear(timing.ClockStep{Source: "c", By: time.Hour, Heard: time.Now()})
		m.c.Hear(timing.Drift{Source: "c", PPM: 412, Heard: time.Now()})
		m.c.Hear(timing.Status{Source: "c"})
		time.Sleep(time.Second)
		synctest.Wait()
		s := m.c.Newest()
		if s.Counter.State != "lost" || s.Counter.Missing != 3 || s.Counter.Damaged != 1 {
			t.Errorf("counter %+v", s.Counter)
		}
		var all []string
		for _, n := range s.JustNow {
			all = append(all, n.Text)
		}
		for _, want := range []string{"unplugged", "passes 4 to 6 are lost", "slept", "412 parts per million"} {
			if !strings.Contains(strings.Join(all, "\n"), want) {
				t.Errorf("nothing is said of %q in %q", want, all)
			}
		}
		m.stop()
	})
}

func TestReaderOfEventLinesThatIsGoneDelaysNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		release := make(chan struct{})
		m := meet(t, Options{Begin: beginning(nil), OnDurable: func(uint64, race.Event, []byte) { <-release }}, []time.Duration{time.Second, 0, 0, 0})
		m.do(race.Enter{})
		m.do(race.Enter{})
		m.do(race.Enter{})
		time.Sleep(15 * time.Second)
		synctest.Wait()
		if laps := m.c.Newest().Running[0].Laps; laps < 6 {
			t.Errorf("%d laps: somebody waits for the reader", laps)
		}
		close(release)
		m.stop()
	})
}

func TestStalledDiskDelaysNeitherCountingNorOrders(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := meet(t, Options{Begin: beginning(nil)}, []time.Duration{time.Second, 0, 0, 0})
		m.do(race.Enter{})
		m.do(race.Enter{})
		m.do(race.Enter{})
		time.Sleep(10 * time.Second)
		m.j.mu.Lock()
		m.j.slow = 5 * time.Second
		m.j.mu.Unlock()
		time.Sleep(1100 * time.Millisecond) // a group is on its way to the disk now
		m.tr.mu.Lock()
		id := m.tr.id
		m.tr.mu.Unlock()
		reply := m.c.Do(race.CallTrack{Why: "crash"})
		time.Sleep(50 * time.Millisecond)
		m.tr.mu.Lock()
		cut := m.tr.id > id && m.tr.power == 0
		m.tr.mu.Unlock()
		if !cut {
			t.Error("the track call waits for the disk")
		}
		var phase race.Phase
		_ = m.c.Look(context.Background(), func(n *race.Night) { phase = n.Phase() })
		if phase != race.TrackCall {
			t.Errorf("phase %s while the disk stalls", phase)
		}
		if s := m.c.Newest(); s.Phase != race.Green {
			t.Errorf("%s is shown although it is not on disk", s.Phase)
		}
		if r := <-reply; r.Err != nil {
			t.Error(r.Err)
		}
		m.stop()
	})
}
