package judge

import (
	"math"
	"time"
)

// Costs of a labelling, in units of half a squared standard deviation. A phantom is rarer than a missed pass, and one wrong deletion costs a
// driver a lap, so deleting is dear.
const (
	missCost    = 3.5 // each pass taken to be missing; less finds more of them and accuses more slow laps
	lostCost    = 0.5 // the same where the counter's numbers prove a loss
	phantomCost = 7.5 // each pass taken to be of nothing
	slowCost    = 4.0 // a slow lap costs at most about this: cars leave the track and come back
	missMost    = 1   // passes missing between two kept ones
	dropMost    = 4   // passes in a row taken to be of nothing
)

// Mark says what one pass looks like.
type Mark uint8

// The marks.
const (
	Good    Mark = iota // ends a lap, or begins the first
	Bounce              // within a quarter of a clean lap after a good pass
	Phantom             // of nothing
)

// Label is the judgement of one pass.
type Label struct {
	Mark   Mark
	Missed int // for a good pass: how many passes seem to be missing before it
}

// Judge labels the passes of one stint, whose times must rise, so that the whole costs least: an interval d between good passes of m laps
// costs ((d - m*lap) / (spread*sqrt(m)))^2 / 2, on the slow side at most about 4 + ln(1 + excess/lap), each of the m-1 missing
// passes 3.5, each pass left out 7.5. Good passes are never closer than a quarter of a clean lap. The first pass is taken to be good.
// free says which intervals, by index of the later pass, mean nothing because the track was stopped or the clock was broken in
// them; it may be nil. Without a known clean lap all passes are good.
// lost says in which intervals the counter's own numbers prove that passes were lost on the way; it may be nil. A missing pass costs next to
// nothing there.
func Judge(at []time.Duration, clean Clean, free, lost func(i int) bool) []Label {
	n := len(at)
	out := make([]Label, n)
	if n < 2 || !clean.Known() {
		return out
	}
	cost := make([]float64, n)
	from := make([]int, n)
	laps := make([]int, n)
	// apart[i] and gone[i] count the free intervals, and those with losses, up to pass i.
	apart, gone := make([]int, n), make([]int, n)
	for i := 1; i < n; i++ {
		apart[i], gone[i] = apart[i-1], gone[i-1]
		if free != nil && free(i) {
			apart[i]++
		}
		if lost != nil && lost(i) {
			gone[i]++
		}
	}
	dead := clean.Lap / 4
	for j := 1; j < n; j++ {
		cost[j] = math.Inf(1)
		for i := j - 1; i >= 0 && j-i <= dropMost+1; i-- {
			c, m := 0.0, 1
			if apart[j] == apart[i] {
				if at[j]-at[i] < dead {
					continue
				}
				c, m = interval(at[j]-at[i], clean, gone[j] > gone[i])
			}
			if c += cost[i] + phantomCost*float64(j-i-1); c < cost[j] {
				cost[j], from[j], laps[j] = c, i, m
			}
		}
	}
	last, least := 0, math.Inf(1)
	for j := n - 1; j >= 0 && n-1-j <= dropMost; j-- {
		if c := cost[j] + phantomCost*float64(n-1-j); c < least {
			last, least = j, c
		}
	}
	if math.IsInf(least, 1) { // a burst that no labelling explains: nothing is said about it
		return out
	}
	for i := range out {
		out[i].Mark = Phantom
	}
	for j := last; ; j = from[j] {
		out[j] = Label{Good, max(laps[j]-1, 0)}
		if j == 0 {
			break
		}
	}
	good := 0
	for i := range out {
		switch {
		case out[i].Mark == Good:
			good = i
		case at[i]-at[good] < dead:
			out[i].Mark = Bounce
		}
	}
	return out
}

// interval is the least cost of an interval between good passes, and the laps in it.
func interval(d time.Duration, clean Clean, lost bool) (cost float64, laps int) {
	cost = math.Inf(1)
	lap, spread := float64(clean.Lap), float64(clean.Spread)
	miss := missCost
	if lost {
		miss = lostCost
	}
	for m := 1; m <= missMost+1; m++ {
		excess := float64(d) - float64(m)*lap
		z := excess / (spread * math.Sqrt(float64(m)))
		c := z * z / 2
		if excess > 0 {
			c = min(c, slowCost+math.Log1p(excess/lap))
		}
		if c += miss * float64(m-1); c < cost {
			cost, laps = c, m
		}
	}
	return cost, laps
}
