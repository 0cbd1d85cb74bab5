package rotation

import "math"

// normalShort settles how many heats each driver gets and how many heats that
// takes. Everybody drives equally often; heats left over are not held.
func (p Problem) normalShort() (Problem, error) {
	lanes := len(p.usable())
	n := p.Drivers
	switch {
	case p.LanesEach < 0 || p.Heats < 0:
		return p, badf("short rotation of %d heats with %d lanes for each driver: expected positive numbers", p.Heats, p.LanesEach)
	case p.LanesEach == 0 && p.Heats == 0:
		return p, badf("a short rotation needs the lanes for each driver or the number of heats")
	case p.Heats > HeatsMax:
		return p, badf("%d heats: expected at most %d", p.Heats, HeatsMax)
	case p.LanesEach > lanes*RoundsMax:
		return p, badf("%d lanes for each driver: %d lanes driven %d times at most make %d", p.LanesEach, lanes, RoundsMax, lanes*RoundsMax)
	}
	if p.LanesEach == 0 {
		p.LanesEach = min(p.Heats*min(lanes, n)/n, p.Heats, lanes*RoundsMax)
		if p.LanesEach == 0 {
			return p, badf("%d heats on %d lanes have %d seats for %d drivers: %d heats are needed for everybody to drive once",
				p.Heats, lanes, p.Heats*lanes, n, ceilDiv(n, lanes))
		}
		// each lane carries one driver a heat
		for p.LanesEach > 0 && shortHeats(n, lanes, p.LanesEach) > p.Heats {
			p.LanesEach--
		}
	}
	need := shortHeats(n, lanes, p.LanesEach)
	if p.Heats != 0 && need > p.Heats {
		return p, badf("%d heats for each of %d drivers on %d lanes take %d heats, but there are %d", p.LanesEach, n, lanes, need, p.Heats)
	}
	p.Heats = need
	p.Rounds = 1
	return p, nil
}

// shortHeats is the fewest heats in which n drivers drive k times each.
func shortHeats(n, lanes, k int) int { return max(k, ceilDiv(n*k, lanes)) }

// costClaim sets the spread of the drivers' lane costs against the least there
// can be, in millionths of the unit of the costs.
func (p Problem) costClaim(heats [][]int, s shape) Claim {
	use := p.usable()
	cost := make([]int64, len(use))
	of := make(map[int]int64, len(use))
	for i, l := range use {
		cost[i] = int64(math.Round(p.Costs[l-1] * costScale))
		of[l-1] = cost[i]
	}
	low, high, first := int64(0), int64(0), true
	for _, at := range stints(p.Drivers, heats) {
		if len(at) == 0 {
			continue
		}
		sum := int64(0)
		for _, t := range at {
			sum += of[t.lane]
		}
		if first {
			low, high, first = sum, sum, false
		}
		low, high = min(low, sum), max(high, sum)
	}
	c := Claim{Criterion: LaneCosts, Figure: "largest less smallest sum of lane costs, in millionths", Value: high - low}
	c.Why = "nothing better is known to be impossible"
	if s.equal && s.n > 0 {
		c.Bound = costBound(cost, s.n, s.each[0], s.heats)
		c.Why = "the sums of lane costs that there are, next to their mean over all drivers"
	}
	c.Optimal = c.Value == c.Bound
	return c
}

// costBound is the least difference between the largest and the smallest sum of
// lane costs, when n drivers drive k heats each on as different lanes as can
// be. The mean of the sums is fixed by which seats stay empty; when no sum
// equals it, somebody is below and somebody above, so they differ by the gap
// between the sums next to it at least.
func costBound(cost []int64, n, k, heats int) int64 {
	lanes := len(cost)
	empty := heats*lanes - n*k
	if empty < 0 || empty > 8 {
		return 0
	}
	all, full := int64(0), int64(k/lanes)
	for _, c := range cost {
		all += c
	}
	var sums []int64
	for set := range 1 << lanes {
		sum, in := all*full, 0
		for l, c := range cost {
			if set>>l&1 == 1 {
				sum += c
				in++
			}
		}
		if in == k%lanes {
			sums = append(sums, sum)
		}
	}
	best := int64(math.MaxInt64)
	try := func(total int64) {
		below, above := int64(math.MinInt64), int64(math.MaxInt64)
		for _, v := range sums {
			if v*int64(n) <= total {
				below = max(below, v)
			}
			if v*int64(n) >= total {
				above = min(above, v)
			}
		}
		if below > math.MinInt64 && above < math.MaxInt64 {
			best = min(best, above-below)
		}
	}
	var spread func(l, left int, total int64)
	spread = func(l, left int, total int64) {
		if l == lanes-1 {
			if left <= heats {
				try(total - int64(left)*cost[l])
			}
			return
		}
		for e := 0; e <= min(left, heats); e++ {
			spread(l+1, left-e, total-int64(e)*cost[l])
		}
	}
	spread(0, empty, all*int64(heats))
	if best == math.MaxInt64 {
		return 0
	}
	return best
}
