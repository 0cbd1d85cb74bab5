package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Obs is one stint's figure: its score in laps, or its pace.
type Obs struct {
	Driver string
	Lane   int
	Heat   int
	Y      float64
}

// Trend says how the evening enters the fit.
type Trend int

const (
	NoTrend    Trend = iota
	HeatLinear       // one slope: what a heat later costs or gives
	HeatFactor       // every heat its own level, as far as the rotation allows
)

// LaneOptions says how to fit.
type LaneOptions struct {
	Trend  Trend
	Robust bool // Huber with k = 1.345; falls back to least squares when it has no scale
}

// Effect is what one driver or lane adds to the mean of its group, sum to zero
// over the drivers (lanes) of the group.
type Effect struct {
	Driver string // for drivers
	Lane   int    // for lanes
	Group  int    // drivers (lanes) can be compared only inside a group; from 1
	Stints int
	Est
	// Adjusted is the driver's figure on an average lane of his group, in an
	// average heat; drivers only.
	Adjusted Est
	RawMean  float64
	// Luck is the sum of the lane effects over the driver's stints, TrendLuck
	// that of the evening's; drivers only. Exactly 0 in a complete rotation.
	Luck, TrendLuck *float64
}

// Pair is a comparison of two drivers or two lanes, by index into the effects.
type Pair struct {
	A, B  int
	Diff  Est // A less B; Value nil when the rotation does not connect them
	T, P  *float64
	Tukey *float64 // p value for all pairs together, studentized range (Tukey-Kramer)
	Holm  *float64 // the same by Holm's step-down on P
}

// FTest is an F test of a group of terms after all others.
type FTest struct {
	SS     float64
	DF     int
	F, P   *float64
	Name   string
	DFRest int
}

// LaneFit is y = mean + driver + lane (+ evening) + error, fitted to a night.
type LaneFit struct {
	N, Rank, DF              int
	RSS                      float64
	S                        *float64 // standard deviation of a stint about the fit; nil when DF is 0
	Mean                     Est      // mean driver on a mean lane; Value nil with several groups
	Drivers                  []Effect // sorted by driver id
	Lanes                    []Effect // sorted by lane
	DriverGroups, LaneGroups int
	Trend                    Est // per heat; HeatLinear only

	LaneTest, DriverTest, TrendTest *FTest // each after all other terms; nil where nothing can be tested

	Robust  bool      // the robust fit was made, not only asked for
	Weights []float64 // of the observations sorted by driver, lane, heat, y; robust only
	Sorted  []Obs     // in that order
	Resid   []float64 // in that order

	laneCov, driverCov *covariance
	options            LaneOptions
	t975               float64
}

// covariance holds contrasts turned into independent unit-variance pieces: the
// variance of a contrast is s^2 |w|^2.
type covariance struct {
	w     [][]float64
	value []float64
	scale float64 // s, NaN without degrees of freedom
	t975  float64
}

