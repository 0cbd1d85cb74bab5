package lattice

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// piece is a straight (steps 0) or an arc, in whole mm and steps of the unit angle, positive to the left.
type piece struct {
	size  int64
	steps int
}

// terms are the exact way of a chain; unit is the angle of a step in millionths of a degree.
func terms(chain []piece, unit int64) (out []Term, heading int64) {
	for _, p := range chain {
		if p.steps == 0 {
			out = append(out, Term{p.size * Unit, heading})
			continue
		}
		s := p.size * Unit
		if p.steps < 0 {
			s = -s
		}
		out = append(out, Term{s, heading + Full/4})
		heading += int64(p.steps) * unit
		out = append(out, Term{-s, heading + Full/4})
	}
	return out, heading
}

// walk is the same chain in floating point, by the centres of the arcs, in radians throughout.
func walk(chain []piece, step float64) (x, y, heading float64) {
	for _, p := range chain {
		r := float64(p.size)
		if p.steps == 0 {
			x, y = x+r*math.Cos(heading), y+r*math.Sin(heading)
			continue
		}
		side := 1.0
		if p.steps < 0 {
			side = -1
		}
		cx, cy := x-side*r*math.Sin(heading), y+side*r*math.Cos(heading)
		heading += float64(p.steps) * step
		x, y = cx+side*r*math.Sin(heading), cy-side*r*math.Cos(heading)
	}
	return x, y, heading
}

func points(chain []piece) (at Point, heading int) {
	for _, p := range chain {
		if p.steps == 0 {
			at = at.Add(Straight(p.size, heading))
			continue
		}
		at = at.Add(Arc(p.size, heading, p.steps))
		heading += p.steps
	}
	return at, heading
}

// randomChain is a course of pieces whose angles are multiples of 360/n degrees. Every other one is closed by construction: a chain that
// turns by a whole circle's k-th part, laid k times, comes back to where it began.
func randomChain(r *rand.Rand, n int) []piece {
	sizes := []int64{90, 180, 360, 270, 450, 630, 810}
	var chain []piece
	turned := 0
	for range 1 + r.IntN(12) {
		p := piece{size: sizes[r.IntN(len(sizes))]}
		if r.IntN(3) > 0 {
			p.steps = 1 + r.IntN(n/4)
			if r.IntN(2) == 0 {
				p.steps = -p.steps
			}
		}
		turned += p.steps
		chain = append(chain, p)
	}
	if r.IntN(2) == 0 {
		return chain
	}
	var k int
	for _, k = range []int{2, 3, 4, 6} {
		if n%k == 0 && r.IntN(2) == 0 {
			break
		}
	}
	for n%k != 0 {
		k--
	}
	missing := ((n/k-turned)%n + n) % n
	if missing > 0 {
		chain = append(chain, piece{270, missing})
	}
	if k == 1 {
		return chain
	}
	once := chain
	for range k - 1 {
		chain = append(chain[:len(chain):len(chain)], once...)
	}
	// Sometimes one piece goes missing or grows, and the chain opens.
	switch r.IntN(4) {
	case 0:
		i := r.IntN(len(chain))
		chain = append(append([]piece(nil), chain[:i]...), chain[i+1:]...)
	case 1:
		chain = append([]piece(nil), chain...)
		chain[r.IntN(len(chain))].size += 30
	}
	return chain
}

// Exact closing agrees with floating composition on 10,000 random courses of 15-degree pieces, and on others of other angles: what is
// exactly closed is closed to rounding, what is not is open by more than rounding can be.
func TestZeroAgreesWithFloatingPoint(t *testing.T) {
	for _, tt := range []struct{ n, courses int }{{24, 10000}, {12, 500}, {16, 500}, {32, 500}, {48, 500}, {20, 500}, {36, 500}, {60, 500}, {360, 100}} {
		r := rand.New(rand.NewPCG(90, uint64(tt.n)))
		unit := int64(Full / tt.n)
		closed := 0
		for range tt.courses {
			chain := randomChain(r, tt.n)
			x, y, _ := walk(chain, 2*math.Pi/float64(tt.n))
			gap := math.Hypot(x, y)
			ts, heading := terms(chain, unit)
			zero, provable := Zero(ts)
			if !provable {
				t.Fatalf("N=%d: not provable: %v", tt.n, chain)
			}
			if zero != (gap < 1e-6) || zero && gap > 1e-8 {
				t.Fatalf("N=%d: exact %v, float gap %g: %v", tt.n, zero, gap, chain)
			}
			if zero {
				closed++
			}
			if tt.n == 24 {
				p, steps := points(chain)
				if (p == Point{}) != zero || int64(steps)*unit != heading {
					t.Fatalf("point %v, zero %v: %v", p, zero, chain)
				}
				px, py := p.XY()
				if math.Hypot(px-x, py-y) > 1e-7 {
					t.Fatalf("point at %v %v, floats at %v %v", px, py, x, y)
				}
			}
		}
		t.Logf("N=%d: %d of %d courses closed", tt.n, closed, tt.courses)
		if closed < tt.courses/10 || closed > tt.courses*9/10 {
			t.Errorf("N=%d: %d of %d courses closed: the check has little to check", tt.n, closed, tt.courses)
		}
	}
}

