package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Friedman is the rank test of lanes within drivers: no assumption about how
// laps are distributed, but every driver must have run every lane once.
type Friedman struct {
	Chi2 *float64
	DF   int
	P    *float64
	// RankMeans holds the mean rank of each lane, 1 for the smallest figure.
	RankMeans []float64
}

// FriedmanTest takes rows (drivers) of figures by column (lanes). Equal figures
// share the mean of their ranks and the statistic is corrected for them.
// Source: M. Hollander and D. A. Wolfe, Nonparametric Statistical Methods (1973),
// chapter 7.
func FriedmanTest(rows [][]float64) (*Friedman, error) {
	if len(rows) == 0 || len(rows[0]) < 2 {
		return nil, fmt.Errorf("analysis: no table for a Friedman test %w: expected drivers by at least two lanes", ErrBadInput)
	}
	k := len(rows[0])
	sums := make([]float64, k)
	ties := 0.0
	for r, row := range rows {
		if len(row) != k {
			return nil, fmt.Errorf("analysis: driver %d has %d lanes, the first has %d %w: expected a complete table", r+1, len(row), k, ErrBadInput)
		}
		order := make([]int, k)
		for i := range order {
			if math.IsNaN(row[i]) {
				return nil, fmt.Errorf("analysis: driver %d, column %d is missing %w: expected a complete table", r+1, i+1, ErrBadInput)
			}
			order[i] = i
		}
		slices.SortFunc(order, func(a, b int) int { return cmp.Compare(row[a], row[b]) })
		for i := 0; i < k; {
			j := i + 1
			for j < k && row[order[j]] == row[order[i]] {
				j++
			}
			t := float64(j - i)
			ties += t*t*t - t
			for _, o := range order[i:j] {
				sums[o] += float64(i+j+1) / 2 // mean of ranks i+1..j
			}
			i = j
		}
	}
	n := float64(len(rows))
	kk := float64(k)
	ss := 0.0
	out := &Friedman{DF: k - 1}
	for _, s := range sums {
		d := s - n*(kk+1)/2
		ss += d * d
		out.RankMeans = append(out.RankMeans, s/n)
	}
	den := n*kk*(kk+1) - ties/(kk-1)
	if den > 0 {
		out.Chi2 = known(12 * ss / den)
		out.P = known(ChiUpper(*out.Chi2, kk-1))
	}
	return out, nil
}
