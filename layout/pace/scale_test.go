package pace

import (
	"errors"
	"math"
	"testing"
	"time"
)

// 3 m/s in scale: exact in km/h; in mph with the international mile of 1609.344 m. The decimals come from a separate
// program with exact fractions.
func TestThreeMetresASecondInScale(t *testing.T) {
	for _, w := range []struct {
		scale    int
		kmh, mph float64
	}{
		{24, 259.2, 161.0594130279}, {28, 302.4, 187.9026485326}, {32, 345.6, 214.7458840372},
		{43, 464.4, 288.5647816750}, {64, 691.2, 429.4917680744}, {87, 939.6, 583.8403722262},
	} {
		s, err := ScaleSpeed(3000, time.Second, w.scale, 0, 0)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "km/h", s.ScaleKMH, w.kmh, 1e-12)
		near(t, "mph", s.ScaleMPH, w.mph, 1e-12)
	}
	s, _ := ScaleSpeed(1000, time.Second, 1, 0, 0)
	near(t, "m/s to mph", s.ScaleMPH, 2.236936292054, 1e-12)
}

// A length known to 0.1 % and ticks of 1 ms on a lap of 5 s: hypot(1e-3, 1e-3/sqrt(6)/5) of the speed.
func TestUncertaintyOfASpeed(t *testing.T) {
	s, err := ScaleSpeed(15000, 5*time.Second, 32, 15, time.Millisecond)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "sd", s.RealSD, 3*math.Sqrt(1e-6+1e-6/6/25), 1e-12)
	near(t, "scale sd", s.ScaleSD, s.RealSD*32*3.6, 1e-12)
}

func TestNoSpeed(t *testing.T) {
	for _, w := range []struct {
		mm    float64
		t     time.Duration
		scale int
	}{{0, time.Second, 32}, {-5, time.Second, 32}, {math.NaN(), time.Second, 32}, {math.Inf(1), time.Second, 32}, {100, 0, 32}, {100, -1, 32}, {100, time.Second, 0}} {
		if _, err := ScaleSpeed(w.mm, w.t, w.scale, 0, 0); !errors.Is(err, ErrSpeed) {
			t.Errorf("%v: error %v, want ErrSpeed", w, err)
		}
	}
}
