package listen

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"lanewright/timing"
	"lanewright/timing/bench"
	"lanewright/timing/port"
)

// steady: lane n takes 3+n seconds a lap, half a second from the grid.
func steady(_, lane, lap int) time.Duration {
	if lap == 0 {
		return 500 * time.Millisecond
	}
	return time.Duration(3+lane) * time.Second
}

// night listens to a bench counter inside a synctest bubble.
func night(t *testing.T, c bench.Config, lc Config, f func(k *bench.Counter, s *Source)) {
	synctest.Test(t, func(t *testing.T) {
		k := bench.New(c)
		lc.Port = port.Config{Name: "bench", Dial: k.Dial}
		lc.Speed = c.Speed
		s, err := Listen(context.Background(), lc)
		if err != nil {
			t.Fatal(err)
		}
		f(k, s)
		s.Close()
		if _, more := <-s.Messages(); more {
			t.Error("a message after Close")
		}
	})
}

// until reads messages until stop says so; it fails the test after an hour of
// the bubble's time.
func until(t *testing.T, s *Source, stop func(m timing.Message) bool) (all []timing.Message) {
	t.Helper()
	limit := time.After(time.Hour)
	for {
		select {
		case m, ok := <-s.Messages():
			if !ok {
				t.Fatal("the source ended")
			}
			all = append(all, m)
			if stop(m) {
				return all
			}
		case <-limit:
			t.Fatalf("waited an hour; heard %d messages, the last %+v", len(all), all[max(0, len(all)-3):])
		}
	}
}

func isBeatAfter(at time.Duration) func(timing.Message) bool {
	return func(m timing.Message) bool {
		b, ok := m.(timing.Beat)
		return ok && b.At >= at
	}
}

// start switches power on, gives the start and returns its time.
func start(t *testing.T, s *Source, lanes uint32) (goAt time.Duration) {
	t.Helper()
	id, err := s.Power(lanes)
	if err != nil {
		t.Fatal(err)
	}
	until(t, s, func(m timing.Message) bool { a, ok := m.(timing.PowerAck); return ok && a.ID == id })
	if id, err = s.Lamps(0, timing.Start); err != nil {
		t.Fatal(err)
	}
	until(t, s, func(m timing.Message) bool {
		a, ok := m.(timing.LampAck)
		if ok && a.ID == id {
			goAt = a.At
		}
		return ok && a.ID == id
	})
	return goAt
}

func passes(all []timing.Message) (p []timing.Pass) {
	for _, m := range all {
		if m, ok := m.(timing.Pass); ok {
			p = append(p, m)
		}
	}
	return p
}

func TestAHeat(t *testing.T) {
	night(t, bench.Config{Lanes: 2, Rate: 1000, Boot: 3, Start: 4294967000, Laps: steady}, Config{}, func(k *bench.Counter, s *Source) {
		until(t, s, isBeatAfter(0))
		if st := s.State(); st != timing.Talking {
			t.Errorf("state %v", st)
		}
		goAt := start(t, s, 3)
		end := goAt + 20*time.Second
		id, err := s.PowerAt(0, end)
		if err != nil {
			t.Fatal(err)
		}
		all := until(t, s, isBeatAfter(end))
		var got []string
		for _, m := range all {
			switch m := m.(type) {
			case timing.Pass:
				got = append(got, fmt.Sprintf("%d lane %d %v", m.Serial, m.Lane, m.At-goAt))
				if m.Segment != 1 || !m.Timed || m.Boot != 3 || m.Source != "counter" || m.Sensor != 1 || m.Again {
					t.Errorf("%+v", m)
				}
			case timing.PowerAck:
				got = append(got, fmt.Sprintf("power %v %v %v", m.ID == id, m.Lanes, m.At-goAt))
			case timing.Beat:
			default:
				t.Errorf("unexpected %#v", m)
			}
		}
		// By hand: lane 1 crosses after 0.5 s and every 4 s, lane 2 after 0.5 s and every 5 s.
		want := []string{"1 lane 1 500ms", "2 lane 2 500ms", "3 lane 1 4.5s", "4 lane 2 5.5s", "5 lane 1 8.5s", "6 lane 2 10.5s",
			"7 lane 1 12.5s", "8 lane 2 15.5s", "9 lane 1 16.5s", "power true 0 20s"}
		if !slices.Equal(got, want) {
			t.Errorf("got  %q\nwant %q", got, want)
		}
		if st, ok := s.Status(); !ok || st.Lanes != 2 || st.RateNum != 1000 || st.Ring != 256 {
			t.Errorf("status %+v", st)
		}
		if at, seg, ok := s.CounterTime(time.Now()); !ok || seg != 1 || at < end || at > end+2*time.Second {
			t.Errorf("counter time %v, end %v", at, end)
		}
	})
}

// TestAnySpeed: a heat gives the same passes at any speed of the simulated clock.
func TestAnySpeed(t *testing.T) {
	var want []string
	for _, speed := range []float64{1, 60, 1000} {
		night(t, bench.Config{Boot: 1, Speed: speed}, Config{}, func(k *bench.Counter, s *Source) {
			until(t, s, isBeatAfter(0))
			var got []string
			for range 3 { // heats
				goAt := start(t, s, 15)
				end := goAt + 60*time.Second
				if _, err := s.PowerAt(0, end); err != nil {
					t.Fatal(err)
				}
				for _, p := range passes(until(t, s, isBeatAfter(end))) {
					got = append(got, fmt.Sprintf("%d lane %d %v", p.Serial, p.Lane, p.At-goAt))
				}
			}
			if want == nil {
				want = got
			}
			if !slices.Equal(got, want) || len(got) < 90 {
				t.Errorf("at speed %v\n%q\nwant\n%q", speed, got, want)
			}
		})
	}
}

// compare checks that what was heard is what was made, in order and each once.
func compare(t *testing.T, made []bench.Pass, heard []timing.Pass) {
	t.Helper()
	for i, p := range heard {
		if p.Serial != uint64(i+1) {
			t.Fatalf("pass %d heard has number %d", i+1, p.Serial)
		}
		if i >= len(made) {
			t.Fatalf("%d passes heard, %d made", len(heard), len(made))
		}
		if m := made[i]; int(p.Lane) != m.Lane || p.Ticks != m.Ticks&(1<<32-1) {
			t.Fatalf("heard %+v, made %+v", p, m)
		}
	}
}

// TestBadLine: sentences dropped, changed and mixed with noise are asked for
// again until all are there.
func TestBadLine(t *testing.T) {
	for seed := range uint64(20) {
		night(t, bench.Config{Boot: 1, Seed: seed, Laps: steady, Faults: bench.Faults{Drop: 0.2, Garble: 0.2, Noise: 0.2}}, Config{}, func(k *bench.Counter, s *Source) {
			until(t, s, isBeatAfter(0))
			goAt := start(t, s, 15)
			end := goAt + 100*time.Second
			all := until(t, s, isBeatAfter(end))
			got := passes(all)
			again := 0
			for _, p := range got {
				if p.Again {
					again++
				}
			}
			for _, m := range all {
				if m, ok := m.(timing.Missing); ok {
					t.Errorf("seed %d: %+v", seed, m)
				}
			}
			compare(t, k.Made(), got)
			// Lap 0 and every 4, 5, 6, 7 s up to 100 s: 25+20+17+15.
			if len(got) < 77 || again == 0 {
				t.Errorf("seed %d: %d passes heard, %d of them on request", seed, len(got), again)
			}
		})
	}
}
