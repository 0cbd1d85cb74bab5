package rotation

import (
	"context"
	"fmt"
	"strings"
)

// Progress tells how far a search has come. Best builds the best draw so far,
// complete and valid; call it during the callback only. While wishes are still
// being worked in, Figures.Broken of it says how many are not yet kept.
type Progress struct {
	Stage string // what is being searched, in words
	Moved int64  // moves tried so far
	Best  func() Draw
}

// Make draws. It searches until nothing better is to be expected by count of
// moves, or until ctx ends: then the best draw so far is returned with Cut set,
// and no error, save where wishes are not yet kept. report, when not nil, is
// called now and then from the calling goroutine; cancel ctx in it to take the
// draw as it is.
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
		if s.cut {
			return Draw{}, badf("the search was cut short before all wishes could be kept; give it more time, or drop one of: %s", strings.Join(p.Wishes.words(), "; "))
		}
		if p.Wishes.none() || extra >= p.heatsOver() || heats+extra+1 > HeatsMax {
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
