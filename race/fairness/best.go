package fairness

import (
	"math"

	"lanewright/race/analysis"
)

// Best returns for each driver of one group (in the order of fit.Drivers) the
// probability of being truly the best, from draws of the joint distribution of all
// driver effects: a multivariate t with the fit's covariance and degrees of
// freedom. more says that larger figures are better. The same seed gives the same
// numbers. nil for drivers outside the group; nil altogether without an error to
// draw from.
func Best(fit *analysis.LaneFit, group int, more bool, draws int, seed uint64) []*float64 {
	index, value, w, scale := fit.DriverUncertainty(group)
	if len(index) < 2 || !(scale > 0) || fit.DF < 1 || draws < 1 {
		return nil
	}
	sign := 1.0
	if !more {
		sign = -1
	}
	// Only differences from the front runner matter, and drivers who are better
	// than he is with less than one chance in ten million need no draws.
	front := 0
	for i, v := range value {
		if sign*v > sign*value[front] {
			front = i
		}
	}
	var in []int
	for i := range index {
		if i == front {
			continue
		}
		p := fit.DriverPair(index[i], index[front])
		if p.T != nil && analysis.TCDF(sign**p.T, float64(fit.DF)) > 1e-7 {
			in = append(in, i)
		}
	}
	m := len(in)
	gap := make([]float64, m)
	cov := make([][]float64, m)
	for a, i := range in {
		gap[a] = sign * (value[i] - value[front])
		cov[a] = make([]float64, m)
		for b := range a + 1 {
			j := in[b]
			for k := range w[front] {
				cov[a][b] += (w[i][k] - w[front][k]) * (w[j][k] - w[front][k])
			}
			cov[a][b] *= scale * scale
		}
	}
	root := cholesky(cov)
	wins := make([]int, m+1)
	r := newStream(seed)
	z := make([]float64, m)
	df := float64(fit.DF)
	for range draws {
		f := math.Sqrt(df / r.chi2(df))
		for k := range z {
			z[k] = f * r.normal()
		}
		best, top := m, 0.0 // the front runner himself
		for a, row := range root {
			v := gap[a]
			for k, x := range row {
				v += x * z[k]
			}
			if v > top {
				best, top = a, v
			}
		}
		wins[best]++
	}
	out := make([]*float64, len(fit.Drivers))
	zero := 0.0
	for _, i := range index {
		out[i] = &zero
	}
	for a, i := range append(in, front) {
		p := float64(wins[a]) / float64(draws)
		out[index[i]] = &p
	}
	return out
}

// cholesky returns the lower root of a covariance matrix given by its lower
// triangle; row a has a+1 entries. A driver whose difference is determined by others
// gets a zero on the diagonal.
func cholesky(c [][]float64) [][]float64 {
	root := make([][]float64, len(c))
	for a := range c {
		root[a] = make([]float64, a+1)
		for b := range a + 1 {
			s := c[a][b]
			for k := range b {
				s -= root[a][k] * root[b][k]
			}
			switch {
			case a == b:
				root[a][a] = math.Sqrt(math.Max(0, s))
			case root[b][b] > 1e-9*math.Sqrt(c[b][b]):
				root[a][b] = s / root[b][b]
			}
		}
	}
	return root
}
