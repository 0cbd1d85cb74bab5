package curve

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mathext"
	"pgregory.net/rapid"
)

// Lengths of moves given as y(x) agree with gonum's quadrature of sqrt(1 + y'²), for any proportions.
func TestShiftLengthsAgainstGonum(t *testing.T) {
	slopes := map[Shape]func(u float64) float64{
		Cubic:   func(u float64) float64 { return 6*u - 6*u*u },
		Cosine:  func(u float64) float64 { return math.Pi / 2 * math.Sin(math.Pi*u) },
		Quintic: func(u float64) float64 { return 30*u*u - 60*u*u*u + 30*u*u*u*u },
	}
	rapid.Check(t, func(t *rapid.T) {
		along := rapid.Float64Range(10, 2000).Draw(t, "along")
		shift := along * rapid.Float64Range(-1, 1).Draw(t, "shift")
		for _, s := range []Shape{Cubic, Cosine, Quintic} {
			want := quad.Fixed(func(u float64) float64 { return math.Hypot(along, shift*slopes[s](u)) }, 0, 1, 200, quad.Legendre{}, 0)
			if got := Shift(s, along, shift).Length(); math.Abs(got-want) > 1e-9*along {
				t.Fatalf("%v over %g by %g: %.12g, gonum %.12g", s, along, shift, got, want)
			}
		}
	})
}

// The cosine move in closed form is (2L/pi) sqrt(1+a²) E(m), a = pi d/(2L), m = a²/(1+a²), E the complete elliptic integral of the
// second kind as gonum computes it.
func TestCosineAgainstEllipticIntegral(t *testing.T) {
	for _, tt := range []struct{ along, shift float64 }{{360, 84}, {180, 18}, {200, 150}} {
		a := math.Pi * tt.shift / (2 * tt.along)
		want := 2 * tt.along / math.Pi * math.Sqrt(1+a*a) * mathext.CompleteE(a*a/(1+a*a))
		near(t, "cosine", Shift(Cosine, tt.along, tt.shift).Length(), want, 1e-9)
	}
}

// For small shifts the excess over the straight way is c d²/L: 2/3 for two arcs, 1/2, 3/5, pi²/16, 5/7 and 23/30 for the others.
func TestExcessOfSmallShifts(t *testing.T) {
	c := []float64{TwoArcs: 2.0 / 3, Diagonal: 0.5, Cubic: 0.6, Cosine: math.Pi * math.Pi / 16, Quintic: 5.0 / 7, Clothoids: 23.0 / 30}
	for s := TwoArcs; s <= Clothoids; s++ {
		near(t, s.String(), (Shift(s, 1000, 5).Length()-1000)*1000/25, c[s], 1e-4)
	}
}
