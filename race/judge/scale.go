package judge

import (
	"slices"
	"time"
)

// intervalsLeast is how many intervals are needed before a clean lap is believed.
const intervalsLeast = 5

// Clean is what is known of the clean lap of a driver on a lane.
type Clean struct {
	Lap    time.Duration // 0: not known yet
	Spread time.Duration // one standard deviation, at least a hundredth of Lap
}

// Known tells whether there is a clean lap to compare with.
func (c Clean) Known() bool { return c.Lap > 0 }

// FromRecord is a clean lap from elsewhere, the lane's record for instance, until the stint gives one of its own. A record is quicker than
// the usual lap, so the spread is wide.
func FromRecord(lap time.Duration) Clean {
	if lap <= 0 {
		return Clean{}
	}
	return Clean{lap, lap / 20}
}

// CleanLap estimates the clean lap from intervals between passes: the median of the shortest half, and the spread about it. It is unknown
// with fewer than five intervals. Intervals that are not positive are left out.
func CleanLap(intervals []time.Duration) Clean {
	d := make([]time.Duration, 0, len(intervals))
	for _, x := range intervals {
		if x > 0 {
			d = append(d, x)
		}
	}
	if len(d) < intervalsLeast {
		return Clean{}
	}
	slices.Sort(d)
	lap := shorth(d)
	// Only laps near the clean one tell how much clean laps vary.
	near := d[:0:0]
	for _, x := range d {
		if x > lap*3/4 && x < lap*5/4 {
			near = append(near, max(x-lap, lap-x))
		}
	}
	slices.Sort(near)
	spread := time.Duration(float64(median(near)) * 1.4826)
	return Clean{lap, max(spread, lap/100)}
}

// shorth is the median of the shortest stretch that holds half of the sorted values.
func shorth(d []time.Duration) time.Duration {
	half := len(d)/2 + 1
	best := 0
	for i := 0; i+half <= len(d); i++ {
		if d[i+half-1]-d[i] < d[best+half-1]-d[best] {
			best = i
		}
	}
	return median(d[best : best+half])
}

// median of sorted values, 0 of none.
func median(d []time.Duration) time.Duration {
	switch n := len(d); {
	case n == 0:
		return 0
	case n%2 == 1:
		return d[n/2]
	default:
		return d[n/2-1] + (d[n/2]-d[n/2-1])/2
	}
}
