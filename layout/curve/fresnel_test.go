package curve

import (
	"math"
	"testing"
)

// The Fresnel integrals C(x) and S(x), kernel cos and sin of pi t²/2, are where a clothoid of curvature pi s ends.
//
// Source: Abramowitz & Stegun 7.3.1-7.3.2 and Table 7.7; the twelve digits were computed with mpmath 1.3.0 (fresnelc, fresnels).
func TestFresnel(t *testing.T) {
	for _, tt := range []struct{ x, c, s float64 }{
		{0.1, 0.099997532627, 0.000523589548},
		{0.5, 0.492344225871, 0.064732432860},
		{1.0, 0.779893400377, 0.438259147390},
		{1.5, 0.445261176040, 0.697504960082},
		{2.0, 0.488253406075, 0.343415678364},
	} {
		end := Path{Clothoid{K1: math.Pi * tt.x, LengthMM: tt.x}}.End()
		near(t, "C", end.X, tt.c, 6e-13)
		near(t, "S", end.Y, tt.s, 6e-13)
	}
}

// A clothoid from a straight, 700 mm long to radius 800: with A = sqrt(RL) its end is A sqrt(pi) (C, S)(L/(A sqrt pi)), its heading
// L/(2R). A lane 50 mm to its left is L - e L/(2R) = 678.125 long, by the theorem on parallel curves; here by a fine polyline.
func TestClothoid(t *testing.T) {
	c := Clothoid{K1: 1 / 800.0, LengthMM: 700}
	end := c.At(700)
	near(t, "x", end.X, 686.7197683550, 1e-10)
	near(t, "y", end.Y, 100.6961343245, 1e-10)
	near(t, "heading", Degrees(end.Heading), 25.0669035370, 1e-10)
	const steps = 20000
	var lane float64
	last := c.At(0).Left(50)
	for i := 1; i <= steps; i++ {
		at := c.At(700 * float64(i) / steps).Left(50)
		lane += math.Hypot(at.X-last.X, at.Y-last.Y)
		last = at
	}
	near(t, "lane", lane, 678.125, 1e-6)
}
