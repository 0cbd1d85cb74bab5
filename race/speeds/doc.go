// Package speeds compares drivers, cars, lanes and layouts with each other: scale
// speed with its uncertainty, the ratio to a par lap, drivers who never met, lane
// records, and what of a lane's effect its length and its par lap explain.
//
// Everything is an estimate for people to look at; no result depends on it. Where
// nothing connects two drivers the answer is a refusal that names what would.
package speeds

import (
	"errors"
	"math"
)

// ErrBadInput is wrapped by every error of this package but [ErrNotConnected].
var ErrBadInput = errors.New("cannot be compared")

func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}
