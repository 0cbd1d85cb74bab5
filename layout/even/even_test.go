package even

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lanewright/layout"
)

func resolve(t testing.TB, kit string, roads int, calls ...string) layout.Track {
	t.Helper()
	var quoted []string
	for _, c := range calls {
		quoted = append(quoted, fmt.Sprintf("%q", c))
	}
	p, err := layout.ReadPlan("test.toml", []byte(fmt.Sprintf("name = \"test\"\nkit = %q\nroads = %d\ncourse = [%s]\n", kit, roads, strings.Join(quoted, ", "))))
	if err != nil {
		t.Fatal(err)
	}
	k, ok := layout.BuiltinKit(p.Kit)
	if !ok {
		t.Fatalf("no kit %q", p.Kit)
	}
	track, _ := layout.Resolve(p, k)
	return track
}

// shift is a crossing of Module 90: two equal tangent arcs that move a car 84 mm over 360 mm.
var shift = (360.0*360 + 84*84) / 84 * math.Atan2(84, 360)

// An oval with one crossing on each straight: each lane drives one half turn of radius 228 and one of 312, all other
// things equal: 1800 - 720 + 2 crossings + 540 pi.
func TestOvalIsEvenedOutByACrossingOnEachStraight(t *testing.T) {
	track := resolve(t, "module 90", 1, "timing", "straight 2", "left 180 ring 1", "straight 2, half", "left 180 ring 1")
	res, err := Crossings(track, Options{Crossings: 2})
	if err != nil {
		t.Fatal(err)
	}
	if !res.Exhaustive || len(res.Proposals) != 1 || res.Sites != 2 {
		t.Fatalf("result %+v", res)
	}
	if math.Abs(res.Before.SpreadMM-168*math.Pi) > 1e-6 {
		t.Errorf("spread before %.6f, want 168 pi", res.Before.SpreadMM)
	}
	p := res.Proposals[0]
	want := 1800 - 720 + 2*shift + 540*math.Pi
	for _, l := range p.After.LanesMM {
		if math.Abs(l-want) > 1e-6 {
			t.Errorf("lanes %v afterwards, want both %.6f", p.After.LanesMM, want)
		}
	}
	if len(p.Places) != 2 || p.Places[0].Call != 2 || p.Places[1].Call != 4 {
		t.Errorf("places %v", p.Places)
	}
	// One crossing alone would join the lanes into one slot: never proposed.
	if res, _ = Crossings(track, Options{Crossings: 1}); len(res.Proposals) != 0 {
		t.Errorf("with one crossing: %+v", res.Proposals)
	}
}

// heron is a figure-eight of two loops of 270 degrees, ring 2, each climbing or falling by 90 mm, with what stands
// before and after the second loop.
func heron(t testing.TB, first, second, third string) layout.Track {
	return resolve(t, "module 90", 1, "timing", "half, quarter", "left 270 ring 2 rise 90", first, "quarter 2 bridge", second, "right 270 ring 2 fall 90", third, "quarter")
}

// The lengths were computed by a separate program from arcs of radius 408 and 492 over 30 degrees rising 10 mm each.
func TestFigureEightIsEvenAndCanBeSpoilt(t *testing.T) {
	for _, w := range []struct {
		calls  [3]string
		lanes  []float64
		spoils bool
	}{
		{[3]string{"straight", "straight", "straight"}, []float64{6045.001557157, 6045.001557157}, false},
		{[3]string{"crossing", "crossing", "straight"}, []float64{6070.856773203, 6070.856773203}, false},
		{[3]string{"crossing", "straight", "straight"}, []float64{5662.447635663, 6453.410694697}, true},
		{[3]string{"crossing", "straight", "crossing"}, []float64{5675.375243686, 6466.338302719}, true},
	} {
		track := heron(t, w.calls[0], w.calls[1], w.calls[2])
		for i, want := range w.lanes {
			if math.Abs(track.Lanes[i].LengthMM-want) > 1e-6 {
				t.Errorf("%v: lane %d is %.9f, want %.9f", w.calls, i+1, track.Lanes[i].LengthMM, want)
			}
		}
		fs := Spoilers(track)
		if got := len(fs) > 0; got != w.spoils {
			t.Errorf("%v: findings %v, want some: %v", w.calls, fs, w.spoils)
		}
		for _, f := range fs {
			if f.Code != CodeSpoils || f.Call == 0 || f.Way == "" {
				t.Errorf("finding %+v", f)
			}
		}
		if w.spoils {
			continue
		}
		res, err := Crossings(track, Options{Crossings: 3})
		if err != nil || len(res.Proposals) != 0 {
			t.Errorf("%v: %v, proposals %+v for lanes that are even", w.calls, err, res.Proposals)
		}
	}
}

