package rotation

import (
	"context"
	"fmt"
	"strings"
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
				if x < 0 || x > p.Drivers {
					return badf("heat %d has driver %d at a post, but the entry list has drivers 1 to %d", h+1, x, p.Drivers)
				}
			}
			if len(row) > PostsMax {
				return badf("heat %d has %d posts: expected at most %d", h+1, len(row), PostsMax)
			}
		}
	}
	r.gone = make([]bool, p.Drivers+c.Late+1)
	for _, x := range c.Leave {
		if x < 1 || x > p.Drivers {
			return badf("driver %d is to leave, but the entry list has drivers 1 to %d", x, p.Drivers)
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
			if x < 0 || x > r.p.Drivers {
				return badf("%s %d has driver %d on lane %d, but the entry list has drivers 1 to %d; re-draw with the list the heats were run with",
					what, from+h, x, l+1, r.p.Drivers)
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

// owe works out how often everybody still needs each lane, and widens the
// problem by the late arrivals.
func (r *redraw) owe() {
	p := &r.p
	p.Drivers += r.change.Late
	ran := len(r.run)
	if ran > 0 {
		p.Wishes.First = nil // it was run, one way or the other
	}
	stays := append([]Stay(nil), p.Wishes.Stay...)
	for d := r.before.Drivers + 1; d <= p.Drivers; d++ {
		stays = append(stays, Stay{Driver: d, From: ran + 1})
	}
	for _, d := range r.change.Leave {
		kept := stays[:0:0]
		for _, s := range stays {
			if s.Driver != d {
				kept = append(kept, s)
			}
		}
		stays = append(kept, Stay{Driver: d, Until: max(ran, 1)})
	}
	p.Wishes.Stay = stays
	driven := make([][]int, p.Drivers)
	r.need = make([][]int, p.Drivers)
	for d := range r.need {
		driven[d], r.need[d] = make([]int, p.Lanes), make([]int, p.Lanes)
	}
	for _, row := range r.run {
		for l, x := range row {
			if x > 0 {
				driven[x-1][l]++
			}
		}
	}
	barred := map[Bar]bool{}
	for _, b := range p.Wishes.Bar {
		barred[b] = true
	}
	var open []int
	for _, l := range p.usable() {
		if !contains(r.change.Close, l) {
			open = append(open, l)
		}
	}
	if p.Kind == ShortKind {
		r.oweShort(open, driven, barred)
		return
	}
	for d := range r.need {
		for _, l := range open {
			if !r.gone[d+1] && !barred[Bar{d + 1, l}] {
				r.need[d][l-1] = max(0, p.Rounds-driven[d][l-1])
			}
		}
	}
}

// oweShort gives everybody the heats he is short of: on the lanes the plan had
// for him as far as they are open, then on those he has driven least and that
// are wanted least.
func (r *redraw) oweShort(open []int, driven [][]int, barred map[Bar]bool) {
	p := r.p
	column := make([]int, p.Lanes)
	left := make([]int, p.Drivers)
	for d := range left {
		if r.gone[d+1] {
			continue
		}
		left[d] = p.LanesEach
		for _, n := range driven[d] {
			left[d] -= n
		}
	}
	take := func(d, l int) {
		r.need[d][l-1]++
		column[l-1]++
		left[d]--
	}
	for _, row := range r.played.Plan {
		for l, x := range row {
			if x > 0 && left[x-1] > 0 && contains(open, l+1) && !barred[Bar{x, l + 1}] {
				take(x-1, l+1)
			}
		}
	}
	for d := range left {
		for left[d] > 0 {
			best := 0
			for _, l := range open {
				if barred[Bar{d + 1, l}] {
					continue
				}
				a, b := driven[d][l-1]+r.need[d][l-1], 0
				if best > 0 {
					b = driven[d][best-1] + r.need[d][best-1]
				}
				if best == 0 || a < b || a == b && column[l-1] < column[best-1] {
					best = l
				}
			}
			if best == 0 {
				break
			}
			take(d, best)
		}
	}
}

// restHeats is the fewest heats that still take what is owed.
func (r *redraw) restHeats() int {
	heats := 0
	column := make([]int, r.p.Lanes)
	for d, row := range r.need {
		sum := 0
		for l, n := range row {
			sum += n
			column[l] += n
		}
		// someone who comes later needs all his heats after that
		for _, s := range r.p.Wishes.Stay {
			if s.Driver == d+1 && sum > 0 && s.From-1 > len(r.run) {
				sum += s.From - 1 - len(r.run)
			}
		}
		heats = max(heats, sum)
	}
	for _, n := range column {
		heats = max(heats, n)
	}
	return heats
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

// seat fills so many heats with what is owed and leaves everybody where the old
// plan had him as far as that goes.
func (r *redraw) seat(heats int) [][]int {
	need := make([][]int, len(r.need))
	for d := range need {
		need[d] = append([]int(nil), r.need[d]...)
	}
	var rows [][]int
	for _, row := range r.played.Plan {
		kept := make([]int, r.p.Lanes)
		for l, x := range row {
			if x > 0 && need[x-1][l] > 0 {
				kept[l] = x
				need[x-1][l]--
			}
		}
		rows = append(rows, kept)
	}
	for len(rows) > heats { // dissolve the emptiest heats
		worst := 0
		for h := range rows {
			if filled(rows[h]) <= filled(rows[worst]) {
				worst = h
			}
		}
		for l, x := range rows[worst] {
			if x > 0 {
				need[x-1][l]++
			}
		}
		rows = append(rows[:worst], rows[worst+1:]...)
	}
	for len(rows) < heats {
		rows = append(rows, make([]int, r.p.Lanes))
	}
	for d := range need {
		for l, n := range need[d] {
			for range n {
				place(rows, d+1, l)
			}
		}
	}
	return rows
}

func filled(row []int) int {
	n := 0
	for _, x := range row {
		n += bit(x > 0)
	}
	return n
}

// place puts driver d on lane l into one of the heats. If there is none in
// which both are free, seats of two heats are swapped along the path that
// starts at lane l, so that one of them becomes so (König); the shortest such
// path is taken.
func place(rows [][]int, d, l int) {
	best := -1
	for h, row := range rows {
		if row[l] == 0 && !drives(row, d) && (best < 0 || filled(row) < filled(rows[best])) {
			best = h
		}
	}
	if best >= 0 {
		rows[best][l] = d
		return
	}
	var path []int
	from := -1
	to := -1
	for a, row := range rows {
		if drives(row, d) {
			continue
		}
		for b, other := range rows {
			if other[l] != 0 {
				continue
			}
			// lanes to swap between a and b
			set := []int{l}
			for i := 0; i < len(set); i++ {
				if x := row[set[i]]; x > 0 {
					for m, y := range other {
						if y == x {
							set = append(set, m)
						}
					}
				}
			}
			if from < 0 || len(set) < len(path) {
				path, from, to = set, a, b
			}
		}
	}
	if from < 0 {
		return // cannot happen while nobody is owed more than there are heats
	}
	for _, m := range path {
		rows[from][m], rows[to][m] = rows[to][m], rows[from][m]
	}
	rows[from][l] = d
}

// meetBound is the least sum of squares of meetings that any rest of the
// evening can reach behind the heats run: as many meetings as are still to come,
// each given to the pair that has met least. Pairs with a driver who drives no
// more stay as they are.
func (p Problem) meetBound(heats [][]int, run int) int64 {
	m := Meetings(p.Drivers, heats[:run])
	more := make([]bool, p.Drivers)
	seats := 0
	for _, row := range heats[run:] {
		for _, x := range row {
			if x > 0 {
				more[x-1] = true
				seats++
			}
		}
	}
	rest := len(heats) - run
	if rest == 0 {
		rest = 1
	}
	left := (evenSq(seats, rest) - int64(seats)) / 2
	var count [HeatsMax + 1]int64 // meetings so far -> pairs that can still meet
	sum := int64(0)
	for x := range p.Drivers {
		for y := x + 1; y < p.Drivers; y++ {
			if more[x] && more[y] {
				count[m[x][y]]++
			} else {
				sum += int64(m[x][y] * m[x][y])
			}
		}
	}
	for v := 0; v < HeatsMax && left > 0; v++ {
		up := min(left, count[v])
		count[v] -= up
		count[v+1] += up
		left -= up
	}
	for v, n := range count {
		sum += n * int64(v*v)
	}
	return sum
}

// notes says what was lost and why.
func (r *redraw) notes(d Draw) []string {
	var out []string
	ran := len(r.run)
	at := stints(r.p.Drivers, r.run)
	for _, x := range r.change.Leave {
		out = append(out, fmt.Sprintf("Driver %d has left after %s; his meetings stay with the others and are not made up for.", x, plural(len(at[x-1]), "heat")))
	}
	for x := r.before.Drivers + 1; x <= r.p.Drivers; x++ {
		out = append(out, fmt.Sprintf("Driver %d came after heat %d and drives all his heats in what is left of the evening.", x, ran))
	}
	for _, l := range r.change.Close {
		var had []string
		for x := range at {
			for _, t := range at[x] {
				if t.lane == l-1 {
					had = append(had, fmt.Sprint(x+1))
					break
				}
			}
		}
		if len(had) == 0 {
			out = append(out, fmt.Sprintf("Lane %d is closed before anybody has driven it; nobody loses by it.", l))
			continue
		}
		out = append(out, fmt.Sprintf("Lane %d is closed after heat %d. Only drivers %s have driven it: leave those heats out of the results, or score by the mean of a driver's heats.",
			l, ran, strings.Join(had, ", ")))
	}
	for _, h := range r.change.Void {
		out = append(out, fmt.Sprintf("Heat %d is void; its drivers drive those lanes again.", h))
	}
	switch {
	case r.added > 0:
		out = append(out, fmt.Sprintf("%s added, as nobody can drive twice in a heat and no lane carries two.", plural(r.added, "heat")+isAre(r.added)))
	case r.added < 0:
		out = append(out, fmt.Sprintf("%s not needed any more.", plural(-r.added, "heat")+isAre(-r.added)))
	}
	out = append(out, fmt.Sprintf("%d of %d planned seats have changed hands.", r.moved, r.planned))
	old := r.before.finishRest(append(append([][]int(nil), r.played.Run...), r.played.Plan...), r.before.Rounds, 0, nil)
	for _, c := range d.Claims {
		for _, o := range old.Claims {
			if o.Figure == c.Figure && o.Criterion == c.Criterion && c.Value-c.Bound > o.Value-o.Bound {
				out = append(out, fmt.Sprintf("Lost in %s: %s lay %d above the bound (%d against %d) and now lies %d above it (%d against %d).",
					c.Criterion, c.Figure, o.Value-o.Bound, o.Value, o.Bound, c.Value-c.Bound, c.Value, c.Bound))
			}
		}
	}
	return out
}

func plural(n int, word string) string {
	if n == 1 {
		return fmt.Sprintf("%d %s", n, word)
	}
	return fmt.Sprintf("%d %ss", n, word)
}

func isAre(n int) string {
	if n == 1 {
		return " is"
	}
	return " are"
}
