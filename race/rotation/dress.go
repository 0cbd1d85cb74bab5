package rotation

// quick is a valid draw at once.
func (s *search) quick(need demand, heats int) Draw {
	blocks := fill(nil, need.each, len(s.p.usable()), heats)
	return s.p.finish(lanesFor(s.p, blocks, s.p.usable()), s.p.Rounds)
}

// dress gives the heats of an evening their lanes and marshals, with a search
// of so many moves.
func (s *search) dress(e *evening, moves int) Draw {
	p := s.p
	heats := lanesFor(p, e.blocks(), p.usable())
	if moves > 0 {
		heats = s.bestLanes(heats, moves)
	}
	d := p.finish(heats, p.Rounds)
	d.Moved, d.Cut = s.moved, s.cut
	s.sharpen(&d)
	return d
}

// sharpen puts better bounds into the claims where the search has found them.
func (s *search) sharpen(d *Draw) {
	for i := range d.Claims {
		c := &d.Claims[i]
		switch {
		case c.Criterion == Opponents && s.up > 0:
			c.Bound += s.up
			d.Bounds.PairSq = c.Bound
			c.Why += "; " + s.raised
		case c.Criterion == Waiting && s.exact != nil:
			c.Bound = s.exact.of(c.Figure)
			c.Complete = true
			c.Why = "a complete search of all draws with the same meetings"
		}
		c.Optimal = c.Value == c.Bound
	}
	d.Proof = prove(*d)
}

// bestLanes searches lanes from a few starts.
func (s *search) bestLanes(heats [][]int, moves int) [][]int {
	p := s.p
	order := laneOrder(p)
	b := shapeOf(p, heats, p.Rounds).bounds()
	goal := laneTotals{laneStint: b.StintSq, laneMoves: b.MoveSq + b.TakeSq}
	var best *lanes
	rnd := newRandom(p.Seed, 3)
	for i := range 3 {
		if i > 0 {
			if s.stop() {
				break
			}
			heats = recolour(p, heats, rnd)
		}
		g := newLanes(p, heats)
		g.pin()
		if i == 0 {
			best = g
		}
		g.settle(order, goal, moves, newRandom(p.Seed, uint64(200+i)), s.stop)
		s.moved += g.tried
		if g.total.less(&best.total, order) {
			best = g
		}
	}
	if w := williams(p, best, order); w != nil {
		best = w
	}
	return best.rows(p)
}

// recolour gives the same heats other lanes, as chance has it. A very regular
// table can be a dead end for chains of swaps.
func recolour(p Problem, heats [][]int, r *random) [][]int {
	blocks := make([][]int, len(heats))
	order := make([]int, len(heats))
	for i := range order {
		order[i] = i
	}
	r.shuffle(order)
	for i, h := range order {
		for _, x := range heats[h] {
			if x > 0 {
				blocks[i] = append(blocks[i], x-1)
			}
		}
		r.shuffle(blocks[i])
	}
	rows := lanesFor(p, blocks, p.usable())
	out := make([][]int, len(heats))
	for i, h := range order {
		out[h] = rows[i]
	}
	return out
}

// lanesFor gives the drivers of each block lanes so that everybody gets every
// lane equally often.
func lanesFor(p Problem, blocks [][]int, use []int) [][]int {
	var left, right []int
	seen := make([]int, p.Drivers)
	copies := 1 // of each driver, with at most as many heats as there are lanes
	for _, block := range blocks {
		for _, x := range block {
			seen[x]++
			copies = max(copies, ceilDiv(seen[x], len(use)))
		}
	}
	clear(seen)
	for h, block := range blocks {
		for _, x := range block {
			left = append(left, h)
			right = append(right, x*copies+seen[x]/len(use))
			seen[x]++
		}
	}
	c := colour(left, right, len(blocks), p.Drivers*copies, len(use))
	heats := make([][]int, len(blocks))
	for h := range heats {
		heats[h] = make([]int, p.Lanes)
	}
	for e, h := range left {
		heats[h][use[c[e]]-1] = right[e]/copies + 1
	}
	return heats
}
