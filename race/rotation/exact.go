package rotation

import "math/bits"

// exact searches completely for the evening that waits least among all whose
// meetings reach the even split: no streaks beyond the allowed length if there
// can be none, then the shortest longest wait, then the least sum of squares of
// waits. It goes heat by heat, and drivers with the same past are alike, so that
// of them only the first are taken.
type exact struct {
	n, size, heats int
	each           int
	most           int // meetings of a pair at most
	spare          int // pairs that may still reach it
	allowed        int
	past           []uint32 // driver -> heats driven
	left           []int    // driver -> heats still to drive
	last           []int    // driver -> last heat, -1
	run            []int    // driver -> heats in a row up to last
	wait           []int64  // driver -> squares of waits that are over
	met            []int
	streak         int64
	best           exactValue
	found          [][]int // blocks of the best evening, nil when none beats the given one
	heat           [][]int
	steps, limit   int
}

// exactValue is compared from the first field to the last.
type exactValue struct {
	streak int64 // squares of what streaks have beyond the allowed length
	long   int   // longest wait
	wait   int64 // squares of waits
}

func (v exactValue) less(w exactValue) bool {
	if v.streak != w.streak {
		return v.streak < w.streak
	}
	if v.long != w.long {
		return v.long < w.long
	}
	return v.wait < w.wait
}

// of is the part that a claim is about.
func (v exactValue) of(figure string) int64 {
	switch figure {
	case figureStreak:
		return v.streak
	case figureWait:
		return int64(v.long)
	}
	return v.wait
}

// exactLimit is how many seats a complete search fills at most, so that it
// takes some 100 ms.
const exactLimit = 600000

// exactHeatsMax is the longest evening that a complete search is begun for.
const exactHeatsMax = 12

// searchExact looks for an evening that beats v, and says whether the search
// was complete. It returns what is best, and its blocks when they beat v.
func searchExact(n, size, heats, each int, v exactValue, limit int, stop func() bool) (exactValue, [][]int, bool) {
	if heats > exactHeatsMax || n <= size {
		return v, nil, false
	}
	meet, pairs := heats*size*(size-1)/2, n*(n-1)/2
	x := &exact{n: n, size: size, heats: heats, each: each, allowed: streakAllowed(n, size), past: make([]uint32, n),
		left: make([]int, n), last: make([]int, n), run: make([]int, n), wait: make([]int64, n), met: make([]int, n*n), best: v, limit: limit}
	x.most, x.spare = meet/pairs+1, meet%pairs
	if x.spare == 0 {
		x.most, x.spare = x.most-1, pairs
	}
	for d := range n {
		x.left[d], x.last[d] = each, -1
	}
	ok := x.fill(0, stop)
	return x.best, x.found, ok
}

// bound is the least that the evening can still come to when heat h is next.
func (x *exact) bound(h int) exactValue {
	v := exactValue{streak: x.streak}
	for d := range x.n {
		gap := h - x.last[d] - 1 // sat out since
		rest := x.heats - h - x.left[d]
		v.long = max(v.long, gap, ceilDiv(gap+rest, x.left[d]+1))
		all := evenSq(gap+rest, x.left[d]+1)
		if gap > (gap+rest)/(x.left[d]+1) {
			all = int64(gap*gap) + evenSq(rest, x.left[d])
			if x.left[d] == 0 {
				all = int64((gap + rest) * (gap + rest))
			}
		}
		v.wait += x.wait[d] + all
		v.long = max(v.long, x.longestBefore(d))
	}
	return v
}

// longestBefore is the longest wait of d that is over.
func (x *exact) longestBefore(d int) int {
	last, w := -1, 0
	for b := x.past[d]; b != 0; b &= b - 1 {
		h := bits.TrailingZeros32(b)
		w = max(w, h-last-1)
		last = h
	}
	return w
}

