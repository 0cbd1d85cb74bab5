package route

import (
	"errors"
	"math"
	"math/big"
	"slices"
	"testing"

	"lanewright/layout"

	"pgregory.net/rapid"
)

// random draws a small road of straights, crossings and changers.
func random(t *rapid.T) layout.Track {
	lanes := rapid.IntRange(1, 4).Draw(t, "lanes")
	var b build
	b.start(180, 90, lanes)
	for range rapid.IntRange(1, 6).Draw(t, "pieces") {
		// Few different lengths, so that ties happen.
		stay := make([]float64, lanes)
		for i := range stay {
			stay[i] = float64(rapid.IntRange(1, 4).Draw(t, "length")) * 90.1
		}
		strands := both(stay...)
		if lanes > 1 && rapid.Bool().Draw(t, "crossing") {
			i := rapid.IntRange(0, lanes-2).Draw(t, "left lane of the crossing")
			strands[i].To, strands[i+1].To = strands[i+1].To, strands[i].To
		}
		var changes []layout.Strand
		for range rapid.IntRange(0, 2).Draw(t, "changes") {
			from, to := rapid.IntRange(1, lanes).Draw(t, "from"), rapid.IntRange(1, lanes).Draw(t, "to")
			if slices.ContainsFunc(changes, func(s layout.Strand) bool { return s.From == from && s.To == to }) {
				continue // a piece has one way from a position to another
			}
			changes = append(changes, layout.Strand{From: from, To: to, LengthMM: 90.1 * float64(rapid.IntRange(1, 4).Draw(t, "way"))})
		}
		b.piece("piece", layout.KindChanger, strands, changes...)
	}
	return b.track()
}

// walk lists the length of every lap from position p by trying everything.
func walk(pieces []layout.Placed, i, p int, soFar float64, visit func(end int, mm float64)) {
	if i == len(pieces) {
		visit(p, soFar+90)
		return
	}
	for _, ss := range [][]layout.Strand{pieces[i].Stay, pieces[i].Change} {
		for _, s := range ss {
			if s.From == p {
				walk(pieces, i+1, s.To, soFar+s.LengthMM, visit)
			}
		}
	}
}

func TestAgreesWithTryingEverything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		track := random(t)
		g, err := New(track)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range track.Lanes {
			byEnd := map[int][]float64{}
			var all []float64
			walk(track.Roads[0].Pieces[1:], 0, l.Number, 90, func(end int, mm float64) {
				byEnd[end] = append(byEnd[end], mm)
				all = append(all, mm)
			})
			for end := 0; end <= len(track.Lanes); end++ {
				want := byEnd[end]
				if end == 0 {
					want = all
				}
				slices.Sort(want)
				if n := g.Count(l.Number, end); n.Cmp(big.NewInt(int64(len(want)))) != 0 {
					t.Fatalf("%d>%d: %v laps, want %d", l.Number, end, n, len(want))
				}
				k := rapid.IntRange(1, 12).Draw(t, "k")
				same(t, g.KShortest(l.Number, end, k), want[:min(k, len(want))])
				slices.Reverse(want)
				same(t, g.KLongest(l.Number, end, k), want[:min(k, len(want))])
			}
		}
	})
}

func same(t *rapid.T, got []Lap, want []float64) {
	if len(got) != len(want) {
		t.Fatalf("%d laps, want %d", len(got), len(want))
	}
	for i := range got {
		if math.Abs(got[i].LengthMM-want[i]) > 1e-7 {
			t.Fatalf("lap %d measures %.9f, want %.9f", i, got[i].LengthMM, want[i])
		}
	}
}

// Every simple cycle of the lane matrix, by trying all sequences of different lanes.
func TestSteadyAgreesWithTryingEveryCycle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		track := random(t)
		g, err := New(track)
		if err != nil {
			t.Fatal(err)
		}
		n := len(track.Lanes)
		low, high := math.Inf(1), math.Inf(-1)
		var extend func(path []int, short, long float64)
		extend = func(path []int, short, long float64) {
			u := path[len(path)-1]
			for v := 1; v <= n; v++ {
				s, ok := g.Shortest(u, v)
				if !ok {
					continue
				}
				l, _ := g.Longest(u, v)
				if v == path[0] {
					low = min(low, (short+s.LengthMM)/float64(len(path)))
					high = max(high, (long+l.LengthMM)/float64(len(path)))
				} else if !slices.Contains(path, v) {
					extend(append(slices.Clone(path), v), short+s.LengthMM, long+l.LengthMM)
				}
			}
		}
		for v := 1; v <= n; v++ {
			extend([]int{v}, 0, 0)
		}
		best, worst, ok := g.Steady()
		if !ok {
			t.Fatal("no cycle")
		}
		if math.Abs(best.MeanMM-low) > 1e-7 || math.Abs(worst.MeanMM-high) > 1e-7 {
			t.Fatalf("steady %.9f to %.9f, want %.9f to %.9f", best.MeanMM, worst.MeanMM, low, high)
		}
		if len(best.Lanes) != len(best.LapsMM) || len(best.Lanes) > n {
			t.Fatalf("cycle %+v", best)
		}
	})
}

