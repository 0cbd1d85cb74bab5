package speeds

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"lanewright/race/analysis"
)

// visitFit compares drivers by their visits, each visit one figure with the spread of visits and stints as its error: weighted least
// squares of visit = layout + driver.
//
// It stands in where the mixed model finds that drivers differ less than one driver's visits do. With few drivers who came twice that
// split is a guess, and taking it at its word would make everybody equal for certain. Drivers are fixed here, so nothing is pulled
// towards the middle, and whatever visits add to the error is counted.
type visitFit struct {
	drivers int
	cov     *mat.Dense // of the driver columns and those of the layouts
	coef    []float64
}

// newVisitFit takes the lane-corrected mean of each visit. visitSD and stintSD are the mixed model's.
func newVisitFit(driverAt, visitAt, laneAt []int, drivers, visits, lanes int, y []float64, visitSD, stintSD float64) (*visitFit, error) {
	columns := make([][]float64, visits+lanes)
	for i := range columns {
		columns[i] = make([]float64, len(y))
	}
	stints, driverOf := make([]float64, visits), make([]int, visits)
	for i := range y {
		columns[visitAt[i]][i] = 1
		columns[visits+laneAt[i]][i] = 1
		stints[visitAt[i]]++
		driverOf[visitAt[i]] = driverAt[i]
	}
	first, err := analysis.Regress(columns, y)
	if err != nil {
		return nil, err
	}
	// Visits can be compared where lanes join them: those parts of the season play the part of layouts.
	part := partsOf(visitAt, laneAt, visits, lanes)
	parts := 0
	for _, p := range part {
		parts = max(parts, p+1)
	}
	p := drivers + parts
	xtx, xty := mat.NewSymDense(p, nil), make([]float64, p)
	add := func(i, j int, w float64) { xtx.SetSym(i, j, xtx.At(i, j)+w) }
	for v := range visits {
		if first.Coef[v] == nil {
			return nil, fmt.Errorf("speeds: visit %d of %d has no figure of its own %w: expected visits that differ", v+1, visits, ErrBadInput)
		}
		w := 1 / (visitSD*visitSD + stintSD*stintSD/stints[v])
		d, l := driverOf[v], drivers+part[v]
		add(d, d, w)
		add(l, l, w)
		add(d, l, w)
		xty[d] += w * *first.Coef[v]
		xty[l] += w * *first.Coef[v]
	}
	f := &visitFit{drivers: drivers, coef: make([]float64, p)}
	if f.cov, err = pseudoInverse(xtx); err != nil {
		return nil, err
	}
	for i := range p {
		for j := range p {
			f.coef[i] += f.cov.At(i, j) * xty[j]
		}
	}
	return f, nil
}

// contrast returns driver a less driver b, with its standard error. They must be connected.
func (f *visitFit) contrast(a, b int) (value, se float64) {
	v := f.cov.At(a, a) + f.cov.At(b, b) - 2*f.cov.At(a, b)
	return f.coef[a] - f.coef[b], math.Sqrt(math.Max(v, 0))
}

// pseudoInverse inverts a symmetric matrix that lacks the directions which the data say nothing about.
func pseudoInverse(a *mat.SymDense) (*mat.Dense, error) {
	var eigen mat.EigenSym
	if !eigen.Factorize(a, true) {
		return nil, fmt.Errorf("speeds: the visits' equations have no solution %w: expected finite figures", ErrBadInput)
	}
	values := eigen.Values(nil)
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	n := len(values)
	out := mat.NewDense(n, n, nil)
	for k, v := range values {
		if v <= 1e-9*values[n-1] {
			continue // eigenvalues come in rising order; what is this small is rounding
		}
		for i := range n {
			for j := range n {
				out.Set(i, j, out.At(i, j)+vectors.At(i, k)*vectors.At(j, k)/v)
			}
		}
	}
	return out, nil
}

// partsOf numbers the visits so that those joined by a chain of lanes have the same number.
func partsOf(visitAt, laneAt []int, visits, lanes int) []int {
	root := make([]int, visits+lanes)
	for i := range root {
		root[i] = i
	}
	var find func(i int) int
	find = func(i int) int {
		if root[i] != i {
			root[i] = find(root[i])
		}
		return root[i]
	}
	for i := range visitAt {
		root[find(visitAt[i])] = find(visits + laneAt[i])
	}
	number := map[int]int{}
	out := make([]int, visits)
	for v := range out {
		r := find(v)
		if _, ok := number[r]; !ok {
			number[r] = len(number)
		}
		out[v] = number[r]
	}
	return out
}
