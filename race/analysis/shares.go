package analysis

// Shares says how much of the variation between stints belongs to whom. They
// add up to 1. Nil all when nothing varies.
type Shares struct{ Driver, Lane, Trend, Rest *float64 }

// SequentialSS returns the sums of squares of drivers and lanes in both orders
// of entry, the evening last, and the total about the mean.
func (f *LaneFit) SequentialSS() (driverFirst, laneAfter, laneFirst, driverAfter, trend, total float64) {
	t := newTerms(f.Sorted, f.options.Trend)
	y := make([]float64, f.N)
	for i, o := range f.Sorted {
		y[i] = o.Y - f.Sorted[0].Y
	}
	drivers, lanes, rest := t.columns[t.driverAt:t.laneAt], t.columns[t.laneAt:t.trendAt], t.columns[t.trendAt:]
	split := func(first, second [][]float64) (a, b, c, all float64) {
		cols := append([][]float64{t.columns[0]}, first...)
		cols = append(append(cols, second...), rest...)
		s := decompose(cols, f.N).fit(y)
		for j, k := range s.keep {
			q := s.effects[j] * s.effects[j]
			switch {
			case k == 0:
				continue
			case k <= len(first):
				a += q
			case k <= len(first)+len(second):
				b += q
			default:
				c += q
			}
		}
		return a, b, c, a + b + c + s.rss
	}
	driverFirst, laneAfter, trend, total = split(drivers, lanes)
	laneFirst, driverAfter, _, _ = split(lanes, drivers)
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
