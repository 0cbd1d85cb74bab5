package rotation

import (
	"fmt"
	"math/bits"
)

// heatsForWishes is the fewest heats in which the wishes can hold as far as
// counting shows, or an error that names wishes which contradict each other.
// Counting does not show everything; the search adds heats where it must.
func (p Problem) heatsForWishes(need demand) (int, error) {
	w := p.Wishes
	if w.none() {
		return need.heats, nil
	}
	here := presence(p, HeatsMax)
	for _, check := range []func(demand, []window) error{p.checkBars, p.checkFirst, p.checkStays, p.checkShares} {
		if err := check(need, here); err != nil {
			return 0, err
		}
	}
	heats := need.heats
	for d, k := range need.each {
		if k > 0 {
			heats = max(heats, here[d].from+k)
		}
	}
	// those who come late need their seats in what is left
	for _, t := range here {
		sum := 0
		for d, k := range need.each {
			if here[d].from >= t.from {
				sum += k
			}
		}
		heats = max(heats, t.from+ceilDiv(sum, len(p.usable())))
	}
	heats = max(heats, p.shareHeats(need))
	if heats > HeatsMax {
		return 0, badf("the wishes take %d heats, but an evening has at most %d", heats, HeatsMax)
	}
	return heats, nil
}

// checkBars refuses a driver without a lane.
func (p Problem) checkBars(need demand, _ []window) error {
	for d, k := range need.each {
		if k > 0 && p.Kind != ShortKind {
			continue
		}
		var mine []string
		open := 0
		for _, l := range p.usable() {
			barred := false
			for _, b := range p.Wishes.Bar {
				if b.Driver == d+1 && b.Lane == l {
					mine = append(mine, b.String())
					barred = true
				}
			}
			open += bit(!barred)
		}
		if open == 0 {
			return &ContradictionError{mine, fmt.Sprintf("no lane is left for driver %d", d+1)}
		}
		if p.Kind == ShortKind && p.LanesEach > open {
			return &ContradictionError{mine, fmt.Sprintf("driver %d is to drive %d lanes, but can use %d", d+1, p.LanesEach, open)}
		}
	}
	return nil
}

// checkFirst looks at the wished first heat beside everything else.
func (p Problem) checkFirst(_ demand, here []window) error {
	for l, d := range p.Wishes.First {
		if d == 0 {
			continue
		}
		mine := firstWish(d, l+1)
		for _, s := range p.Wishes.Stay {
			if s.Driver == d && here[d-1].from > 0 {
				return &ContradictionError{[]string{mine, s.String()}, "he is not there for the first heat"}
			}
		}
		for _, b := range p.Wishes.Bar {
			if b.Driver == d && b.Lane == l+1 {
				return &ContradictionError{[]string{mine, b.String()}, "it is that very lane"}
			}
		}
		for _, s := range p.Wishes.Share {
			for m, e := range p.Wishes.First {
				if e != 0 && (s.A == d && s.B == e) {
					return &ContradictionError{[]string{mine, firstWish(e, m+1), s.String()}, "one car cannot start twice in the same heat"}
				}
			}
		}
	}
	return nil
}

// checkStays looks for stretches of the evening that are too short for those
// who are there for nothing else.
func (p Problem) checkStays(need demand, here []window) error {
	for _, s := range p.Wishes.Stay {
		if n := here[s.Driver-1].until - here[s.Driver-1].from; n < need.each[s.Driver-1] {
			return &ContradictionError{[]string{s.String()}, fmt.Sprintf("that is time for %d heats, but he drives %d", n, need.each[s.Driver-1])}
		}
	}
	k := len(p.usable())
	for _, a := range here {
		for _, b := range here {
			if b.until == HeatsMax || b.until <= a.from {
				continue
			}
			seats := 0
			var mine []string
			for d, t := range here {
				if t.from >= a.from && t.until <= b.until {
					seats += need.each[d]
					for _, s := range p.Wishes.Stay {
						if s.Driver == d+1 {
							mine = append(mine, s.String())
						}
					}
				}
			}
			if n := b.until - a.from; seats > n*k {
				return &ContradictionError{mine, fmt.Sprintf("heats %d to %d have %d seats, but they need %d", a.from+1, b.until, n*k, seats)}
			}
		}
	}
	return nil
}

// checkShares looks at pairs who share a car and are both there for part of the
// evening only.
func (p Problem) checkShares(need demand, here []window) error {
	for _, s := range p.Wishes.Share {
		a, b := here[s.A-1], here[s.B-1]
		from, until := min(a.from, b.from), max(a.until, b.until)
		n := need.each[s.A-1] + need.each[s.B-1] + bit(s.Between)
		if until == HeatsMax || n <= until-from {
			continue
		}
		mine := []string{s.String()}
		for _, t := range p.Wishes.Stay {
			if t.Driver == s.A || t.Driver == s.B {
				mine = append(mine, t.String())
			}
		}
		return &ContradictionError{mine, fmt.Sprintf("the car is needed for %d heats and there are %d", n, until-from)}
	}
	return nil
}

// shareHeats is the fewest heats for the largest set of drivers of whom each
// shares with each other: no two of them are in the same heat, and where a heat
// must lie between, one more is needed for each change of hands.
func (p Problem) shareHeats(need demand) int {
	n := p.Drivers
	with, between := make([]uint64, n), make([]uint64, n)
	for _, s := range p.Wishes.Share {
		with[s.A-1] |= 1 << (s.B - 1)
		with[s.B-1] |= 1 << (s.A - 1)
		if s.Between {
			between[s.A-1] |= 1 << (s.B - 1)
			between[s.B-1] |= 1 << (s.A - 1)
		}
	}
	best, steps := 0, 0
	var grow func(set, cand uint64, sum int)
	grow = func(set, cand uint64, sum int) {
		steps++
		changes := 0
		all := true
		for s := set; s != 0; s &= s - 1 {
			d := bits.TrailingZeros64(s)
			all = all && set&^(1<<d)&^between[d] == 0
		}
		if all && set != 0 {
			changes = bits.OnesCount64(set) - 1
		}
		best = max(best, sum+changes)
		for c := cand; c != 0 && steps < 100000; c &= c - 1 {
			d := bits.TrailingZeros64(c)
			// later candidates only, so that each set is seen once
			grow(set|1<<d, c&(c-1)&with[d], sum+need.each[d])
		}
	}
	grow(0, 1<<n-1, 0)
	return best
}
