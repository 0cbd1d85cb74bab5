package curve

import "math"

// sin15 holds the sines of 0, 15, ... 90 degrees, correctly rounded from their closed forms:
// (√6-√2)/4, 1/2, √2/2, √3/2, (√6+√2)/4.
var sin15 = [7]float64{
	0,
	0.25881904510252076235,
	0.5,
	0.70710678118654752440,
	0.86602540378443864676,
	0.96592582628906828675,
	1,
}

// SinCos returns sine and cosine of an angle in degrees.
//
// Multiples of 15 degrees come from a table, so that a course of right angles never drifts by the rounding of π; other
// angles are reduced to the first octant in degrees, which is exact, before they become radians.
func SinCos(deg float64) (sin, cos float64) {
	deg = math.Mod(deg, 360)
	if deg < 0 {
		deg += 360
	}
	quarter := math.Floor(deg / 90)
	rest := deg - 90*quarter
	if n := rest / 15; n == math.Trunc(n) {
		sin, cos = sin15[int(n)], sin15[6-int(n)]
	} else if rest > 45 {
		cos, sin = math.Sincos((90 - rest) * math.Pi / 180)
	} else {
		sin, cos = math.Sincos(rest * math.Pi / 180)
	}
	switch int(quarter) % 4 {
	case 1:
		return cos, -sin
	case 2:
		return -sin, -cos
	case 3:
		return -cos, sin
	}
	return sin, cos
}

// Radians returns an angle given in degrees in radians.
func Radians(deg float64) float64 { return deg * math.Pi / 180 }

// Degrees returns an angle given in radians in degrees.
func Degrees(rad float64) float64 { return rad * 180 / math.Pi }