// Ring 270 from heading 0: 60 degrees end at 270 z² = (233.8268590218, 135), 15 degrees at 270 (z^6 - z^7)
// = (69.8811421777, 9.2000269020). In the piece's own frame: forward R sin a, sideways R (1 - cos a).
func TestArcsOfRing270(t *testing.T) {
	sixty := Arc(270, 0, 4)
	if want := (Point{2: 270}); sixty != want {
		t.Errorf("60 degrees end at %v, want %v", sixty, want)
	}
	x, y := sixty.XY()
	if math.Abs(x-233.8268590218) > 1e-10 || math.Abs(y-135) > 1e-10 {
		t.Errorf("60 degrees end at %.10f, %.10f", x, y)
	}
	fifteen := Arc(270, 0, 1)
	if want := (Point{6: 270, 7: -270}); fifteen != want {
		t.Errorf("15 degrees end at %v, want %v", fifteen, want)
	}
	x, y = fifteen.XY()
	if math.Abs(x-69.8811421777) > 1e-10 || math.Abs(y-9.2000269020) > 1e-10 {
		t.Errorf("15 degrees end at %.10f, %.10f", x, y)
	}
}

// A near miss is a miss: weaves of ring 270 by 15-30-15 degrees advance 4 R sin 15 = 279.5245687107, by 60-120-60 degrees 4 R sin 60 =
// 935.3074360872; two of each 2429.6640095958, a third of a millimetre short of 27 times 90.
func TestNearMissIsAMiss(t *testing.T) {
	weave := func(a int) []piece { return []piece{{270, a}, {270, -2 * a}, {270, a}} }
	var chain []piece
	for _, a := range []int{1, 1, 4, 4} {
		chain = append(chain, weave(a)...)
	}
	x, y, _ := walk(chain, math.Pi/12)
	if math.Abs(x-2429.6640095958) > 1e-9 || math.Abs(y) > 1e-9 {
		t.Fatalf("weaves end at %.10f, %.10f", x, y)
	}
	back := append(chain, piece{270, 12}, piece{2430, 0}, piece{270, 12})
	ts, _ := terms(back, Full/24)
	if zero, provable := Zero(ts); zero || !provable {
		t.Errorf("zero %v, provable %v; want an honest miss", zero, provable)
	}
}

// Multiplying by z 24 times comes back; by z^12 is the opposite; z^8 = z^4 - 1.
func TestTurn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p Point
		for i := range p {
			p[i] = rapid.Int64Range(-1e6, 1e6).Draw(t, "c")
		}
		a, b := rapid.IntRange(-50, 50).Draw(t, "a"), rapid.IntRange(-50, 50).Draw(t, "b")
		if p.Turn(a).Turn(b) != p.Turn(a+b) {
			t.Fatal("turns do not add up")
		}
		if p.Turn(12).Add(p) != (Point{}) || p.Turn(24) != p {
			t.Fatal("half or whole turn is wrong")
		}
		if p.Turn(8).Sub(p.Turn(4)).Add(p) != (Point{}) {
			t.Fatal("z^8 - z^4 + 1 is not 0")
		}
	})
}

func TestUnits(t *testing.T) {
	tests := []struct {
		mm   float64
		want int64
		ok   bool
	}{
		{90, 90e6, true},
		{0.1, 100000, true},
		{1219.2, 1219200000, true},
		{99999.123456, 99999123456, true},
		{0.3359904042, 0, false},
		{1.0 / 3, 0, false},
		{math.Inf(1), 0, false},
		{math.NaN(), 0, false},
		{1e300, 0, false},
	}
	for _, tt := range tests {
		if got, ok := Units(tt.mm); got != tt.want || ok != tt.ok {
			t.Errorf("Units(%v) = %d, %v; want %d, %v", tt.mm, got, ok, tt.want, tt.ok)
		}
	}
}

func TestWhatCannotBeProved(t *testing.T) {
	for _, ts := range [][]Term{
		{{1, 1}},
		{{1, 7_000_001}},
		{{math.MaxInt64, 0}, {math.MaxInt64, 0}},
		{{math.MaxInt64, 240e6}, {math.MinInt64, 120e6}},
	} {
		if zero, provable := Zero(ts); zero || provable {
			t.Errorf("%v: zero %v, provable %v", ts, zero, provable)
		}
	}
	if zero, provable := Zero(nil); !zero || !provable {
		t.Error("nothing adds up to nothing")
	}
}

func BenchmarkZero(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 2))
	var chain []piece
	for len(chain) < 200 {
		chain = append(chain, randomChain(r, 24)...)
	}
	ts, _ := terms(chain[:200], Full/24)
	b.ReportAllocs()
	for b.Loop() {
		Zero(ts)
	}
}
