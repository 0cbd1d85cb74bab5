package pace

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Speed is how fast a lap was, as the real thing and in scale.
type Speed struct {
	RealMS   float64 `json:"real_ms"`   // metres a second on the track
	RealSD   float64 `json:"real_sd"`   // standard uncertainty of it
	ScaleKMH float64 `json:"scale_kmh"` // times the scale's denominator
	ScaleMPH float64 `json:"scale_mph"`
	ScaleSD  float64 `json:"scale_sd_kmh"` // standard uncertainty of ScaleKMH
}

// MileMM is the international mile in mm, exact since the yard and pound agreement of 1959.
const MileMM = 1609344

// Denominators lists the scales in use, as the number under the stroke; common practice, no source.
func Denominators() []int { return []int{24, 28, 32, 43, 64, 87} }

// ErrSpeed reports a lap or a scale that gives no speed.
var ErrSpeed = errors.New("no speed")

// ScaleSpeed turns a length driven in a time into speeds. lengthSD is the standard uncertainty of the length in mm,
// tick the resolution of the counter: a time is the difference of two readings, each off by a uniform error of half a
// tick either way, so its standard uncertainty is tick/sqrt(6) (JCGM 100:2008, GUM, 4.3.7 and 5.1.2). The error wraps
// [ErrSpeed].
func ScaleSpeed(lengthMM float64, t time.Duration, denominator int, lengthSD float64, tick time.Duration) (Speed, error) {
	if t <= 0 || denominator < 1 || !(lengthMM > 0) || math.IsInf(lengthMM, 0) || !(lengthSD >= 0) || tick < 0 {
		return Speed{}, fmt.Errorf("pace: %v mm (give or take %v) in %v at 1:%d with ticks of %v: want positive figures: %w",
			lengthMM, lengthSD, t, denominator, tick, ErrSpeed)
	}
	s := Speed{RealMS: lengthMM / 1000 / t.Seconds()}
	timeSD := tick.Seconds() / math.Sqrt(6)
	s.RealSD = s.RealMS * math.Hypot(lengthSD/lengthMM, timeSD/t.Seconds())
	scaled := s.RealMS * float64(denominator)
	s.ScaleKMH = scaled * 3.6
	s.ScaleMPH = scaled * 3600 * 1000 / MileMM
	s.ScaleSD = s.RealSD * float64(denominator) * 3.6
	return s, nil
}
