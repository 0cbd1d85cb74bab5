// Package seeding says who should be seeded where on the next night, and how sure
// that is.
//
// Clubs with lap times use [FromPace]: lane-corrected pace, pulled towards the
// middle as far as few stints demand. Clubs that keep only places use
// [PlackettLuce] with a phantom driver and weights that fade with time. Glicko-2
// and Elo are made for pairs; for a night of many drivers their deviations come out
// too small, because the pairs of one night are not independent.
//
// A seeding is advice. It never changes a result.
package seeding

import (
	"errors"
	"math"
)

// ErrBadInput is wrapped by every error of this package.
var ErrBadInput = errors.New("cannot be seeded")

// Weight returns what a night counts that lies age nights back, when it shall
// count half after halfLife nights; 1 for a halfLife of 0 (nothing fades).
func Weight(age, halfLife float64) float64 {
	if !(halfLife > 0) || !(age > 0) {
		return 1
	}
	return math.Exp2(-age / halfLife)
}