// What a proposal promises is what the engine says of the plan with the crossings laid.
func TestProposalsKeepTheirPromise(t *testing.T) {
	pool := []string{"straight", "straight", "half", "half", "quarter", "left 60 ring 1", "right 30 ring 2", "left 90 ring 2", "crossing", "changer both"}
	rapid.Check(t, func(rt *rapid.T) {
		roads := rapid.IntRange(1, 2).Draw(rt, "roads")
		calls := []string{"timing"}
		for range rapid.IntRange(4, 16).Draw(rt, "calls") {
			c := rapid.SampledFrom(pool).Draw(rt, "call")
			if roads > 1 && (c == "crossing" || c == "changer both") {
				c += fmt.Sprintf(" road %d", rapid.IntRange(1, 2).Draw(rt, "road"))
			}
			calls = append(calls, c)
		}
		track := resolve(t, "module 90", roads, calls...)
		for i := range track.Joins {
			track.Joins[i].Into = track.Joins[i].Road
		}
		res, err := Crossings(track, Options{Crossings: rapid.IntRange(1, 3).Draw(rt, "crossings")})
		if err != nil {
			rt.Fatal(err)
		}
		for i, l := range track.Lanes {
			if math.Abs(res.Before.LanesMM[i]-l.LengthMM) > 1e-6 {
				rt.Fatalf("lane %d before: %.9f, the track says %.9f", i+1, res.Before.LanesMM[i], l.LengthMM)
			}
		}
		for _, p := range res.Proposals {
			if p.After.Joined > res.Before.Joined || p.After.Joined == res.Before.Joined && p.After.RMSMM >= res.Before.RMSMM {
				rt.Fatalf("proposal %+v is no better than %+v", p, res.Before)
			}
			// Beside another road's crossing the call would have to list both roads; that is left to the people at the table.
			if slices.ContainsFunc(p.Places, func(pl Place) bool { return strings.Contains(calls[pl.Call-1], "road") }) {
				continue
			}
			changed := slices.Clone(calls)
			for _, pl := range p.Places {
				if old := changed[pl.Call-1]; strings.HasPrefix(old, "crossing") {
					changed[pl.Call-1] = "crossing" // on the other road already: now on both
				} else {
					changed[pl.Call-1] = pl.With
				}
				for k := 1; k < pl.Pieces; k++ {
					changed[pl.Call-1+k] = ""
				}
			}
			changed = slices.DeleteFunc(changed, func(s string) bool { return s == "" })
			again := resolve(t, "module 90", roads, changed...)
			for i, l := range again.Lanes {
				if math.Abs(p.After.LanesMM[i]-l.LengthMM) > 1e-6 {
					rt.Fatalf("%v: lane %d promised %.9f, is %.9f with %q", p.Places, i+1, p.After.LanesMM[i], l.LengthMM, changed)
				}
			}
		}
	})
}

// Growing sets two at a time finds what trying all of them finds, on the example of four lanes.
func TestGrowingAgreesWithTryingAll(t *testing.T) {
	data, _ := layout.Example("saltmarsh four")
	p, err := layout.ReadPlan("saltmarsh", data)
	if err != nil {
		t.Fatal(err)
	}
	k, _ := layout.BuiltinKit(p.Kit)
	track, _ := layout.Resolve(p, k)
	var best [2]choice
	for i := range best {
		e, err := newEvener(track, Options{})
		if err != nil {
			t.Fatal(err)
		}
		e.most, e.before = 5, e.state(nil)
		if i == 0 {
			e.all(4)
		} else {
			e.grow(4)
		}
		if len(e.best) == 0 {
			t.Fatal("nothing found")
		}
		best[i] = e.best[0]
	}
	if best[0].joined != best[1].joined || math.Abs(best[0].rms-best[1].rms) > sameMM {
		t.Errorf("trying all gives %+v, growing %+v", best[0], best[1])
	}
}

