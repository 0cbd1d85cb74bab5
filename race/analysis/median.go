package analysis

import (
	"math"
	"slices"
)

// median returns the middle value, or the mean of the two middle ones; NaN for
// none. x is not altered.
func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(x))
	m := len(s) / 2
	if len(s)%2 == 1 {
		return s[m]
	}
	return s[m-1] + (s[m]-s[m-1])/2
}

func absolute(x []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = math.Abs(v)
	}
	return out
}

func mean(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	// Differences from the first value keep digits when all values are large.
	sum := 0.0
	for _, v := range x {
		sum += v - x[0]
	}
	return x[0] + sum/float64(len(x))
}
