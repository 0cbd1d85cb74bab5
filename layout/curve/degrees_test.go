package curve

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestSinCosOfMultiplesOf15(t *testing.T) {
	for _, tt := range []struct{ deg, sin, cos float64 }{
		{0, 0, 1}, {30, 0.5, math.Sqrt(3) / 2}, {90, 1, 0}, {180, 0, -1}, {270, -1, 0}, {360, 0, 1}, {-90, -1, 0}, {150, 0.5, -math.Sqrt(3) / 2},
		{-60, -math.Sqrt(3) / 2, 0.5}, {720, 0, 1}, {15, (math.Sqrt(6) - math.Sqrt(2)) / 4, (math.Sqrt(6) + math.Sqrt(2)) / 4},
	} {
		sin, cos := SinCos(tt.deg)
		near(t, "sin", sin, tt.sin, 1.2e-16)
		near(t, "cos", cos, tt.cos, 1.2e-16)
		exact := tt.sin == 0 || math.Abs(tt.sin) == 1 || math.Abs(tt.sin) == 0.5
		if exact && sin != tt.sin {
			t.Errorf("sin %v = %v, want exactly %v", tt.deg, sin, tt.sin)
		}
	}
}

func TestSinCosAgreesWithRadians(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.Float64Range(-4000, 4000).Draw(t, "deg")
		sin, cos := SinCos(deg)
		wantSin, wantCos := math.Sincos(deg * math.Pi / 180)
		if math.Abs(sin-wantSin) > 1e-13 || math.Abs(cos-wantCos) > 1e-13 {
			t.Fatalf("SinCos(%v) = %v, %v; want %v, %v", deg, sin, cos, wantSin, wantCos)
		}
	})
}
