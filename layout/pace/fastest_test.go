package pace

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"lanewright/layout"
	"lanewright/layout/route"
)

// plan resolves a course of Module 90.
func plan(t testing.TB, calls ...string) layout.Track {
	t.Helper()
	var quoted []string
	for _, c := range calls {
		quoted = append(quoted, fmt.Sprintf("%q", c))
	}
	p, err := layout.ReadPlan("test.toml", []byte(fmt.Sprintf("name = \"test\"\nkit = \"module 90\"\nroads = 1\ncourse = [%s]\n", strings.Join(quoted, ", "))))
	if err != nil {
		t.Fatal(err)
	}
	k, _ := layout.BuiltinKit(p.Kit)
	track, _ := layout.Resolve(p, k)
	return track
}

// On the digital Millpond Oval changing lanes never pays: the quickest laps are those of the oval without changers,
// 1.90083 and 1.99917 s.
func TestMillpondIsQuickestWithoutChanges(t *testing.T) {
	closed, best, err := Fastest(example(t, "millpond digital"), builtin[0], FastOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(closed) != 2 {
		t.Fatalf("%d lanes, want 2", len(closed))
	}
	for i, want := range []float64{1.90083, 1.99917} {
		if math.Abs(closed[i].Par.LapsS[0]-want) > 1.1e-5 || len(closed[i].Laps[0]) != 0 || closed[i].GainS != 0 {
			t.Errorf("lane %d: %.6f s with %v, want %.5f without changes", i+1, closed[i].Par.LapsS[0], closed[i].Laps, want)
		}
	}
	if math.Abs(best.Par.MeanS-1.90083) > 1.1e-5 {
		t.Errorf("best of all %.6f, want lane 1's", best.Par.MeanS)
	}
}

// quickestOfAll drives every closed lap of a lane exactly.
func quickestOfAll(t *testing.T, g route.Graph, lane int, c Car) float64 {
	t.Helper()
	best := math.Inf(1)
	for _, lap := range g.KShortest(lane, lane, 5000) {
		r, err := RouteRibbon(g, []int{lane}, [][]route.Turn{lap.Turns})
		if err != nil {
			t.Fatal(err)
		}
		p, err := DrivePar(r, c, false)
		if err != nil {
			t.Fatal(err)
		}
		best = min(best, p.MeanS)
	}
	return best
}

// On small layouts every closed lap can be driven: the search must not be slower by more than its grid tells apart.
func TestFastestAgreesWithDrivingEveryLap(t *testing.T) {
	parts := []string{"straight", "straight", "half", "left 60 ring 1", "left 90 ring 2", "right 60 ring 2", "right 30 ring 1",
		"changer both", "changer left", "changer right", "crossing"}
	changed, worst := 0, 0.0
	seeds, atLeast := uint64(25), 5
	if testing.Short() {
		seeds, atLeast = 8, 1
	}
	for seed := range seeds {
		rng := rand.New(rand.NewPCG(seed, 7))
		calls := []string{"timing"}
		for range 6 + rng.IntN(8) {
			calls = append(calls, parts[rng.IntN(len(parts))])
		}
		track := plan(t, append(calls, "changer both")...)
		c := builtin[seed%2]
		closed, best, err := Fastest(track, c, FastOptions{})
		if err != nil {
			if errors.Is(err, ErrNoRoute) {
				continue
			}
			t.Fatal(err)
		}
		g := graph(t, track)
		for _, f := range closed {
			want := quickestOfAll(t, g, f.Lanes[0], c)
			if f.Par.MeanS > want+0.003 {
				t.Errorf("seed %d, %q: lane %d takes %.6f s, the quickest lap %.6f", seed, calls, f.Lanes[0], f.Par.MeanS, want)
			}
			if f.Par.MeanS < want-1e-9 {
				t.Errorf("seed %d: lane %d is quicker than every lap", seed, f.Lanes[0])
			}
			if best.Par.MeanS > f.Par.MeanS+1e-9 {
				t.Errorf("seed %d: the best of all is slower than lane %d", seed, f.Lanes[0])
			}
			if len(f.Laps[0]) > 0 {
				changed++
			}
			// The dynamic programming by itself, without trying short laps.
			s := sprint{graph: g, car: c, levels: levelsUsual}
			if err := s.prepare(track.Lanes); err != nil {
				t.Fatal(err)
			}
			if alone, ok := s.closed(f.Lanes[0], len(track.Lanes)); !ok || alone.Par.MeanS > want+0.006 {
				t.Errorf("seed %d, %q: lane %d takes %.6f s by dynamic programming alone, the quickest lap %.6f", seed, calls, f.Lanes[0], alone.Par.MeanS, want)
			} else {
				worst = max(worst, alone.Par.MeanS-want)
			}
		}
	}
	t.Logf("by dynamic programming alone at most %.6f s slower", worst)
	if changed < atLeast {
		t.Errorf("changes paid %d times, too seldom to say anything", changed)
	}
}

// A changer before the only bend and none behind it: a car can go in but not come back, so the best steady state over
// all lanes is the inner lane, whatever lane it starts in; with a crossing behind, lanes alternate.
func TestBestOfAllMayNeedSeveralLaps(t *testing.T) {
	track := plan(t, "timing", "straight 2", "left 180 ring 1", "crossing", "straight", "half", "left 180 ring 1")
	closed, best, err := Fastest(track, builtin[0], FastOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(closed) != 0 || len(best.Lanes) != 2 {
		t.Fatalf("%d closed laps and a best of %d laps, want none and 2", len(closed), len(best.Lanes))
	}
	pars, err := Lanes(track, builtin[0], false)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean of the joined slot", best.Par.MeanS, pars[0].MeanS, 1e-9)
}

func BenchmarkFastest(b *testing.B) {
	calls := []string{"timing"}
	for range 6 {
		calls = append(calls, "changer both", "straight 3", "left 60 ring 1", "changer left", "right 60 ring 1", "changer right", "half", "changer both", "left 60 ring 2")
	}
	track := plan(b, calls...)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := Fastest(track, builtin[0], FastOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
