package judge

import (
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func seconds(d ...float64) []time.Duration {
	out := make([]time.Duration, len(d))
	for i, x := range d {
		out[i] = time.Duration(x * float64(time.Second))
	}
	return out
}

func TestLabels(t *testing.T) {
	six := Clean{6 * time.Second, 60 * time.Millisecond}
	for _, c := range []struct {
		name string
		at   []time.Duration
		want []Label
	}{
		{"clean laps are good", seconds(0, 6, 12, 18), make([]Label, 4)},
		{"a pass in mid-lap is of nothing", seconds(0, 6, 9.5, 12, 18), []Label{{}, {}, {Mark: Phantom}, {}, {}}},
		{"a pass just after a good one is a bounce", seconds(0, 6, 6.4, 12, 18), []Label{{}, {}, {Mark: Bounce}, {}, {}}},
		{"a lap of two laps' length misses a pass", seconds(0, 6, 18, 24), []Label{{}, {}, {Missed: 1}, {}}},
		{"a lap of three laps' length is left alone: cars leave the track for that long", seconds(0, 6, 24, 30), make([]Label, 4)},
		{"a slow lap is a slow lap", seconds(0, 6, 15, 21), make([]Label, 4)},
		{"nothing is said of one pass", seconds(3), make([]Label, 1)},
		{"nothing is said of none", nil, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := Judge(c.at, six, nil, nil); !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

func TestTrackCallSaysNothing(t *testing.T) {
	six := Clean{6 * time.Second, 60 * time.Millisecond}
	at := seconds(0, 6, 18, 24)
	for i, l := range Judge(at, six, func(i int) bool { return i == 2 }, nil) {
		if l != (Label{}) {
			t.Errorf("pass %d: %v, want good: the track was stopped before it", i, l)
		}
	}
}

func TestLossOnTheLineMakesAMissedPassLikely(t *testing.T) {
	six := Clean{6 * time.Second, 60 * time.Millisecond}
	at := seconds(0, 6, 18.3, 24) // too far from two laps to be believed without more
	lost := func(i int) bool { return i == 2 }
	if got := Judge(at, six, nil, nil)[2]; got.Missed != 0 {
		t.Errorf("without a loss: %+v", got)
	}
	if got := Judge(at, six, nil, lost)[2]; got.Missed != 1 {
		t.Errorf("with a loss: %+v", got)
	}
}

func TestUnknownCleanLapAccusesNobody(t *testing.T) {
	for _, l := range Judge(seconds(0, 6, 6.1, 30), Clean{}, nil, nil) {
		if l != (Label{}) {
			t.Errorf("got %v without a clean lap", l)
		}
	}
	if CleanLap(seconds(6, 6, 6, 6)).Known() {
		t.Error("four intervals are taken to be enough")
	}
}

func TestIdenticalLapsKeepASpread(t *testing.T) {
	c := CleanLap(seconds(6, 6, 6, 6, 6, 6))
	if c.Lap != 6*time.Second || c.Spread != 60*time.Millisecond {
		t.Errorf("got %+v, want 6 s with a spread of 1 %%", c)
	}
}

// slowCostOf finds the least cost by trying every set of good passes.
func slowCostOf(at []time.Duration, clean Clean) float64 {
	n := len(at)
	best := 1e18
	for set := range 1 << (n - 1) {
		good := set<<1 | 1
		cost, last := 0.0, 0
		ok := true
		for i := 1; i < n && ok; i++ {
			if good>>i&1 == 0 {
				cost += phantomCost
				ok = i-last <= dropMost
				continue
			}
			if at[i]-at[last] < clean.Lap/4 {
				ok = false
				break
			}
			c, _ := interval(at[i]-at[last], clean, false)
			cost += c
			last = i
		}
		if ok {
			best = min(best, cost)
		}
	}
	return best
}

func costOf(at []time.Duration, labels []Label, clean Clean) float64 {
	cost, last := 0.0, 0
	for i := 1; i < len(at); i++ {
		if labels[i].Mark != Good {
			cost += phantomCost
			continue
		}
		c, _ := interval(at[i]-at[last], clean, false)
		cost += c
		last = i
	}
	return cost
}

func TestNoLabellingIsCheaper(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		clean := Clean{6 * time.Second, 100 * time.Millisecond}
		n := rapid.IntRange(2, 9).Draw(t, "passes")
		at := make([]time.Duration, n)
		for i := 1; i < n; i++ {
			at[i] = at[i-1] + time.Duration(rapid.IntRange(1000, 14000).Draw(t, "interval"))*time.Millisecond
		}
		labels := Judge(at, clean, nil, nil)
		got, want := costOf(at, labels, clean), slowCostOf(at, clean)
		if got > want+1e-9 {
			t.Fatalf("passes %v: labelling %v costs %v, another costs %v", at, labels, got, want)
		}
	})
}

func FuzzJudge(f *testing.F) {
	f.Add([]byte{10, 10, 10, 3, 7, 20})
	f.Add([]byte{0, 0, 0, 255, 1})
	f.Fuzz(func(t *testing.T, steps []byte) {
		at := []time.Duration{0}
		var d []time.Duration
		for _, s := range steps {
			d = append(d, time.Duration(s)*100*time.Millisecond)
			at = append(at, at[len(at)-1]+d[len(d)-1])
		}
		labels := Judge(at, CleanLap(d), nil, nil)
		if len(labels) != len(at) || labels[0].Mark != Good {
			t.Fatalf("%d labels for %d passes, first %v", len(labels), len(at), labels[0])
		}
	})
}

func BenchmarkJudge(b *testing.B) {
	at := make([]time.Duration, 60)
	for i := range at {
		at[i] = time.Duration(i) * 6 * time.Second
	}
	clean := Clean{6 * time.Second, 60 * time.Millisecond}
	b.ReportAllocs()
	for b.Loop() {
		Judge(at, clean, nil, nil)
	}
}

func TestLate(t *testing.T) {
	six := Clean{6 * time.Second, 60 * time.Millisecond}
	at := seconds(0, 6, 18, 24)
	for _, c := range []struct {
		moment, now float64
		want        bool
	}{{3, 24, false}, {10, 24, true}, {20, 24, false}, {25, 26, false}, {25, 40, true}} {
		if got := Late(at, six, seconds(c.moment)[0], seconds(c.now)[0]); got != c.want {
			t.Errorf("at %v s, now %v s: late %v, want %v", c.moment, c.now, got, c.want)
		}
	}
}
