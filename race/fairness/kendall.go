package fairness

import "math"

// Kendall returns the rank correlation tau-b of two orders (1 the same, -1 the
// opposite), ties counted; nil when one of them has no order at all. Source: M. G.
// Kendall, The treatment of ties in ranking problems, Biometrika 33 (1945).
func Kendall(x, y []float64) *float64 {
	var agree, tiesX, tiesY, pairs float64
	for i := range x {
		for j := range i {
			a, b := sign(x[i]-x[j]), sign(y[i]-y[j])
			agree += a * b
			pairs++
			if a == 0 {
				tiesX++
			}
			if b == 0 {
				tiesY++
			}
		}
	}
	den := math.Sqrt((pairs - tiesX) * (pairs - tiesY))
	if den == 0 {
		return nil
	}
	tau := agree / den
	return &tau
}

func sign(v float64) float64 {
	switch {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 0
}
