package rotation

import (
	"context"
	"testing"

	"pgregory.net/rapid"
)

// someProblem draws a problem with wishes that are no contradiction in
// themselves; they may still be broken by a random evening.
func someProblem(t *rapid.T) Problem {
	p := Problem{
		Drivers: rapid.IntRange(3, 12).Draw(t, "drivers"),
		Lanes:   rapid.IntRange(2, 5).Draw(t, "lanes"),
		Rounds:  rapid.IntRange(1, 2).Draw(t, "rounds"),
		Posts:   rapid.IntRange(0, 3).Draw(t, "posts"),
	}
	if rapid.Bool().Draw(t, "share") {
		p.Wishes.Share = []Share{{1, 2, rapid.Bool().Draw(t, "between")}, {2, 3, false}}
	}
	if rapid.Bool().Draw(t, "stay") {
		p.Wishes.Stay = []Stay{{1, 2, 0}, {3, 0, p.Drivers}}
	}
	if rapid.Bool().Draw(t, "first") {
		p.Wishes.First = []int{2, 0}
	}
	p, err := p.normal()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The searches keep running totals; they must be what counting anew gives.
func TestRunningTotalsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := someProblem(t)
		need := p.demand()
		extra := rapid.IntRange(0, 2).Draw(t, "extra")
		e := newEvening(p, fill(nil, need.each, p.Lanes, need.heats+extra))
		e.setLimit(rapid.IntRange(0, 4).Draw(t, "limit"))
		r := newRandom(rapid.Uint64().Draw(t, "seed"), 0)
		var m eveningMove
		for range 40 {
			m.draw(e, 5, r)
			if !m.ok {
				continue
			}
			before := e.total
			seats := append([]int16(nil), e.seat...)
			m.do(e)
			if r.below(2) == 0 {
				m.undo(e)
				if e.total != before {
					t.Fatalf("undone %+v: totals %v, before %v", m, e.total, before)
				}
				for i := range seats {
					if e.seat[i] != seats[i] {
						t.Fatalf("undone %+v: seat %d is not what it was", m, i)
					}
				}
			}
		}
		got := e.total
		e.recount()
		if e.total != got {
			t.Fatalf("running totals %v, counted anew %v", got, e.total)
		}
		f := measure(p, lanesFor(p, e.blocks(), p.usable()), nil)
		if f.PairSq != got[levelMeet] || f.Idle != got[levelWait] || f.MeanSq != got[levelTime] || f.Overlong != got[levelStreak] || f.Wait != e.longest() {
			t.Fatalf("running totals %v, figures %+v", got, f)
		}
	})
}

func TestLaneTotalsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := someProblem(t)
		if rapid.Bool().Draw(t, "costs") {
			p.Kind = ShortKind
			p.LanesEach = rapid.IntRange(1, p.Lanes+2).Draw(t, "each")
			p.Heats = shortHeats(p.Drivers, p.Lanes, p.LanesEach)
			p.Rounds = 1
			p.Costs = make([]float64, p.Lanes)
			for i := range p.Costs {
				p.Costs[i] = float64(rapid.IntRange(0, 300).Draw(t, "cost")) / 1000
			}
		}
		need := p.demand()
		heats := lanesFor(p, fill(nil, need.each, p.Lanes, need.heats), p.usable())
		g := newLanes(p, heats)
		r := newRandom(rapid.Uint64().Draw(t, "seed"), 0)
		for range 40 {
			h, a, b := r.below(g.heats), r.below(g.k), r.below(g.k-1)
			if b >= a {
				b++
			}
			before := g.total
			if !g.chain(h, a, b, r) || r.below(3) == 0 {
				g.undo(a, b)
				if g.total != before {
					t.Fatalf("undone: totals %v, before %v", g.total, before)
				}
			}
		}
		got := g.total
		rows := g.rows(p)
		g.recount()
		if g.total != got {
			t.Fatalf("running totals %v, counted anew %v", got, g.total)
		}
		f := measure(p, rows, nil)
		if f.LaneTimeSq != got[laneTime] || f.MoveSq+f.TakeSq != got[laneMoves] || p.Rounds > 1 && f.StintSq != got[laneStint] {
			t.Fatalf("running totals %v, figures %+v", got, f)
		}
		for d, at := range stints(p.Drivers, rows) {
			count := make([]int, p.Lanes)
			for _, s := range at {
				count[s.lane]++
			}
			for l, c := range count {
				if c < need.each[d]/p.Lanes || c > ceilDiv(need.each[d], p.Lanes) {
					t.Fatalf("driver %d drives lane %d %d times of %d heats", d+1, l+1, c, need.each[d])
				}
			}
		}
	})
}

func TestTableTotalsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := someProblem(t)
		need := p.demand()
		heats := lanesFor(p, fill(nil, need.each, p.Lanes, need.heats+1), p.usable())
		locked := rapid.IntRange(0, len(heats)-2).Draw(t, "locked")
		b := newTable(p, heats, locked, heats)
		r := newRandom(rapid.Uint64().Draw(t, "seed"), 0)
		b.weigh(p.Order, 10)
		for range 40 {
			h, g := locked+r.below(len(heats)-locked), locked+r.below(len(heats)-locked)
			if h == g {
				continue
			}
			set := b.linked(h, g, r.below(p.Lanes))
			before := b.value()
			b.swap(h, g, set)
			if r.below(2) == 0 {
				b.swap(h, g, set)
				if b.value() != before {
					t.Fatalf("swapped back: value %d, before %d", b.value(), before)
				}
			}
		}
		total, lt, moves, away := b.total, b.lt, b.moves, b.away
		rows := b.rows(p.Lanes)
		b.recountAll()
		if b.total != total || b.lt != lt || b.moves != moves || b.away != away {
			t.Fatalf("running totals %v %d %d %d, counted anew %v %d %d %d", total, lt, moves, away, b.total, b.lt, b.moves, b.away)
		}
		for h := range locked {
			for l := range rows[h] {
				if rows[h][l] != heats[h][l] {
					t.Fatalf("heat %d was run and has changed", h+1)
				}
			}
		}
		now, was := turnsOf(rows), turnsOf(heats)
		for k, v := range was {
			if now[k] != v {
				t.Fatalf("driver %d on lane %d: %d times, was %d", k[0], k[1]+1, now[k], v)
			}
		}
	})
}

func turnsOf(rows [][]int) map[[2]int]int {
	out := map[[2]int]int{}
	for _, row := range rows {
		for l, x := range row {
			if x > 0 {
				out[[2]int{x, l}]++
			}
		}
	}
	return out
}

func TestTurningTotalsAreExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(4, 24).Draw(t, "drivers")
		size := rapid.IntRange(2, min(8, n-1)).Draw(t, "lanes")
		rounds := rapid.IntRange(1, 2).Draw(t, "rounds")
		m := meeting{n: n, size: size, heats: n * rounds, each: size * rounds}
		all := m.groups(5)
		g := all[rapid.IntRange(0, len(all)-1).Draw(t, "group")]
		r := newRandom(rapid.Uint64().Draw(t, "seed"), 0)
		b := newTurning(n, size, g)
		if !b.start(m.heats, m.each, r) {
			return
		}
		b.anneal(0, 500, r, func() bool { return false })
		blocks := b.develop()
		sum := int64(0)
		for i, row := range Meetings(n, oneUp(blocks)) {
			for j, v := range row {
				if i < j {
					sum += int64(v * v)
				}
			}
		}
		if sum != b.cost || len(blocks) != m.heats {
			t.Fatalf("%v: cost %d, counted %d; %d blocks, want %d", g, b.cost, sum, len(blocks), m.heats)
		}
		for d, at := range stints(n, oneUp(blocks)) {
			if len(at) != m.each {
				t.Fatalf("%v: driver %d drives %d heats, want %d", g, d+1, len(at), m.each)
			}
		}
	})
}

// The inner loops must not allocate.
func TestMovesDoNotAllocate(t *testing.T) {
	p, _ := Problem{Drivers: 20, Lanes: 6, Posts: 2, Wishes: Wishes{Share: []Share{{1, 2, true}}}}.normal()
	s := &search{ctx: context.Background(), p: p}
	blocks := s.whoMeets(20, 6, 20, 6)[0].blocks
	r := newRandom(1, 1)
	e := newEvening(p, blocks)
	g := newLanes(p, lanesFor(p, blocks, p.usable()))
	for range 100 { // chains grow their buffers once
		g.chain(r.below(20), 0, 1, r)
	}
	b := newTable(p, g.rows(p), 0, nil)
	b.weigh(p.Order, 10)
	u := newTurning(20, 6, group{10, 1, 0})
	u.start(20, 6, r)
	for name, f := range map[string]func(){
		"order": func() { e.exchange(r.below(10), 10+r.below(10)) },
		"trade": func() { var m eveningMove; m.draw(e, 10, r); m.undo(e) },
		"lanes": func() { g.chain(r.below(20), r.below(3), 3+r.below(3), r) },
		"table": func() { h, k := r.below(10), 10+r.below(10); b.swap(h, k, b.linked(h, k, r.below(6))); _ = b.value() },
		"turning": func() {
			y := u.perm[1][u.block[0]]
			if !u.has[y] {
				u.replace(0, 0, y)
			}
		},
	} {
		if name == "trade" {
			f = func() {
				var m eveningMove
				if m.draw(e, 10, r); m.ok && m.kind != 2 {
					m.do(e)
				}
			}
		}
		if n := testing.AllocsPerRun(200, f); n != 0 {
			t.Errorf("a move of %s allocates %v times", name, n)
		}
	}
}