// fill tries all ways to go on from heat h; false when it gave up.
func (x *exact) fill(h int, stop func() bool) bool {
	if h == x.heats {
		if v := x.bound(h); v.less(x.best) {
			x.best = v
			x.found = nil
			for _, b := range x.heat {
				x.found = append(x.found, append([]int(nil), b...))
			}
		}
		return true
	}
	if !x.bound(h).less(x.best) {
		return true
	}
	return x.choose(h, 0, make([]int, 0, x.size), stop)
}

// choose extends a heat by drivers from d on.
func (x *exact) choose(h, d int, block []int, stop func() bool) bool {
	x.steps++
	if x.steps > x.limit || x.steps%4096 == 0 && stop() {
		return false
	}
	if len(block) == x.size {
		return x.play(h, block, stop)
	}
	for ; d <= x.n-(x.size-len(block)); d++ {
		if x.left[d] == 0 || x.skipped(d, block) {
			if x.left[d] == x.heats-h {
				return true // he must drive, and may not any more
			}
			continue
		}
		over := 0
		fits := true
		for _, y := range block {
			m := x.met[d*x.n+y] + 1
			fits = fits && m <= x.most
			over += bit(m == x.most)
		}
		if fits && over <= x.spare {
			for _, y := range block {
				x.met[d*x.n+y]++
				x.met[y*x.n+d]++
			}
			x.spare -= over
			ok := x.choose(h, d+1, append(block, d), stop)
			x.spare += over
			for _, y := range block {
				x.met[d*x.n+y]--
				x.met[y*x.n+d]--
			}
			if !ok {
				return false
			}
		}
		if x.left[d] == x.heats-h {
			return true // without him it does not work out
		}
	}
	return true
}

// skipped says whether somebody just like d was left out before him: then d is
// left out as well.
func (x *exact) skipped(d int, block []int) bool {
	for e := d - 1; e >= 0; e-- {
		if x.past[e] == x.past[d] {
			return !contains(block, e)
		}
	}
	return false
}

// play holds the heat and goes on, then takes it back.
func (x *exact) play(h int, block []int, stop func() bool) bool {
	var last, run [LanesMax]int
	streak := x.streak
	for i, d := range block {
		last[i], run[i] = x.last[d], x.run[d]
		gap := h - x.last[d] - 1
		x.wait[d] += int64(gap * gap)
		if gap > 0 || x.last[d] < 0 {
			x.run[d] = 0
		}
		x.run[d]++
		if o := x.run[d] - x.allowed; o > 0 {
			x.streak += int64(2*o - 1)
		}
		x.last[d] = h
		x.left[d]--
		x.past[d] |= 1 << h
	}
	x.heat = append(x.heat, block)
	ok := x.fill(h+1, stop)
	x.heat = x.heat[:len(x.heat)-1]
	for i, d := range block {
		x.last[d], x.run[d] = last[i], run[i]
		gap := h - x.last[d] - 1
		x.wait[d] -= int64(gap * gap)
		x.left[d]++
		x.past[d] &^= 1 << h
	}
	x.streak = streak
	return ok
}

// complete looks at all evenings whose meetings are split evenly, where there
// are few enough of them, and returns one that waits least.
func (s *search) complete(best *evening, need demand, pl plan, b Figures) *evening {
	p := s.p
	s.exact = nil
	if !need.full || !p.Wishes.none() || p.Order[0] != Opponents || p.Order[1] != Waiting || best.settled[levelMeet] != b.PairSq {
		return best
	}
	v := exactValue{best.settled[levelStreak], int(best.settled[levelLong]), best.settled[levelWait]}
	v, blocks, ok := searchExact(p.Drivers, len(p.usable()), best.heats, need.each[0], v, exactLimit*p.Effort, s.stop)
	if ok {
		s.exact = &v
	}
	if blocks == nil {
		return best
	}
	e := newEvening(p, blocks)
	e.settle(pl, b.Wait, newRandom(p.Seed, 150), s.stop)
	s.moved += e.moved
	if e.settled.less(&best.settled, pl.order) {
		return e
	}
	return best
}
