package rotation

import (
	"context"
	"fmt"
)

// Played is an evening that has begun.
type Played struct {
	Run  [][]int // heats that were run, as they were really driven; they stay
	Duty [][]int // marshals of the heats run; nil when unknown
	Plan [][]int // heats that were planned to follow
}

// Change is what has happened since the plan was made.
type Change struct {
	Late  int   // drivers who have come; they get the numbers after Drivers
	Leave []int // drivers who have left or will not drive on
	Close []int // lanes that cannot be used any more
	Void  []int // heats that were run but do not count, from 1
}

// Redraw plans the rest of an evening anew: the heats run stay, everybody gets
// what he still needs in the fewest heats, and under Order and Stability the
// rest is made as good as it can be together with what was run. Drivers, lanes
// and wishes of p are those of the first plan. The draw that comes back holds
// the whole evening, void heats as empty rows, and says in its notes what
// fairness was lost and why.
//
// Everybody is owed what the rotation gives: each open lane Rounds times, or in
// a short rotation what the plan had for him. Nobody gets a lane once more to
// make up for a closed one; the notes name those who have driven it.
func Redraw(ctx context.Context, p Problem, played Played, c Change, report func(Progress)) (Draw, error) {
	p, err := p.normal()
	if err != nil {
		return Draw{}, err
	}
	r := &redraw{p: p, played: played, change: c, before: p}
	if err := r.check(); err != nil {
		return Draw{}, err
	}
	r.owe()
	s := &search{ctx: ctx, p: r.p, report: report, rnd: newRandom(p.Seed, 500)}
	heats, err := r.plan(s)
	if err != nil {
		return Draw{}, err
	}
	rounds := p.Rounds
	if p.Kind == ShortKind {
		rounds = 0
	}
	r.p.Kind = redrawKind
	d := r.p.finishRest(heats, rounds, len(r.run), r.duty())
	d.Moved, d.Cut = s.moved, s.cut
	d.Notes = r.notes(d)
	return d, nil
}

// redraw is one re-draw.
type redraw struct {
	p, before Problem // with late arrivals, and as first planned
	played    Played
	change    Change
	run       [][]int // heats run, void ones emptied
	gone      []bool  // driver, from 1
	need      [][]int // driver, lane (both from 0) -> times still owed
	heats     int     // of the whole evening
	added     int
	moved     int64 // planned seats that have changed
	planned   int64 // planned seats that are still needed
}

// check refuses what does not belong together.
func (r *redraw) check() error {
	p, c := r.p, r.change
	if c.Late < 0 || p.Drivers+c.Late > DriversMax {
		return badf("%d late arrivals beside %d drivers: expected at most %d drivers in all", c.Late, p.Drivers, DriversMax)
	}
	if len(r.played.Run)+len(r.played.Plan) > HeatsMax {
		return badf("%d heats run and %d planned: expected at most %d", len(r.played.Run), len(r.played.Plan), HeatsMax)
	}
	if err := r.table("heat run", 1, r.played.Run); err != nil {
		return err
	}
	if err := r.table("planned heat", len(r.played.Run)+1, r.played.Plan); err != nil {
		return err
	}
	if len(r.played.Duty) > 0 {
		if len(r.played.Duty) != len(r.played.Run) {
			return badf("duty of %d heats for %d heats run", len(r.played.Duty), len(r.played.Run))
		}
		for h, row := range r.played.Duty {
			for _, x := range row {
				if x < 0 || x > p.Drivers+c.Late {
					return badf("heat %d has driver %d at a post, but the entry list has drivers 1 to %d", h+1, x, p.Drivers+c.Late)
				}
			}
			if len(row) > PostsMax {
				return badf("heat %d has %d posts: expected at most %d", h+1, len(row), PostsMax)
			}
		}
	}
	r.gone = make([]bool, p.Drivers+c.Late+1)
	for _, x := range c.Leave {
		if x < 1 || x > p.Drivers+c.Late { // who came late may leave too, or never have come
			return badf("driver %d is to leave, but the entry list has drivers 1 to %d", x, p.Drivers+c.Late)
		}
		if r.gone[x] {
			return badf("driver %d is to leave twice; name him once", x)
		}
		r.gone[x] = true
	}
	shut := map[int]bool{}
	for _, l := range p.Closed {
		shut[l] = true
	}
	for _, l := range c.Close {
		if l < 1 || l > p.Lanes || shut[l] {
			return badf("lane %d is to be closed: expected an open lane from 1 to %d", l, p.Lanes)
		}
		shut[l] = true
	}
	r.run = make([][]int, len(r.played.Run))
	for h, row := range r.played.Run {
		r.run[h] = append([]int(nil), row...)
	}
	void := map[int]bool{}
	for _, h := range c.Void {
		if h < 1 || h > len(r.run) || void[h] {
			return badf("heat %d is to be void: expected a heat run, 1 to %d, named once", h, len(r.run))
		}
		void[h] = true
		clear(r.run[h-1])
	}
	return nil
}

