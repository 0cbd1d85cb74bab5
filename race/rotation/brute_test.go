package rotation

import (
	"context"
	"math"
	"testing"
)

// everyEvening calls f for every way in which n drivers can fill the heats in
// blocks of size, each driver each times, in every order. Nothing is taken as
// alike: it is slow and obviously complete.
func everyEvening(n, size, heats, each int, f func(blocks [][]int)) {
	var subsets [][]int
	for set := range 1 << n {
		var b []int
		for d := range n {
			if set>>d&1 == 1 {
				b = append(b, d)
			}
		}
		if len(b) == size {
			subsets = append(subsets, b)
		}
	}
	left := make([]int, n)
	for d := range left {
		left[d] = each
	}
	var blocks [][]int
	var next func()
	next = func() {
		if len(blocks) == heats {
			f(blocks)
			return
		}
	subset:
		for _, b := range subsets {
			for _, d := range b {
				if left[d] == 0 {
					continue subset
				}
			}
			for _, d := range b {
				left[d]--
			}
			blocks = append(blocks, b)
			next()
			blocks = blocks[:len(blocks)-1]
			for _, d := range b {
				left[d]++
			}
		}
	}
	next()
}

// leastOf collects the least and greatest value of each figure.
type leastOf struct {
	pairSq, idle, overlong, meanSq int64
	pairMost, streak, wait, first  int
	back                           int
	pairLeast, met                 int
	best                           exactValue // among those with least pairSq
}

func bruteEvenings(p Problem, size, heats, each int) leastOf {
	b := leastOf{math.MaxInt64, math.MaxInt64, math.MaxInt64, math.MaxInt64, math.MaxInt, math.MaxInt, math.MaxInt, math.MaxInt, math.MaxInt, 0, 0, exactValue{}}
	everyEvening(p.Drivers, size, heats, each, func(blocks [][]int) {
		var f Figures
		rows := oneUp(blocks)
		at := stints(p.Drivers, rows)
		f.pairs(p.Drivers, rows, at)
		f.waits(p, heats, at)
		f.evening(p, heats, at)
		v := exactValue{f.Overlong, f.Wait, f.Idle}
		if f.PairSq < b.pairSq || f.PairSq == b.pairSq && v.less(b.best) {
			b.best = v
		}
		b.pairSq, b.idle, b.overlong, b.meanSq = min(b.pairSq, f.PairSq), min(b.idle, f.Idle), min(b.overlong, f.Overlong), min(b.meanSq, f.MeanSq)
		b.pairMost, b.streak, b.wait, b.first = min(b.pairMost, f.PairMost), min(b.streak, f.Streak), min(b.wait, f.Wait), min(b.first, f.FirstLate)
		b.back = min(b.back, f.BackToBack)
		b.pairLeast, b.met = max(b.pairLeast, f.PairLeast), max(b.met, f.MetLeast)
	})
	return b
}

