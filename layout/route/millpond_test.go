package route

import (
	"math"
	"testing"

	"lanewright/layout"
)

// build makes a two-lane road of plain pieces by hand, so that these tests stand on nothing but the track's own fields.
type build struct{ road layout.Road }

func (b *build) piece(name string, kind layout.Kind, stay []layout.Strand, change ...layout.Strand) {
	n := len(b.road.Pieces) + 1
	b.road.Pieces = append(b.road.Pieces, layout.Placed{Index: n, Call: n, Road: 1, Piece: name, Kind: kind, Stay: stay, Change: change})
	b.road.Positions = max(b.road.Positions, len(stay))
}

func both(mm ...float64) []layout.Strand {
	var out []layout.Strand
	for i, l := range mm {
		out = append(out, layout.Strand{From: i + 1, To: i + 1, LengthMM: l})
	}
	return out
}

func (b *build) start(mm, lineMM float64, lanes int) {
	ls := make([]float64, lanes)
	at := make([]float64, lanes)
	for i := range ls {
		ls[i], at[i] = mm, lineMM
	}
	b.piece("start", layout.KindTiming, both(ls...))
	b.road.Pieces[len(b.road.Pieces)-1].Sensors = []layout.Sensor{{Number: 1, Name: "timing", AtMM: at}}
}

func (b *build) track() layout.Track {
	b.road.Number = 1
	t := layout.Track{Roads: []layout.Road{b.road}}
	for p := 1; p <= b.road.Positions; p++ {
		t.Lanes = append(t.Lanes, layout.Lane{Number: p, At: layout.LaneRef{Road: 1, Position: p}})
	}
	return t
}

// shiftMM is the way through two equal tangent arcs that move a car 84 mm sideways over 360 mm: (L^2+d^2)/d * atan(d/L).
var shiftMM = (360.0*360 + 84*84) / 84 * math.Atan2(84, 360)

func change(from, to int) layout.Strand {
	return layout.Strand{From: from, To: to, LengthMM: shiftMM}
}

// millpond is the Millpond Oval with changers: start, changer both, straight; half turn left; changer left, changer
// right, straight half; half turn left. Ring 1 has radius 270, the lanes lie 42 mm on either side.
func millpond() layout.Track {
	var b build
	bend := func() {
		for range 3 {
			b.piece("left 60 ring 1", layout.KindCurve, both((270-42)*math.Pi/3, (270+42)*math.Pi/3))
		}
	}
	b.start(180, 90, 2)
	b.piece("changer both", layout.KindChanger, both(360, 360), change(1, 2), change(2, 1))
	b.piece("straight", layout.KindStraight, both(360, 360))
	bend()
	b.piece("changer left", layout.KindChanger, both(360, 360), change(2, 1))
	b.piece("changer right", layout.KindChanger, both(360, 360), change(1, 2))
	b.piece("straight half", layout.KindStraight, both(180, 180))
	bend()
	return b.track()
}