// table checks that heats belong to this entry list and track.
func (r *redraw) table(what string, from int, heats [][]int) error {
	for h, row := range heats {
		if len(row) != r.p.Lanes {
			return badf("%s %d has %d lanes, but the track has %d", what, from+h, len(row), r.p.Lanes)
		}
		seen := map[int]bool{}
		for l, x := range row {
			if x < 0 || x > r.p.Drivers+r.change.Late { // an evening is drawn anew more than once: who came late may have driven
				return badf("%s %d has driver %d on lane %d, but the entry list has drivers 1 to %d; re-draw with the list the heats were run with",
					what, from+h, x, l+1, r.p.Drivers+r.change.Late)
			}
			if x > 0 && seen[x] {
				return badf("%s %d has driver %d twice", what, from+h, x)
			}
			if x > 0 && !contains(r.p.usable(), l+1) {
				return badf("%s %d has driver %d on lane %d, which is closed all evening", what, from+h, x, l+1)
			}
			seen[x] = true
		}
	}
	return nil
}

// plan searches the rest of the evening.
func (r *redraw) plan(s *search) ([][]int, error) {
	least := r.restHeats()
	// wishes that the heats run have broken stay broken
	was := newTable(r.p, r.run, len(r.run), nil).total[levelBroken]
	for extra := 0; ; extra++ {
		heats := least + extra
		if len(r.run)+heats > HeatsMax {
			return nil, badf("the rest of the evening takes %d heats; expected at most %d in all", heats, HeatsMax)
		}
		rest := r.seat(heats)
		all := append(append([][]int(nil), r.run...), rest...)
		old := append(append([][]int(nil), r.run...), r.played.Plan...)
		if len(old) > len(all) {
			old = old[:len(all)]
		}
		t := newTable(r.p, all, len(r.run), old)
		t.weigh(r.p.Order, r.p.Stability)
		done := func() Draw { return r.p.finishRest(t.rows(r.p.Lanes), 0, len(r.run), r.duty()) }
		s.enter("rest of the evening", done)
		moves := 30000 * r.p.Effort
		if !r.p.Wishes.none() {
			moves *= 2
		}
		t.anneal(moves, s.rnd, s.stop)
		s.moved += t.evening.moved
		if t.total[levelBroken] <= was {
			r.heats, r.added = len(all), len(all)-len(r.played.Run)-len(r.played.Plan)
			r.moved = t.away
			for h, row := range r.played.Plan {
				for l, x := range row {
					if x > 0 && len(r.run)+h < len(all) {
						r.planned += int64(bit(t.rows(r.p.Lanes)[len(r.run)+h][l] > 0))
					}
				}
			}
			return t.rows(r.p.Lanes), nil
		}
		if extra >= 6 || s.cut {
			return nil, &ContradictionError{r.before.Wishes.words(), fmt.Sprintf("no rest of the evening that keeps them was found in up to %d more heats", heats)}
		}
	}
}

// duty is that of the heats run, with empty rows where it is unknown.
func (r *redraw) duty() [][]int {
	out := make([][]int, len(r.run))
	for h := range out {
		out[h] = make([]int, r.p.Posts)
		if h < len(r.played.Duty) {
			copy(out[h], r.played.Duty[h])
		}
	}
	return out
}
