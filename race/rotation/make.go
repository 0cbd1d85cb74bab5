package rotation

import (
	"context"
	"fmt"
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
	s := &search{ctx: ctx, p: p, report: report, rnd: newRandom(p.Seed, 2)}
	return s.run()
}

// search is one run of Make.
type search struct {
	ctx    context.Context
	p      Problem
	report func(Progress)
	rnd    *random
	stage  string
	best   func() Draw // the best so far, complete
	exact  *exactValue // what a complete search has shown of the waits
	raised string      // why the even split of meetings is out of reach
	up     int64       // and by how much
	polls  int
	moved  int64
	cut    bool
}

// stop says whether the caller has had enough, and reports now and then.
func (s *search) stop() bool {
	if !s.cut && s.ctx.Err() != nil {
		s.cut = true
	}
	s.polls++
	if s.report != nil && s.best != nil && s.polls%64 == 0 && !s.cut {
		s.report(Progress{s.stage, s.moved, s.best})
		s.cut = s.ctx.Err() != nil
	}
	return s.cut
}

// enter begins a stage whose best result so far is made by best.
func (s *search) enter(stage string, best func() Draw) {
	s.stage, s.best = stage, best
	if s.report != nil && s.best != nil && !s.cut {
		s.report(Progress{s.stage, s.moved, s.best})
		s.cut = s.ctx.Err() != nil
	}
}

// finish works out figures, bounds and proof of a table of heats.
func (p Problem) finish(heats [][]int, rounds int) Draw { return p.finishRest(heats, rounds, 0, nil) }