// The figures below were found by hand. Let a = 456 pi + 1800 = 3232.566250 and b = 624 pi + 1800 = 3760.353816 be the
// laps of lanes 1 and 2, h = 228 pi and H = 312 pi their half turns, x = 12.927608 the extra way of one change.
//
// From 1, ending in 1: stay (a), or change right at the first changer, drive the outer half turn and come back at the
// changer left: a + (H - h) + 2x = 3522.315249. Going right at the last changer and back is impossible, since
// no changer left follows it.
func TestMillpondRoutesAreThoseCountedByHand(t *testing.T) {
	g, err := New(millpond())
	if err != nil {
		t.Fatal(err)
	}
	a, b := 456*math.Pi+1800, 624*math.Pi+1800
	half := 84 * math.Pi // what the outer lane is longer on a half turn
	x := shiftMM - 360
	want := []struct {
		start, end  int
		laps        int64
		short, long float64
		turns       int // of the shortest lap
	}{
		{1, 1, 2, a, a + half + 2*x, 0},
		// 1 to 2 through the last changer; the long one goes right at once and stays.
		{1, 2, 3, a + half + x, b + 3*x, 1},
		{2, 1, 2, a + x, a + half + x, 1},
		{2, 2, 3, a + half + 2*x, b + 2*x, 2},
	}
	got := g.Pairs()
	if len(got) != len(want) {
		t.Fatalf("%d pairs, want %d", len(got), len(want))
	}
	for i, w := range want {
		p := got[i]
		if p.Start != w.start || p.End != w.end || p.Laps.Int64() != w.laps {
			t.Errorf("pair %d>%d has %v laps, want %d>%d with %d", p.Start, p.End, p.Laps, w.start, w.end, w.laps)
		}
		if math.Abs(p.Shortest.LengthMM-w.short) > 1e-6 || math.Abs(p.Longest.LengthMM-w.long) > 1e-6 {
			t.Errorf("%d>%d: %.9f to %.9f, want %.9f to %.9f", w.start, w.end, p.Shortest.LengthMM, p.Longest.LengthMM, w.short, w.long)
		}
		if len(p.Shortest.Turns) != w.turns {
			t.Errorf("%d>%d: the shortest lap changes %d times, want %d", w.start, w.end, len(p.Shortest.Turns), w.turns)
		}
	}
}

// The same figures in decimals, computed by a separate program.
func TestMillpondRoutesInDecimals(t *testing.T) {
	g, err := New(millpond())
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range []struct {
		start, end  int
		short, long float64
	}{
		{1, 1, 3232.566250, 3522.315249},
		{2, 1, 3245.493858, 3509.387641},
		{1, 2, 3509.387641, 3799.136640},
		{2, 2, 3522.315249, 3786.209032},
	} {
		s, _ := g.Shortest(w.start, w.end)
		l, _ := g.Longest(w.start, w.end)
		if math.Abs(s.LengthMM-w.short) > 1e-6 || math.Abs(l.LengthMM-w.long) > 1e-6 {
			t.Errorf("%d>%d: %.6f to %.6f, want %.6f to %.6f", w.start, w.end, s.LengthMM, l.LengthMM, w.short, w.long)
		}
	}
	best, worst, ok := g.Steady()
	if !ok || math.Abs(best.MeanMM-3232.566250) > 1e-6 || math.Abs(worst.MeanMM-3786.209032) > 1e-6 {
		t.Errorf("steady %.6f to %.6f, want 3232.566250 to 3786.209032", best.MeanMM, worst.MeanMM)
	}
}

func TestMillpondGains(t *testing.T) {
	g, err := New(millpond())
	if err != nil {
		t.Fatal(err)
	}
	x := shiftMM - 360
	for i, w := range []struct {
		piece              string
		from               int
		here, toLine, best float64
	}{
		// Going out before both half turns costs them both; at best the car comes back in after the first.
		{"changer both", 1, x, -x - 168*math.Pi, -2*x - 84*math.Pi},
		// Coming in saves both half turns; a car that stays out comes in after the first instead.
		{"changer both", 2, x, -x + 168*math.Pi, 84 * math.Pi},
		{"changer left", 2, x, -x + 84*math.Pi, -x + 84*math.Pi},
		{"changer right", 1, x, -x - 84*math.Pi, -x - 84*math.Pi},
	} {
		got := g.Gains()[i]
		if got.Piece != w.piece || got.From != w.from || !got.Reachable {
			t.Fatalf("gain %d is %+v, want %s from %d", i, got, w.piece, w.from)
		}
		for _, c := range [][2]float64{{got.HereMM, w.here}, {got.ToLineMM, w.toLine}, {got.BestMM, w.best}} {
			if math.Abs(c[0]-c[1]) > 1e-6 {
				t.Errorf("%s from %d: %.6f, want %.6f", w.piece, w.from, c[0], c[1])
			}
		}
	}
}
