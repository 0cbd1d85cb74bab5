package analysis

import (
	"cmp"
	"math"
	"slices"
)

// LanePairs compares all lanes with each other, in the order of the lanes.
func (f *LaneFit) LanePairs() []Pair { return f.pairs(f.Lanes, f.laneCov) }

// DriverPairs compares all drivers with each other, in the order of their ids.
func (f *LaneFit) DriverPairs() []Pair { return f.pairs(f.Drivers, f.driverCov) }

// DriverPair compares two drivers by index into Drivers. Tukey and Holm are
// left out.
func (f *LaneFit) DriverPair(a, b int) Pair {
	return f.driverCov.pair(f.Drivers, a, b, f.DF)
}

func (f *LaneFit) pairs(effects []Effect, cov *covariance) []Pair {
	var out []Pair
	for a := range effects {
		for b := a + 1; b < len(effects); b++ {
			out = append(out, cov.pair(effects, a, b, f.DF))
		}
	}
	size := map[int]int{}
	for _, e := range effects {
		size[e.Group]++
	}
	for i := range out {
		if out[i].T == nil {
			continue
		}
		p := TukeyUpper(math.Abs(*out[i].T)*math.Sqrt2, size[effects[out[i].A].Group], float64(f.DF))
		out[i].Tukey = known(p)
	}
	holm(out)
	return out
}

func (c *covariance) pair(effects []Effect, a, b, df int) Pair {
	p := Pair{A: a, B: b}
	if effects[a].Group != effects[b].Group || c.w[a] == nil || c.w[b] == nil {
		return p
	}
	w := make([]float64, len(c.w[a]))
	for i := range w {
		w[i] = c.w[a][i] - c.w[b][i]
	}
	diff, se := c.value[a]-c.value[b], c.scale*norm(w)
	p.Diff = newEst(diff, se, df, c.t975)
	if p.Diff.SE != nil {
		t := diff / se
		p.T, p.P = known(t), known(TTwoSided(t, float64(df)))
	}
	return p
}

// holm fills in Holm's adjusted p values: the i-th smallest of m times m-i+1,
// made to rise. Source: S. Holm, A simple sequentially rejective multiple test
// procedure, Scand. J. Statist. 6 (1979).
func holm(pairs []Pair) {
	var order []int
	for i, p := range pairs {
		if p.P != nil {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(*pairs[i].P, *pairs[j].P) })
	last := 0.0
	for n, i := range order {
		last = math.Max(last, math.Min(1, *pairs[i].P*float64(len(order)-n)))
		pairs[i].Holm = known(last)
	}
}

// Better returns the probability that driver a is truly quicker than driver b
// (by index into Drivers), reading the t distribution of the difference as what
// is known about it. more says that larger figures are better (laps) rather than
// smaller ones (pace). Nil when they cannot be compared or there is no error.
func (f *LaneFit) Better(a, b int, more bool) *float64 {
	p := f.DriverPair(a, b)
	if p.T == nil {
		return nil
	}
	t := *p.T
	if !more {
		t = -t
	}
	return known(TCDF(t, float64(f.DF)))
}

// DriverUncertainty returns what draws of all drivers together need: for the
// drivers of one group (indices into Drivers), the estimates and a matrix w such
// that estimate + s w z, z independent standard normal, s a chi draw, has the right
// joint distribution. scale is s; NaN without degrees of freedom.
func (f *LaneFit) DriverUncertainty(group int) (index []int, value []float64, w [][]float64, scale float64) {
	for i, e := range f.Drivers {
		if e.Group == group && f.driverCov.w[i] != nil {
			index = append(index, i)
			value = append(value, f.driverCov.value[i])
			w = append(w, f.driverCov.w[i])
		}
	}
	return index, value, w, f.driverCov.scale
}

// LaneEfficiency and DriverEfficiency compare the rotation with one where every
// driver runs every lane equally often: (2/r) divided by the mean over all pairs
// of Var(difference)/s^2, r the mean number of stints. 1 is as good as can be; nil
// when some pair is not connected or there is no pair. They depend on the
// rotation only, not on the figures. Source: the A-criterion of block designs, J.
// A. John and E. R. Williams, Cyclic and Computer Generated Designs (1995).
func (f *LaneFit) LaneEfficiency() *float64 { return f.laneCov.efficiency(f.Lanes) }

// DriverEfficiency is described at [LaneFit.LaneEfficiency].
func (f *LaneFit) DriverEfficiency() *float64 { return f.driverCov.efficiency(f.Drivers) }

func (c *covariance) efficiency(effects []Effect) *float64 {
	if len(effects) < 2 {
		return nil
	}
	stints, sum, pairs := 0, 0.0, 0
	for a := range effects {
		stints += effects[a].Stints
		for b := a + 1; b < len(effects); b++ {
			if effects[a].Group != effects[b].Group || c.w[a] == nil || c.w[b] == nil {
				return nil
			}
			for i, x := range c.w[a] {
				x -= c.w[b][i]
				sum += x * x
			}
			pairs++
		}
	}
	r := float64(stints) / float64(len(effects))
	return known(2 / r / (sum / float64(pairs)))
}
