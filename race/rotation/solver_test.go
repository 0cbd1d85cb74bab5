package rotation

import (
	"context"
	"testing"
)

// Optima from a general-purpose solver: CBC 2.10.8 (Debian 12), binary programs
// with one variable for each driver, heat and gap; among the draws in which
// every pair meets q or q+1 times and nobody drives three heats in a row, first
// the least longest wait (each smaller one was shown infeasible), then the least
// sum of squares of waits, all proven optimal by the solver.
var solved = []struct {
	drivers, lanes, wait int
	squares              int64
}{
	{4, 2, 2, 10},
	{5, 2, 2, 23},
	{6, 2, 3, 48},
	{7, 2, 3, 81},
	{5, 3, 1, 10},
	{6, 3, 2, 28},
	{7, 3, 3, 62},
	{8, 3, 3, 86},
	{8, 4, 2, 46},
}

func TestSmallOptimaAgreeWithASolver(t *testing.T) {
	slow(t)
	for _, c := range solved {
		d, err := Make(context.Background(), Problem{Drivers: c.drivers, Lanes: c.lanes}, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, claim := range d.Claims {
			if claim.Criterion != Waiting {
				continue
			}
			want := int64(0)
			switch claim.Figure {
			case figureWait:
				want = int64(c.wait)
			case figureIdle:
				want = c.squares
			}
			if !claim.Complete || claim.Bound != want {
				t.Errorf("%d drivers on %d lanes: %s: best is %d (complete: %v), the solver says %d", c.drivers, c.lanes, claim.Figure, claim.Bound, claim.Complete, want)
			}
			if claim.Value-want > slack(levelWait, c.squares) {
				t.Errorf("%d drivers on %d lanes: %s: drawn %d, the solver's optimum is %d", c.drivers, c.lanes, claim.Figure, claim.Value, want)
			}
		}
	}
}