// FitLanes fits driver and lane effects by least squares (or Huber).
//
// Which drivers and lanes can be compared follows from the rotation alone: those
// joined by a chain of stints; with every heat its own level, those whose
// difference lies in the row space of the design. Effects sum to zero inside each
// such group and are never compared across groups.
//
// Observations that are not finite are refused. Leave out stints that did not
// start, are void, or were stopped early, before calling.
func FitLanes(obs []Obs, options LaneOptions) (*LaneFit, error) {
	if len(obs) == 0 {
		return nil, fmt.Errorf("analysis: no stints %w: expected at least one", ErrBadInput)
	}
	for _, o := range obs {
		if math.IsNaN(o.Y) || math.IsInf(o.Y, 0) || math.Abs(o.Y) > 1e12 {
			return nil, fmt.Errorf("analysis: driver %s, lane %d, heat %d: figure %v %w: expected a finite number", o.Driver, o.Lane, o.Heat, o.Y, ErrBadInput)
		}
	}
	f := &LaneFit{N: len(obs), options: options}
	f.Sorted = slices.Clone(obs)
	slices.SortFunc(f.Sorted, func(a, b Obs) int {
		return cmp.Or(cmp.Compare(a.Driver, b.Driver), cmp.Compare(a.Lane, b.Lane), cmp.Compare(a.Heat, b.Heat), cmp.Compare(a.Y, b.Y))
	})
	t := newTerms(f.Sorted, options.Trend)
	y, base := t.figures(f.Sorted)
	d := decompose(t.columns, f.N)
	s := d.fit(y)
	scale := math.Sqrt(s.s2())
	if s.exact(y) && s.df > 0 {
		s.rss, scale = 0, 0
	}
	if options.Robust && s.df > 0 && scale > 0 {
		if r, err := RegressHuber(t.columns, y, HuberK); err == nil {
			f.Robust, f.Weights = true, t.inOrder(r.Weights)
			for j, c := range d.keep {
				s.coef[j] = *r.Coef[c]
			}
			s.resid = r.Residual
			scale = huberSpread(r.Residual, r.Weights, HuberK**r.Scale, s)
			f.S = r.Scale
		}
	}
	f.Rank, f.DF, f.RSS, f.Resid = s.rank(), s.df, s.rss, t.inOrder(s.resid)
	if f.S == nil {
		f.S = known(scale)
	}
	if f.DF > 0 {
		f.t975 = TQuantile(0.975, float64(f.DF))
	}
	f.effects(t, s, scale, base)
	if !f.Robust {
		f.test(t, y, s)
	}
	return f, nil
}

// terms is the design: drivers, constant, lanes, evening. Rows are taken in an
// order that begins with one stint of each driver: the driver columns then reduce
// to triangular form without filling up, which makes the fit many times quicker.
type terms struct {
	columns  [][]float64
	row      []int // row i of the design is observation row[i]
	drivers  []string
	lanes    []int
	heats    []int
	driverAt int // first driver column
	oneAt    int // constant
	laneAt   int
	trendAt  int
	meanHeat float64
	driverOf []int // by observation
	laneOf   []int
	trend    Trend
}

func newTerms(obs []Obs, trend Trend) *terms {
	t := &terms{trend: trend}
	sum := 0.0
	for _, o := range obs {
		t.drivers, t.lanes, t.heats = append(t.drivers, o.Driver), append(t.lanes, o.Lane), append(t.heats, o.Heat)
		sum += float64(o.Heat - obs[0].Heat)
	}
	t.meanHeat = float64(obs[0].Heat) + sum/float64(len(obs))
	t.drivers, t.lanes, t.heats = distinct(t.drivers), distinct(t.lanes), distinct(t.heats)
	t.oneAt = len(t.drivers)
	t.laneAt = t.oneAt + 1
	t.trendAt = t.laneAt + len(t.lanes)
	width := t.trendAt
	switch trend {
	case HeatLinear:
		width++
	case HeatFactor:
		width += len(t.heats)
	}
	for range width {
		t.columns = append(t.columns, make([]float64, len(obs)))
	}
	var later []int
	seen := make([]bool, len(t.drivers))
	for i, o := range obs {
		d, _ := slices.BinarySearch(t.drivers, o.Driver)
		l, _ := slices.BinarySearch(t.lanes, o.Lane)
		t.driverOf, t.laneOf = append(t.driverOf, d), append(t.laneOf, l)
		if seen[d] {
			later = append(later, i)
		} else {
			seen[d] = true
			t.row = append(t.row, i) // obs are sorted by driver, so row d is driver d
		}
	}
	t.row = append(t.row, later...)
	for r, i := range t.row {
		t.columns[t.driverAt+t.driverOf[i]][r] = 1
		t.columns[t.oneAt][r] = 1
		t.columns[t.laneAt+t.laneOf[i]][r] = 1
		switch trend {
		case HeatLinear:
			t.columns[t.trendAt][r] = float64(obs[i].Heat) - t.meanHeat
		case HeatFactor:
			h, _ := slices.BinarySearch(t.heats, obs[i].Heat)
			t.columns[t.trendAt+h][r] = 1
		}
	}
	return t
}

// figures returns y in row order, about a base near its mean: a constant taken off
// first keeps digits.
func (t *terms) figures(obs []Obs) (y []float64, base float64) {
	all := make([]float64, len(obs))
	for i, o := range obs {
		all[i] = o.Y
	}
	base = mean(all)
	y = make([]float64, len(obs))
	for r, i := range t.row {
		y[r] = obs[i].Y - base
	}
	return y, base
}