func TestCountsBeyond64Bits(t *testing.T) {
	var b build
	b.start(180, 90, 2)
	for range 100 {
		b.piece("changer both", layout.KindChanger, both(360, 360), change(1, 2), change(2, 1))
	}
	g, err := New(b.track())
	if err != nil {
		t.Fatal(err)
	}
	// From each lane every changer doubles the ways: 2^100, half of them ending in each lane.
	if want := new(big.Int).Lsh(big.NewInt(1), 100); g.Count(1, 0).Cmp(want) != 0 {
		t.Errorf("%v laps, want %v", g.Count(1, 0), want)
	}
	if want := new(big.Int).Lsh(big.NewInt(1), 99); g.Count(1, 2).Cmp(want) != 0 {
		t.Errorf("%v laps from 1 to 2, want %v", g.Count(1, 2), want)
	}
	if got := len(g.KShortest(1, 1, 50)); got != 50 {
		t.Errorf("%d laps, want 50", got)
	}
}

// Two roads that run into each other: a lap on road 1 ends on road 2, and only two laps together come back.
func TestRoadsThatRunIntoEachOther(t *testing.T) {
	var a, b build
	a.start(100, 40, 1)
	a.piece("straight", layout.KindStraight, both(1000))
	b.start(100, 60, 1)
	b.piece("straight", layout.KindStraight, both(500))
	one, two := a.track(), b.track()
	two.Roads[0].Number = 2
	two.Lanes[0] = layout.Lane{Number: 2, At: layout.LaneRef{Road: 2, Position: 1}}
	t1 := layout.Track{Roads: []layout.Road{one.Roads[0], two.Roads[0]}, Lanes: append(one.Lanes, two.Lanes...),
		Joins: []layout.Join{{Road: 1, Into: 2}, {Road: 2, Into: 1}}}
	g, err := New(t1)
	if err != nil {
		t.Fatal(err)
	}
	l, _ := g.Shortest(1, 0)
	if l.End != 2 || l.LengthMM != 60+1000+60 {
		t.Errorf("lap %+v, want 1120 mm into lane 2", l)
	}
	best, _, ok := g.Steady()
	if !ok || len(best.Lanes) != 2 || math.Abs(best.LengthMM-1700) > 1e-9 {
		t.Errorf("steady %+v, want two laps of 1700 mm together", best)
	}
}

func TestTracksWithoutALap(t *testing.T) {
	bad := millpond()
	bad.Roads[0].Pieces[3].Stay[0].LengthMM = math.NaN()
	for name, track := range map[string]layout.Track{"empty": {}, "not a number": bad, "lane on no road": {Lanes: []layout.Lane{{Number: 1, At: layout.LaneRef{Road: 9, Position: 3}}}}} {
		if _, err := New(track); !errors.Is(err, ErrNoLap) {
			t.Errorf("%s: error %v, want ErrNoLap", name, err)
		}
	}
	// Without a timing line laps count from the first piece and measure the same.
	lineless := millpond()
	lineless.Roads[0].Pieces[0].Sensors = nil
	g, err := New(lineless)
	if err != nil {
		t.Fatal(err)
	}
	if lap, _ := g.Shortest(1, 1); math.Abs(lap.LengthMM-3232.566250) > 1e-6 {
		t.Errorf("lap %v without a timing line, want 3232.566250", lap.LengthMM)
	}
	if laps := g.KShortest(7, 0, 3); laps != nil {
		t.Errorf("laps %v from a lane that does not exist", laps)
	}
}

// crowded has 24 changers on four lanes and 200 pieces.
func crowded() layout.Track {
	var b build
	b.start(180, 90, 4)
	for i := range 199 {
		if i%8 == 0 && i/8 < 24 {
			b.piece("changer both", layout.KindChanger, both(360, 360, 360, 360), change(1, 2), change(2, 1), change(3, 4), change(4, 3))
		} else {
			b.piece("left 60 ring 1", layout.KindCurve, both(238, 326, 427, 515))
		}
	}
	return b.track()
}

func BenchmarkRoutes24Changers(b *testing.B) {
	track := crowded()
	b.ReportAllocs()
	for b.Loop() {
		g, err := New(track)
		if err != nil {
			b.Fatal(err)
		}
		g.Pairs()
		g.Gains()
		g.Steady()
		for lane := 1; lane <= 4; lane++ {
			g.KShortest(lane, 0, 10)
		}
	}
}
