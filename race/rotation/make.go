package rotation

import (
	"context"
)

// Progress tells how far a search has come. Best builds the best draw so far,
// complete and valid; call it during the callback only.
type Progress struct {
	Stage string // what is being searched, in words
	Moved int64  // moves tried so far
	Best  func() Draw
}

// Make draws. It searches until nothing better is to be expected by count of
// moves, or until ctx ends: then the best draw so far is returned with Cut set,
// and no error. report, when not nil, is called now and then from the calling
// goroutine; cancel ctx in it to take the draw as it is.
//
// Errors wrap [ErrProblem]: something is asked for that cannot be.
func Make(ctx context.Context, p Problem, report func(Progress)) (Draw, error) {
	if p.Kind == RollingOn {
		return Rolling(p)
	}
	p, err := p.normal()
	if err != nil {
		return Draw{}, err
	}
	s := &search{ctx: ctx, p: p, report: report}
	return s.run()
}

// search is one run of Make.
type search struct {
	ctx    context.Context
	p      Problem
	report func(Progress)
	moved  int64
	cut    bool
}

// stop says whether the caller has had enough.
func (s *search) stop() bool {
	if !s.cut && s.ctx.Err() != nil {
		s.cut = true
	}
	return s.cut
}

// finish works out figures, bounds and proof of a table of heats.
func (p Problem) finish(heats [][]int, rounds int) Draw {
	d := Draw{Kind: p.Kind, Drivers: p.Drivers, Lanes: p.Lanes, Rounds: p.Rounds, Seed: p.Seed, Heats: heats}
	if p.Posts > 0 {
		d.Duty = staff(p, heats)
	}
	d.Figures = measure(p, heats, d.Duty)
	s := shapeOf(p, heats, rounds)
	d.Bounds = s.bounds()
	d.Claims = s.claims(d.Figures, d.Bounds, p.Order)
	d.Left = p.left(heats)
	d.Proof = prove(d)
	return d
}

// left says what the lanes leave over for each driver.
func (p Problem) left(heats [][]int) []Advantage {
	if p.Costs == nil {
		return nil
	}
	var out []Advantage
	mean := make([]float64, p.Drivers)
	all, least, driving := 0.0, 0.0, 0
	for d, t := range stints(p.Drivers, heats) {
		if len(t) == 0 {
			continue
		}
		for _, s := range t {
			mean[d] += p.Costs[s.lane] / float64(len(t))
		}
		if driving == 0 || mean[d] < least {
			least = mean[d]
		}
		all += mean[d]
		driving++
	}
	for d, t := range stints(p.Drivers, heats) {
		a := Advantage{Driver: d + 1}
		if len(t) > 0 {
			a.Cost, a.HeadStart = mean[d]-all/float64(driving), mean[d]-least
		}
		out = append(out, a)
	}
	return out
}

// run makes the draw step by step.
func (s *search) run() (Draw, error) {
	p := s.p
	use := p.usable()
	blocks := s.firstBlocks(len(use))
	heats := lanesFor(p, blocks, use)
	d := p.finish(heats, p.Rounds)
	d.Moved, d.Cut = s.moved, s.cut
	return d, nil
}

// firstBlocks finds who meets whom.
func (s *search) firstBlocks(lanes int) [][]int {
	n, r := s.p.Drivers, s.p.Rounds
	if n <= lanes {
		all := make([]int, n)
		for i := range all {
			all[i] = i
		}
		out := make([][]int, lanes*r)
		for i := range out {
			out[i] = all
		}
		return out
	}
	if out, _ := known(n, lanes, r); out != nil {
		return out
	}
	size, each := lanes, lanes*r
	if n < 2*lanes {
		size, each = n-lanes, (n-lanes)*r
	}
	goal := evenSq(n*r*size*(size-1)/2, n*(n-1)/2)
	rnd := newRandom(s.p.Seed, 1)
	var best *turning
	for m := n; m >= 1; m-- {
		if n%m != 0 {
			continue
		}
		for range 4 {
			t := newTurning(n, m, size)
			t.start(n*r/m, each, rnd)
			t.anneal(goal, 20000*s.p.Effort, rnd, s.stop)
			s.moved += t.moved
			if best == nil || t.cost < best.cost {
				best = t
			}
			if best.cost <= goal {
				break
			}
		}
		if best.cost <= goal {
			break
		}
	}
	if size != lanes {
		return complement(n, best.develop())
	}
	return best.develop()
}

// lanesFor gives the drivers of each block lanes so that everybody gets every
// lane equally often.
func lanesFor(p Problem, blocks [][]int, use []int) [][]int {
	var left, right []int
	seen := make([]int, p.Drivers)
	for h, block := range blocks {
		for _, x := range block {
			left = append(left, h)
			right = append(right, x*p.Rounds+seen[x]/len(use))
			seen[x]++
		}
	}
	c := colour(left, right, len(blocks), p.Drivers*p.Rounds, len(use))
	heats := make([][]int, len(blocks))
	for h := range heats {
		heats[h] = make([]int, p.Lanes)
	}
	for e, h := range left {
		heats[h][use[c[e]]-1] = right[e]/p.Rounds + 1
	}
	return heats
}