// finishRest does so for a table whose first run heats were driven, with the
// given duty.
func (p Problem) finishRest(heats [][]int, rounds, run int, duty [][]int) Draw {
	d := Draw{Kind: p.Kind, Drivers: p.Drivers, Lanes: p.Lanes, Rounds: p.Rounds, Seed: p.Seed, Heats: heats}
	if p.Posts > 0 {
		d.Duty = staffRest(p, heats, duty)
	}
	d.Figures = measure(p, heats, d.Duty)
	s := shapeOf(p, heats, rounds)
	d.Bounds = s.bounds()
	if run > 0 {
		d.Bounds.PairSq = max(d.Bounds.PairSq, p.meetBound(heats, run))
	}
	if p.Kind == ShortKind && p.Costs != nil {
		d.Claims = append(d.Claims, p.costClaim(heats, s))
		d.Bounds.CostSpread = float64(d.Claims[0].Bound) / costScale
	}
	d.Claims = append(d.Claims, s.claims(d.Figures, d.Bounds, p.Order)...)
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

// demand is how often everybody is to drive.
type demand struct {
	each  []int // driver -> heats
	heats int   // fewest heats for that, wishes aside
	full  bool  // all drive equally often and fill every seat of these heats
}

// demand settles how often everybody drives, and in how many heats at least.
func (p Problem) demand() demand {
	k := len(p.usable())
	d := demand{each: make([]int, p.Drivers)}
	column := p.Drivers * p.Rounds
	for i := range d.each {
		d.each[i] = k * p.Rounds
	}
	if p.Kind == ShortKind {
		for i := range d.each {
			d.each[i] = p.LanesEach
		}
		d.heats = p.Heats
		d.full = p.Drivers*p.LanesEach == d.heats*k
		return d
	}
	open := make([]bool, p.Lanes+1)
	for _, l := range p.usable() {
		open[l] = true
	}
	bars := make([]int, p.Lanes+1)
	for _, b := range p.Wishes.Bar {
		if open[b.Lane] {
			d.each[b.Driver-1] -= p.Rounds
			bars[b.Lane]++
		}
	}
	least := bars[p.usable()[0]]
	for _, l := range p.usable() {
		least = min(least, bars[l])
	}
	d.heats = column - least*p.Rounds
	for _, e := range d.each {
		d.heats = max(d.heats, e)
	}
	d.full = p.Drivers >= k && len(p.Wishes.Bar) == 0
	return d
}

// effort is how many moves the searches make for n drivers on k lanes: few
// where little is to be found, more for large fields.
func (p Problem) effort() (order, lanes, starts int) {
	order, lanes, starts = 12000, 8000, 4
	if p.Drivers > 16 {
		order, lanes = 40000, 30000
	}
	order, lanes = 2*order/(1+p.Rounds), 2*lanes/(1+p.Rounds) // moves take longer
	return order * p.Effort, lanes * p.Effort, starts
}

// run makes the draw step by step.
func (s *search) run() (Draw, error) {
	p := s.p
	need := p.demand()
	heats, err := p.heatsForWishes(need)
	if err != nil {
		return Draw{}, err
	}
	for extra := 0; ; extra++ {
		d, ok := s.draw(need, heats+extra)
		if ok {
			if more := len(d.Heats) - need.heats; more > 0 {
				d.Notes = append(d.Notes, fmt.Sprintf("The wishes take %s more than the %d that would do without them.", plural(more, "heat"), need.heats))
			}
			if s.cut {
				d.Notes = append(d.Notes, "The search was cut short; this is the best draw found until then.")
			}
			return d, nil
		}
		if p.Wishes.none() || extra >= p.heatsOver() || heats+extra+1 > HeatsMax || s.cut {
			return Draw{}, &ContradictionError{p.Wishes.words(), fmt.Sprintf("no draw that keeps them was found in up to %d heats", heats+extra)}
		}
	}
}

// heatsOver is how many heats more than the wishes need at least are tried.
func (p Problem) heatsOver() int { return 4 }

// draw makes a draw of so many heats; it says false when a wish is broken.
func (s *search) draw(need demand, heats int) (Draw, bool) {
	p := s.p
	s.enter("who meets whom", func() Draw { return s.quick(need, heats) })
	designs := s.designs(need, heats)
	if p.Seed != 0 {
		s.lots(designs)
	}
	b := shapeOf(p, oneUp(designs[0].blocks), p.Rounds).bounds()
	order, laneMoves, starts := p.effort()
	pl := planFor(p.Order, b, order)
	if !need.full || heats > need.heats {
		pl.meet = 4 // nothing has been searched yet
	}
	evenings := s.arrange(designs, pl.order, starts)
	best := evenings[0]
	s.enter("order of the heats", func() Draw { return s.dress(best, 0) })
	for i, e := range evenings {
		if i > 0 && s.stop() {
			break
		}
		e.settle(pl, b.Wait, newRandom(p.Seed, uint64(100+i)), s.stop)
		s.moved += e.moved
		if i == 0 || e.settled.less(&best.settled, pl.order) {
			best = e
		}
	}
	if best.total[levelBroken] > 0 {
		return Draw{}, false
	}
	best = s.complete(best, need, pl, b)
	s.enter("lanes", func() Draw { return s.dress(best, 0) })
	d := s.dress(best, laneMoves)
	if d.Figures.Broken == 0 && p.movesLead() {
		d = s.polish(d, order)
	}
	return d, d.Figures.Broken == 0
}

// movesLead says whether moves matter more than something that is settled
// before the lanes are.
func (p Problem) movesLead() bool {
	for i, c := range p.Order {
		if c == Moves {
			for _, later := range p.Order[i+1:] {
				if later == Opponents || later == Waiting {
					return true
				}
			}
			return false
		}
	}
	return false
}

// polish goes on from a draw with who drives when and the lanes together, which
// is slower but may give up opponents and waits for moves, and returns the
// better of the two draws.
func (s *search) polish(d Draw, moves int) Draw {
	p := s.p
	t := newTable(p, d.Heats, 0, nil)
	t.weigh(p.Order, 0)
	for i := range t.factor {
		if l := level(i); l != levelBroken && l != levelUneven {
			t.factor[i] *= t.factor[i] // farther apart than in a re-draw
		}
	}
	s.enter("moves", func() Draw { return d })
	t.anneal(moves, newRandom(p.Seed, 600), s.stop)
	s.moved += t.evening.moved
	e := p.finish(t.rows(p.Lanes), p.Rounds)
	e.Moved, e.Cut = s.moved, s.cut
	s.sharpen(&e)
	if e.Figures.Broken == 0 && e.ahead(d) {
		return e
	}
	return d
}

// ahead compares two draws criterion by criterion by the sums of their claims'
// distances from the bounds.
func (d Draw) ahead(e Draw) bool {
	sum := func(d Draw, c Criterion) int64 {
		v := int64(0)
		for _, x := range d.Claims {
			if x.Criterion == c {
				v += x.Value
			}
		}
		return v
	}
	for i, x := range d.Claims {
		if i > 0 && d.Claims[i-1].Criterion == x.Criterion {
			continue
		}
		if a, b := sum(d, x.Criterion), sum(e, x.Criterion); a != b {
			return a < b
		}
	}
	return false
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

// lots lets the seed say who is who in the designs.
func (s *search) lots(designs []design) {
	who := make([]int, s.p.Drivers)
	for i := range who {
		who[i] = i
	}
	if len(s.p.Wishes.Bar) == 0 {
		newRandom(s.p.Seed, 7).shuffle(who)
	}
	for _, d := range designs {
		for h, block := range d.blocks {
			out := make([]int, len(block))
			for i, x := range block {
				out[i] = who[x]
			}
			d.blocks[h] = out
		}
	}
}

// designs finds who meets whom, or at least who drives together, in so many
// heats.
func (s *search) designs(need demand, heats int) []design {
	p := s.p
	k := len(p.usable())
	s.up, s.raised = 0, ""
	if need.full && heats == need.heats {
		s.up, s.raised = evenSplitRaise(p.Drivers, k, heats, need.each[0])
		return s.whoMeets(p.Drivers, k, heats, need.each[0])
	}
	var blocks [][]int
	name := "heats filled one after another"
	if p.Kind != ShortKind && p.Drivers >= k {
		d := s.whoMeets(p.Drivers, k, p.Drivers*p.Rounds, k*p.Rounds)[0]
		blocks, name = d.blocks, d.name
	}
	return []design{{blocks: fill(blocks, need.each, k, heats), turns: 1, name: name}}
}

// fill makes heats blocks of at most k drivers in which driver x drives each[x]
// times, keeping of the given blocks what fits. Drivers who are owed most come
// first, so that it always works out when no one is owed more than heats and
// all together no more than heats*k.
func fill(blocks [][]int, each []int, k, heats int) [][]int {
	owed := append([]int(nil), each...)
	out := make([][]int, heats)
	seats := 0
	for _, e := range each {
		seats += e
	}
	for h := range out {
		if h < len(blocks) {
			for _, x := range blocks[h] {
				if owed[x] > 0 {
					out[h] = append(out[h], x)
					owed[x]--
				}
			}
		}
	}
	rest := 0
	for _, o := range owed {
		rest += o
	}
	if rest > 0 && len(blocks) > 0 {
		return fill(nil, each, k, heats) // it did not fit, from the start
	}
	if len(blocks) > 0 {
		return out
	}
	for h := range out {
		size := min(k, ceilDiv(seats, heats-h))
		for len(out[h]) < size {
			best := -1
			for x, o := range owed {
				if o > 0 && !contains(out[h], x) && (best < 0 || o > owed[best]) {
					best = x
				}
			}
			if best < 0 {
				break
			}
			out[h] = append(out[h], best)
			owed[best]--
			seats--
		}
	}
	return out
}

func oneUp(blocks [][]int) [][]int {
	out := make([][]int, len(blocks))
	for i, b := range blocks {
		for _, x := range b {
			out[i] = append(out[i], x+1)
		}
	}
	return out
}

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