func TestRoutedTrackOfSixLanes(t *testing.T) {
	track := resolve(t, "routed 100", 1, "timing 300 at 150", "straight 900", "left 210 radius 900", "right 60 radius 1500", "left 210 radius 900", "straight 1200")
	if _, err := Crossings(track, Options{Crossings: 2}); !errors.Is(err, ErrCannot) {
		t.Errorf("error %v without a length", err)
	}
	res, err := Crossings(track, Options{Crossings: 2, LengthMM: 400})
	if err != nil {
		t.Fatal(err)
	}
	if res.Sites != 25 { // five pairs of neighbours; room for two crossings on one straight, for three on the other
		t.Errorf("%d sites, want 25", res.Sites)
	}
	for _, p := range res.Proposals {
		if p.After.Joined > 0 {
			t.Errorf("proposal joins lanes: %+v", p)
		}
	}
}

// On a routed track several crossings fit into one straight; what is promised of them is what the engine says of the plan so changed.
func TestRoutedProposalsKeepTheirPromise(t *testing.T) {
	stacked := false
	rapid.Check(t, func(rt *rapid.T) {
		calls := []string{"timing 300 at 150", "straight 900", "left 210 radius 900", "right 60 radius 1500", "left 210 radius 900", "straight 1200"}
		calls[1] = fmt.Sprintf("straight %d", rapid.IntRange(200, 1300).Draw(rt, "first"))
		calls[5] = fmt.Sprintf("straight %d", rapid.IntRange(200, 1300).Draw(rt, "second"))
		track := resolve(t, "routed 100", 1, calls...)
		o := Options{Crossings: rapid.IntRange(1, 4).Draw(rt, "crossings"), LengthMM: float64(rapid.IntRange(200, 600).Draw(rt, "length"))}
		res, err := Crossings(track, o)
		if err != nil {
			rt.Fatal(err)
		}
		for _, p := range res.Proposals {
			changed, used := slices.Clone(calls), 0
			for _, pl := range p.Places {
				changed[pl.Call-1] = pl.With
				n := strings.Count(pl.With, "crossing")
				used, stacked = used+n, stacked || n > 1
			}
			if used > o.Crossings {
				rt.Fatalf("%v takes %d crossings of %d", p.Places, used, o.Crossings)
			}
			again := resolve(t, "routed 100", 1, changed...)
			if len(again.Lanes) != 6 || again.Joins[0].GapMM != track.Joins[0].GapMM {
				rt.Fatalf("%q does not lie as %q did", changed, calls)
			}
			for i, l := range again.Lanes {
				if math.Abs(p.After.LanesMM[i]-l.LengthMM) > 1e-6 {
					rt.Fatalf("%v: lane %d promised %.9f, is %.9f with %q", p.Places, i+1, p.After.LanesMM[i], l.LengthMM, changed)
				}
			}
		}
	})
	if !stacked {
		t.Error("no proposal put two crossings into one straight")
	}
}

func TestCannot(t *testing.T) {
	for name, track := range map[string]layout.Track{"empty": {}, "kit without crossings": {Roads: make([]layout.Road, 1)},
		"roads run together": {Roads: make([]layout.Road, 2), Joins: []layout.Join{{Road: 1, Into: 2}, {Road: 2, Into: 1}}}} {
		if _, err := Crossings(track, Options{}); !errors.Is(err, ErrCannot) {
			t.Errorf("%s: error %v", name, err)
		}
		if fs := Spoilers(track); len(fs) > 0 {
			t.Errorf("%s: %v", name, fs)
		}
	}
}

func BenchmarkFourCrossings(b *testing.B) {
	data, _ := layout.Example("saltmarsh four")
	p, err := layout.ReadPlan("saltmarsh", data)
	if err != nil {
		b.Fatal(err)
	}
	k, _ := layout.BuiltinKit(p.Kit)
	track, _ := layout.Resolve(p, k)
	b.ReportAllocs()
	tried := int64(0)
	for b.Loop() {
		res, err := Crossings(track, Options{Crossings: 4})
		if err != nil {
			b.Fatal(err)
		}
		tried += res.Tried
	}
	b.ReportMetric(float64(tried)/float64(b.N), "sets/op")
}