// inOrder puts values in row order back into the order of the observations.
func (t *terms) inOrder(byRow []float64) []float64 {
	out := make([]float64, len(byRow))
	for r, i := range t.row {
		out[i] = byRow[r]
	}
	return out
}

func distinct[T cmp.Ordered](x []T) []T {
	slices.Sort(x)
	return slices.Compact(x)
}

// effects fills in means, effects, groups and luck.
func (f *LaneFit) effects(t *terms, s solution, scale, base float64) {
	f.Drivers = make([]Effect, len(t.drivers))
	f.Lanes = make([]Effect, len(t.lanes))
	for i, d := range t.drivers {
		f.Drivers[i].Driver = d
	}
	for i, l := range t.lanes {
		f.Lanes[i].Lane = l
	}
	driverSum, laneSum := make([]float64, len(t.drivers)), make([]float64, len(t.lanes))
	for i, o := range f.Sorted {
		f.Drivers[t.driverOf[i]].Stints++
		f.Lanes[t.laneOf[i]].Stints++
		driverSum[t.driverOf[i]] += o.Y - base
		laneSum[t.laneOf[i]] += o.Y - base
	}
	for i := range f.Drivers {
		f.Drivers[i].RawMean = base + driverSum[i]/float64(f.Drivers[i].Stints)
	}
	for i := range f.Lanes {
		f.Lanes[i].RawMean = base + laneSum[i]/float64(f.Lanes[i].Stints)
	}
	f.DriverGroups = group(s.decomposition, t.driverAt, f.Drivers)
	f.LaneGroups = group(s.decomposition, t.laneAt, f.Lanes)
	f.driverCov = contrasts(s, t.driverAt, f.Drivers, scale, f.t975)
	f.laneCov = contrasts(s, t.laneAt, f.Lanes, scale, f.t975)

	// The overall mean, and each driver on an average lane of his own group. A
	// driver's lanes are all in one lane group unless heats are a factor.
	laneGroupOf := make([]int, len(t.drivers))
	for i := range f.Sorted {
		laneGroupOf[t.driverOf[i]] = f.Lanes[t.laneOf[i]].Group
	}
	level := func(c []float64, laneGroup int) {
		n := 0.0
		for _, l := range f.Lanes {
			if l.Group == laneGroup {
				n++
			}
		}
		for i, l := range f.Lanes {
			if l.Group == laneGroup {
				c[t.laneAt+i] = 1 / n
			}
		}
		if t.trend == HeatFactor {
			for h := range t.heats {
				c[t.trendAt+h] = 1 / float64(len(t.heats))
			}
		}
	}
	estimate := func(c []float64, shift float64) Est {
		k, ok := s.onKept(c)
		if !ok {
			return Est{}
		}
		v := shift
		for j, x := range k {
			v += x * s.coef[j]
		}
		return newEst(v, scale*norm(s.forward(k)), s.df, f.t975)
	}
	if f.DriverGroups == 1 && f.LaneGroups == 1 {
		c := make([]float64, s.p)
		c[t.oneAt] = 1
		for i := range t.drivers {
			c[t.driverAt+i] = 1 / float64(len(t.drivers))
		}
		level(c, 1)
		f.Mean = estimate(c, base)
	}
	for i := range f.Drivers {
		c := make([]float64, s.p)
		c[t.oneAt] = 1
		c[t.driverAt+i] = 1
		level(c, laneGroupOf[i])
		f.Drivers[i].Adjusted = estimate(c, base)
	}
	if t.trend == HeatLinear {
		c := make([]float64, s.p)
		c[t.trendAt] = 1
		f.Trend = estimate(c, 0)
	}
	f.luck(t)
}