func TestBoundsAreNeverBeatenByAnyEvening(t *testing.T) {
	slow(t)
	for _, c := range []struct{ n, lanes, rounds int }{
		{2, 1, 1}, {3, 1, 1}, {4, 1, 1}, {5, 1, 1}, {3, 2, 1}, {4, 2, 1}, {5, 2, 1}, {4, 3, 1}, {5, 3, 1}, {5, 4, 1}, {6, 5, 1}, {6, 1, 1},
		{2, 1, 2}, {3, 1, 2}, {3, 2, 2}, {2, 1, 3}, {3, 2, 3}, {4, 3, 2},
	} {
		p, err := Problem{Drivers: c.n, Lanes: c.lanes, Rounds: c.rounds}.normal()
		if err != nil {
			t.Fatal(err)
		}
		heats, each := c.n*c.rounds, c.lanes*c.rounds
		least := bruteEvenings(p, c.lanes, heats, each)
		d, err := Make(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		b := d.Bounds
		for _, x := range []struct {
			name         string
			bound, least int64
		}{
			{"squares of meetings", b.PairSq, least.pairSq}, {"most meetings", int64(b.PairMost), int64(least.pairMost)},
			{"squares of waits", b.Idle, least.idle}, {"overlong streaks", 0, least.overlong}, {"mean heat", b.MeanSq, least.meanSq},
			{"streak", int64(b.Streak), int64(least.streak)}, {"wait", int64(b.Wait), int64(least.wait)},
			{"latest first heat", int64(b.FirstLate), int64(least.first)}, {"back to back", int64(b.BackToBack), int64(least.back)},
			{"least meetings", -int64(b.PairLeast), -int64(least.pairLeast)}, {"opponents met", -int64(b.MetLeast), -int64(least.met)},
		} {
			if x.bound > x.least {
				t.Errorf("%d drivers on %d lanes, %d rounds: %s: bound %d is beaten by %d", c.n, c.lanes, c.rounds, x.name, x.bound, x.least)
			}
		}
		if d.Figures.PairSq != least.pairSq {
			t.Errorf("%d drivers on %d lanes, %d rounds: squares of meetings %d, best of all %d", c.n, c.lanes, c.rounds, d.Figures.PairSq, least.pairSq)
		}
		if c.n <= c.lanes || c.lanes == 1 {
			continue
		}
		// the complete search agrees with trying everything
		v, _, ok := searchExact(c.n, c.lanes, heats, each, exactValue{1 << 40, 1 << 20, 1 << 40}, 1<<30, func() bool { return false })
		if !ok || v != least.best {
			t.Errorf("%d drivers on %d lanes, %d rounds: complete search says %+v (%v), trying everything %+v", c.n, c.lanes, c.rounds, v, ok, least.best)
		}
	}
}

// everyTable calls f for every table of heats in which each driver drives each
// lane rounds times.
func everyTable(n, lanes, heats, rounds int, f func(rows [][]int)) {
	count := make([]int, n*lanes)
	rows := make([][]int, heats)
	for h := range rows {
		rows[h] = make([]int, lanes)
	}
	empty := heats*lanes - n*lanes*rounds
	var next func(h, l, used, empty int)
	next = func(h, l, used, empty int) {
		if l == lanes {
			h, l, used = h+1, 0, 0
		}
		if h == heats {
			f(rows)
			return
		}
		for d := range n {
			if used>>d&1 == 0 && count[d*lanes+l] < rounds {
				count[d*lanes+l]++
				rows[h][l] = d + 1
				next(h, l+1, used|1<<d, empty)
				count[d*lanes+l]--
			}
		}
		rows[h][l] = 0
		if empty > 0 {
			next(h, l+1, used, empty-1)
		}
	}
	next(0, 0, 0, empty)
}

func TestBoundsAreNeverBeatenByAnyTable(t *testing.T) {
	slow(t)
	for _, c := range []struct{ n, lanes, rounds int }{
		{2, 2, 1}, {3, 3, 1}, {4, 4, 1}, {3, 2, 1}, {4, 2, 1}, {5, 2, 1}, {4, 3, 1}, {2, 3, 1}, {2, 4, 1}, {3, 4, 1}, {2, 2, 2}, {3, 2, 2}, {2, 1, 3},
	} {
		p, err := Problem{Drivers: c.n, Lanes: c.lanes, Rounds: c.rounds}.normal()
		if err != nil {
			t.Fatal(err)
		}
		heats := max(c.n, c.lanes) * c.rounds
		moveSq, takeSq, stintSq, takeMost, moveMost := int64(math.MaxInt64), int64(math.MaxInt64), int64(math.MaxInt64), math.MaxInt, math.MaxInt
		moveLeast := 0
		tables := 0
		everyTable(c.n, c.lanes, heats, c.rounds, func(rows [][]int) {
			var f Figures
			at := stints(c.n, rows)
			f.moves(c.n, p.usable(), rows, at)
			f.evening(p, heats, at)
			moveSq, takeSq, stintSq = min(moveSq, f.MoveSq), min(takeSq, f.TakeSq), min(stintSq, f.StintSq)
			takeMost, moveMost, moveLeast = min(takeMost, f.TakeMost+f.TakeSame*1000), min(moveMost, f.MoveMost+f.MoveSame*1000), max(moveLeast, f.MoveLeast)
			tables++
		})
		d, err := Make(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		b := d.Bounds
		if tables == 0 {
			t.Fatalf("%+v: no table at all", c)
		}
		if b.MoveSq > moveSq || b.TakeSq > takeSq || b.StintSq > stintSq || b.TakeMost > takeMost || b.MoveMost > moveMost || b.MoveLeast < moveLeast {
			t.Errorf("%+v: bounds moves %d take-overs %d stints %d most %d %d least %d, but tables reach %d %d %d %d %d %d", c,
				b.MoveSq, b.TakeSq, b.StintSq, b.TakeMost, b.MoveMost, b.MoveLeast, moveSq, takeSq, stintSq, takeMost, moveMost, moveLeast)
		}
	}
}

// Marshals: for small tables, all rosters are tried.
func TestRosterIsExact(t *testing.T) {
	for _, c := range []struct{ n, lanes, posts int }{{4, 2, 1}, {5, 3, 1}, {5, 2, 1}, {5, 3, 2}, {4, 2, 2}, {6, 4, 1}, {4, 3, 2}} {
		rows, err := Rolling(Problem{Drivers: c.n, Lanes: c.lanes, Posts: c.posts})
		if err != nil {
			t.Fatal(err)
		}
		heats := rows.Heats
		bestSq, bestOwn := math.MaxInt, math.MaxInt
		count := make([]int, c.n)
		var next func(h, own int)
		next = func(h, own int) {
			if h == len(heats) {
				sq := 0
				for _, k := range count {
					sq += k * k
				}
				if sq < bestSq || sq == bestSq && own < bestOwn {
					bestSq, bestOwn = sq, own
				}
				return
			}
			var free []int
			for d := 1; d <= c.n; d++ {
				if !drives(heats[h], d) {
					free = append(free, d)
				}
			}
			k := min(c.posts, len(free))
			for set := range 1 << len(free) {
				own, in := own, 0
				for i, d := range free {
					if set>>i&1 == 1 {
						in++
						own += bit(h+1 < len(heats) && drives(heats[h+1], d))
					}
				}
				if in != k {
					continue
				}
				for i, d := range free {
					count[d-1] += set >> i & 1
				}
				next(h+1, own)
				for i, d := range free {
					count[d-1] -= set >> i & 1
				}
			}
		}
		next(0, 0)
		sq := 0
		for _, k := range duties(c.n, rows.Duty) {
			sq += k * k
		}
		if sq != bestSq || rows.Figures.BeforeOwn != bestOwn {
			t.Errorf("%+v: squares of duties %d, before own heat %d; best of all rosters %d and %d", c, sq, rows.Figures.BeforeOwn, bestSq, bestOwn)
		}
		if rows.Bounds.DutyLeast < rows.Figures.DutyLeast || rows.Bounds.DutyMost > rows.Figures.DutyMost || rows.Bounds.Unstaffed > rows.Figures.Unstaffed {
			t.Errorf("%+v: bounds %+v are beaten by %+v", c, rows.Bounds, rows.Figures)
		}
	}
}

func duties(n int, duty [][]int) []int {
	out := make([]int, n)
	for _, row := range duty {
		for _, x := range row {
			if x > 0 {
				out[x-1]++
			}
		}
	}
	return out
}
