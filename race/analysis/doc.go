// Package analysis measures what a night's laps say: how much each lane gives
// or costs, how quick each driver is on an average lane, how sure that is, and
// how steady a stint was.
//
// The unit is the stint (one driver on one lane in one heat), never the lap:
// laps of one stint share the car, the tyres and the mood of the driver, and
// treating them as independent makes every interval far too narrow.
//
// A figure that the data cannot give is nil, never NaN or 0: a difference
// between lanes that no driver connects, a standard error without degrees of
// freedom, a standard deviation of one lap.
//
// The order of the input changes no figure. Nothing here decides a place; that
// is package score's, in integers. Nothing has a clock, a file or chance.
package analysis

import (
	"errors"
	"math"
)

// ErrBadInput is wrapped by every error of this package.
var ErrBadInput = errors.New("cannot be analysed")

// known returns a pointer to x, or nil when x is not a finite number.
func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// Est is an estimate with its uncertainty. Value is nil when the data cannot
// give it; SE, Low and High are nil when there are no degrees of freedom. Low
// and High are the ends of the 95 % interval from Student's t.
type Est struct {
	Value, SE, Low, High *float64
}

// newEst takes the .975 quantile of Student's t for df, which one fit uses many
// times.
func newEst(value, se float64, df int, t975 float64) Est {
	e := Est{Value: known(value)}
	if e.Value == nil || df < 1 || !(se > 0) {
		return e
	}
	h := t975 * se
	e.SE, e.Low, e.High = known(se), known(value-h), known(value+h)
	return e
}