// luck adds up what lanes and evening gave each driver.
func (f *LaneFit) luck(t *terms) {
	for i := range f.Drivers {
		f.Drivers[i].Luck = new(float64)
		if t.trend == HeatLinear && f.Trend.Value != nil {
			f.Drivers[i].TrendLuck = new(float64)
		}
	}
	for i, o := range f.Sorted {
		d := &f.Drivers[t.driverOf[i]]
		if v := f.Lanes[t.laneOf[i]].Value; v == nil {
			d.Luck = nil
		} else if d.Luck != nil {
			*d.Luck += *v
		}
		if d.TrendLuck != nil {
			*d.TrendLuck += *f.Trend.Value * (float64(o.Heat) - t.meanHeat)
		}
	}
	// A driver with every lane of his group equally often has no lane luck at
	// all; rounding in the sum must not claim otherwise.
	for i := range f.Drivers {
		if f.Drivers[i].Luck != nil && f.everyLaneAlike(t, i) {
			*f.Drivers[i].Luck = 0
		}
	}
}

func (f *LaneFit) everyLaneAlike(t *terms, driver int) bool {
	count := make([]int, len(f.Lanes))
	last := -1
	for i := range f.Sorted {
		if t.driverOf[i] == driver {
			last = t.laneOf[i]
			count[last]++
		}
	}
	for l, c := range count {
		if f.Lanes[l].Group == f.Lanes[last].Group && c != count[last] {
			return false
		}
	}
	return true
}

// group numbers the effects so that exactly those with the same number can be
// compared.
func group(d *decomposition, at int, effects []Effect) int {
	var heads []int
	for i := range effects {
		for g, h := range heads {
			c := make([]float64, d.p)
			c[at+i], c[at+h] = 1, -1
			if _, ok := d.onKept(c); ok {
				effects[i].Group = g + 1
				break
			}
		}
		if effects[i].Group == 0 {
			heads = append(heads, i)
			effects[i].Group = len(heads)
		}
	}
	return len(heads)
}

// contrasts estimates each effect against the mean of its group and keeps what
// pairs need.
func contrasts(s solution, at int, effects []Effect, scale, t975 float64) *covariance {
	size := map[int]float64{}
	for _, e := range effects {
		size[e.Group]++
	}
	cov := &covariance{scale: scale, t975: t975, w: make([][]float64, len(effects)), value: make([]float64, len(effects))}
	for i := range effects {
		c := make([]float64, s.p)
		for j, e := range effects {
			if e.Group == effects[i].Group {
				c[at+j] = -1 / size[e.Group]
			}
		}
		c[at+i]++
		k, ok := s.onKept(c)
		if !ok { // cannot happen inside a group; if it did, nothing is claimed
			cov.value[i] = math.NaN()
			continue
		}
		for j, x := range k {
			cov.value[i] += x * s.coef[j]
		}
		cov.w[i] = s.forward(k)
		if size[effects[i].Group] > 1 {
			effects[i].Est = newEst(cov.value[i], scale*norm(cov.w[i]), s.df, t975)
		} else {
			cov.value[i] = 0
			effects[i].Est = Est{Value: new(float64)} // alone in its group: 0 by definition, with no error
		}
	}
	return cov
}

// test compares the fit with those that lack drivers, lanes or evening.
func (f *LaneFit) test(t *terms, y []float64, full solution) {
	without := func(name string, columns ...[][]float64) *FTest {
		s := decompose(slices.Concat(columns...), f.N).fit(y)
		out := &FTest{Name: name, DF: full.rank() - s.rank(), DFRest: full.df}
		if out.DF < 1 {
			return nil
		}
		out.SS = s.rss - full.rss
		if full.df > 0 && full.rss > 0 {
			v := out.SS / float64(out.DF) / full.s2()
			out.F = known(v)
			out.P = known(FUpper(v, float64(out.DF), float64(full.df)))
		}
		return out
	}
	drivers, one, lanes, trend := t.parts()
	f.DriverTest = without("drivers after lanes", one, lanes, trend)
	f.LaneTest = without("lanes after drivers", drivers, one, trend)
	if t.trend != NoTrend {
		f.TrendTest = without("evening after drivers and lanes", drivers, one, lanes)
	}
}

// parts returns the columns of each kind.
func (t *terms) parts() (drivers, one, lanes, trend [][]float64) {
	return t.columns[:t.oneAt], t.columns[t.oneAt:t.laneAt], t.columns[t.laneAt:t.trendAt], t.columns[t.trendAt:]
}
