package analysis

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Consistency says how steady a stint was. Times are in seconds; nil where there
// are too few laps.
type Consistency struct {
	Laps             int
	Mean, SD, CV     *float64 // SD with n-1; CV = SD/Mean
	Median, MAD      *float64 // MAD = 1.4826 median|x - median|
	Best             *float64
	Best5            *float64 // mean of the five quickest
	Best5Row         *float64 // quickest mean of five laps in a row
	Best5From        int      // first of them, from 1; 0 for none
	P05, P25         *float64 // percentiles by linear interpolation, type 7
	P75, P95         *float64
	P05Rank, P95Rank *float64 // the same by nearest rank, type 1
	Flagged          []int    // laps (from 1) more than 3 MAD from the median
	MaybeTwo         []int    // flagged laps that look like two laps with a pass missed between
}

// madConstant makes the MAD of a normal distribution its standard deviation.
const madConstant = 1.4826

// ConsistencyOf takes the laps of one stint in order, the standing start left
// out by the caller. Flags are for display and pace; they never remove a lap from
// a score.
//
// Percentile types are those of R. J. Hyndman and Y. Fan, Sample quantiles in
// statistical packages, American Statistician 50 (1996).
func ConsistencyOf(laps []time.Duration) (*Consistency, error) {
	for i, l := range laps {
		if l <= 0 {
			return nil, fmt.Errorf("analysis: lap %d takes %v %w: expected more than 0", i+1, l, ErrBadInput)
		}
	}
	c := &Consistency{Laps: len(laps)}
	if len(laps) == 0 {
		return c, nil
	}
	x := seconds(laps)
	sorted := slices.Sorted(slices.Values(x))
	n := len(x)
	m := mean(x)
	c.Mean, c.Best = known(m), known(sorted[0])
	if n > 1 {
		sum := 0.0
		for _, v := range x {
			sum += (v - m) * (v - m)
		}
		sd := math.Sqrt(sum / float64(n-1))
		c.SD, c.CV = known(sd), known(sd/m)
	}
	med := median(x)
	mad := madOf(x, med)
	c.Median, c.MAD = known(med), known(mad)
	c.P05, c.P25 = known(quantile7(sorted, 0.05)), known(quantile7(sorted, 0.25))
	c.P75, c.P95 = known(quantile7(sorted, 0.75)), known(quantile7(sorted, 0.95))
	c.P05Rank, c.P95Rank = known(nearestRank(sorted, 5)), known(nearestRank(sorted, 95))
	if n >= 5 {
		c.Best5 = known(mean(sorted[:5]))
		for i := 0; i+5 <= n; i++ {
			if v := mean(x[i : i+5]); c.Best5Row == nil || v < *c.Best5Row {
				c.Best5Row, c.Best5From = known(v), i+1
			}
		}
	}
	for i, v := range x {
		if mad > 0 && math.Abs(v-med) > 3*mad {
			c.Flagged = append(c.Flagged, i+1)
			if math.Abs(v-2*med) <= 2*mad { // our own suggestion; the marshal decides
				c.MaybeTwo = append(c.MaybeTwo, i+1)
			}
		}
	}
	return c, nil
}

// Hampel flags laps (from 1) that are more than 3 MAD from the median of the
// laps at most half before or after them; windows are cut at the ends. A window
// without spread flags nothing.
func Hampel(laps []time.Duration, half int) []int {
	var out []int
	x := seconds(laps)
	for i, v := range x {
		w := x[max(0, i-half):min(len(x), i+half+1)]
		med := median(w)
		if mad := madOf(w, med); mad > 0 && math.Abs(v-med) > 3*mad {
			out = append(out, i+1)
		}
	}
	return out
}

// Pace is ln of the median lap in seconds, the first lap (standing start) left
// out: the figure on which lanes are measured, because one spin moves a score by a
// lap and the median hardly. Nil with fewer than three laps after the first.
func Pace(laps []time.Duration) *float64 {
	const lapsMin = 3 // a median of two is a mean, and one spin moves it
	if len(laps) < lapsMin+1 {
		return nil
	}
	m := median(seconds(laps[1:]))
	if m <= 0 {
		return nil
	}
	return known(math.Log(m))
}

func seconds(laps []time.Duration) []float64 {
	out := make([]float64, len(laps))
	for i, l := range laps {
		out[i] = l.Seconds()
	}
	return out
}

func madOf(x []float64, med float64) float64 {
	dev := make([]float64, len(x))
	for i, v := range x {
		dev[i] = math.Abs(v - med)
	}
	return madConstant * median(dev)
}

// quantile7 interpolates between the order statistics around (n-1)p.
func quantile7(sorted []float64, p float64) float64 {
	h := float64(len(sorted)-1) * p
	i := int(math.Floor(h))
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

// nearestRank is the smallest value with at least percent of the values at or
// below it; in integers, so that no product falls short of a whole rank.
func nearestRank(sorted []float64, percent int) float64 {
	rank := (len(sorted)*percent + 99) / 100
	return sorted[max(rank, 1)-1]
}
