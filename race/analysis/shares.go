package analysis

import "slices"

// Shares says how much of the variation between stints belongs to whom. They
// add up to 1. Nil all when nothing varies.
type Shares struct{ Driver, Lane, Trend, Rest *float64 }

// SequentialSS returns the sums of squares of drivers and lanes in both orders
// of entry, the evening last, and the total about the mean.
func (f *LaneFit) SequentialSS() (driverFirst, laneAfter, laneFirst, driverAfter, trend, total float64) {
	t := newTerms(f.Sorted, f.options.Trend)
	y, _ := t.figures(f.Sorted)
	rss := func(columns ...[][]float64) float64 {
		return decompose(slices.Concat(columns...), f.N).fit(y).rss
	}
	drivers, one, lanes, _ := t.parts()
	total = rss(one)
	d, l, both := rss(drivers, one), rss(one, lanes), rss(drivers, one, lanes)
	driverFirst, laneAfter = total-d, d-both
	laneFirst, driverAfter = total-l, l-both
	trend = both - f.RSS
	return
}

// Shares averages both orders of entry, so that neither drivers nor lanes are
// favoured where the rotation is incomplete.
func (f *LaneFit) Shares() Shares {
	d1, l2, l1, d2, trend, total := f.SequentialSS()
	if total <= 0 {
		return Shares{}
	}
	driver, lane := (d1+d2)/2/total, (l1+l2)/2/total
	out := Shares{Driver: known(driver), Lane: known(lane), Rest: known(1 - driver - lane - trend/total)}
	if f.options.Trend != NoTrend {
		out.Trend = known(trend / total)
	}
	return out
}
