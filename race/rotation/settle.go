package rotation

// plan is the order in which an evening is settled.
type plan struct {
	order []level
	goal  totals // a level at its goal is done
	moves int    // spent on each level
	meet  int    // so many times as many on the meetings
}

// planFor turns an order of importance into levels. Wishes come first, then
// empty seats spread evenly. Moves come with the lanes, and of the marshals
// only what the order of the heats decides.
func planFor(order []Criterion, b Figures, moves int) plan {
	p := plan{order: []level{levelBroken, levelUneven}, moves: moves, meet: 1}
	for _, c := range order {
		switch c {
		case Opponents:
			p.order = append(p.order, levelMeet)
		case Waiting:
			p.order = append(p.order, levelStreak, levelLong, levelWait)
		case Evening:
			p.order = append(p.order, levelTime)
		case Marshals:
			p.order = append(p.order, levelForced)
		}
	}
	p.goal[levelMeet], p.goal[levelWait], p.goal[levelTime] = b.PairSq, b.Idle, b.MeanSq
	return p
}

// slack is what later levels may take back from one that is settled: nothing,
// save a twentieth of the squares of waits, as their last few would freeze the
// order of the evening. The longest wait and the longest streak stay.
func slack(l level, value int64) int64 {
	if l == levelWait {
		return value / 20
	}
	return 0
}

// settle improves an evening level by level and gives up nothing of a level
// for a later one, save for slack. It stops where wishes stay broken.
func (e *evening) settle(p plan, wait int, r *random, stop func() bool) {
	var cap totals
	var held []level
	for _, l := range p.order {
		if l == levelBroken && e.wish != nil {
			// first without changing who meets whom
			e.anneal(l, held, cap, p.goal[l], p.moves, 0, hot, r, stop)
		}
		if l == levelLong {
			e.shorten(held, cap, wait, p.moves, r, stop)
		} else {
			moves := p.moves
			if l == levelMeet {
				moves *= p.meet
			}
			e.phase(l, held, cap, p.goal[l], moves, r, stop)
		}
		e.settled[l] = e.total[l]
		if l == levelLong {
			e.settled[l] = int64(e.longest())
		}
		if l == levelBroken && e.total[l] > 0 {
			return // of no use
		}
		cap[l] = e.total[l] + slack(l, e.total[l])
		held = append(held, l)
	}
}

// shorten brings down the longest wait step by step, at best to bound.
func (e *evening) shorten(held []level, cap totals, bound, moves int, r *random, stop func() bool) {
	for {
		w := e.longest()
		e.setLimit(w)
		if w <= bound || stop() {
			return
		}
		var before kept
		e.keep(&before)
		e.setLimit(w - 1)
		e.phase(levelLong, held, cap, 0, moves, r, stop)
		if e.total[levelLong] > 0 {
			e.restore(&before)
			e.setLimit(w)
			return
		}
	}
}

// kept is a copy of what tells evenings apart.
type kept struct {
	seat  []int16
	total totals
}

func (e *evening) keep(k *kept) {
	k.seat = append(k.seat[:0], e.seat...)
	k.total = e.total
}

func (e *evening) restore(k *kept) {
	copy(e.seat, k.seat)
	e.recount()
}

// within says whether no level held has got worse than its cap.
func (e *evening) within(held []level, cap *totals) bool {
	for _, l := range held {
		if e.total[l] > cap[l] {
			return false
		}
	}
	return true
}

// phase anneals level l and gives up nothing of the levels held.
func (e *evening) phase(l level, held []level, cap totals, goal int64, moves int, r *random, stop func() bool) {
	if l == levelMeet {
		// what structure there is should not be melted down without need
		e.anneal(l, held, cap, goal, moves, e.tradesPay(l, held), cold, r, stop)
	}
	var best kept
	e.keep(&best)
	e.anneal(l, held, cap, goal, moves, e.tradesPay(l, held), hot, r, stop)
	if e.total[l] > best.total[l] {
		e.restore(&best)
	}
}

// Start temperatures in thousandths of what a move changes as a rule.
const hot, cold = 400, 60

// brokenWeight is what a broken wish weighs against squares of meetings while
// wishes are being mended by trades: the meetings are not to be thrown away on
// the way.
const brokenWeight = 30

// value is what a search of level l minimizes.
func (e *evening) value(l level, trades int) int64 {
	if l == levelBroken && trades > 0 {
		return brokenWeight*e.total[l] + e.total[levelMeet]
	}
	return e.total[l]
}

// anneal does it with so many trades of ten moves, from the given start
// temperature on.
func (e *evening) anneal(l level, held []level, cap totals, goal int64, moves, trades int, start int64, r *random, stop func() bool) {
	if e.total[l] <= goal || e.heats-e.locked < 2 {
		return
	}
	var m eveningMove
	// What a single move changes as a rule sets the start temperature.
	var sum, count int64
	for range 200 {
		m.draw(e, trades, r)
		if !m.ok {
			continue
		}
		before := e.value(l, trades)
		m.do(e)
		if d := e.value(l, trades) - before; d != 0 && e.within(held, &cap) {
			sum += max(d, -d)
			count++
		}
		m.undo(e)
	}
	mean := max(1, sum/max(1, count))
	c := newCooling(max(mean*start, 300), min(300, max(50, mean*20)), moves)
	var best kept
	e.keep(&best)
	least := e.value(l, trades)
	for i := 0; i < moves; i++ {
		if i&255 == 0 && stop() {
			break
		}
		e.moved++
		m.draw(e, trades, r)
		if !m.ok {
			c.accept(0, r)
			continue
		}
		before := e.value(l, trades)
		m.do(e)
		now := e.value(l, trades)
		if !e.within(held, &cap) || !c.accept(now-before, r) {
			m.undo(e)
			continue
		}
		if e.total[l] < best.total[l] || e.total[l] == best.total[l] && now < least {
			e.keep(&best)
			least = now
			if best.total[l] <= goal && (l != levelBroken || trades == 0) {
				break
			}
		}
	}
	e.restore(&best)
}

// tradesPay says of ten moves how many should trade drivers between heats; the
// others exchange whole heats.
func (e *evening) tradesPay(l level, held []level) int {
	if l == levelMeet || l == levelUneven {
		return 10
	}
	if l == levelBroken {
		return 6
	}
	for _, h := range held {
		if h == levelMeet {
			return 2
		}
	}
	return 7
}

// eveningMove is one move that can be undone.
type eveningMove struct {
	ok         bool
	kind       int // 0 exchange, 1 trade, 2 rename
	h, i, g, j int
}

func (m *eveningMove) draw(e *evening, trades int, r *random) {
	free := e.heats - e.locked
	m.h = e.locked + r.below(free)
	m.g = e.locked + r.below(free-1)
	if m.g >= m.h {
		m.g++
	}
	m.ok = true
	m.kind = 0
	if r.below(10) >= trades {
		if e.wish != nil && r.below(4) == 0 && e.locked == 0 {
			m.kind = 2
			m.h, m.g = r.below(e.n), r.below(e.n)
			m.ok = m.h != m.g && e.each[m.h] == e.each[m.g]
		} else {
			m.ok = e.in[m.h] != e.in[m.g]
		}
		return
	}
	m.kind = 1
	m.i, m.j = r.below(e.lanes), r.below(e.lanes)
	x, y := e.seat[m.h*e.lanes+m.i], e.seat[m.g*e.lanes+m.j]
	m.ok = x != y && (x < 0 || e.in[m.g]>>x&1 == 0) && (y < 0 || e.in[m.h]>>y&1 == 0)
}

func (m *eveningMove) do(e *evening) {
	switch m.kind {
	case 0:
		e.exchange(m.h, m.g)
	case 1:
		e.trade(m.h, m.i, m.g, m.j)
	case 2:
		e.rename(m.h, m.g)
	}
}

func (m *eveningMove) undo(e *evening) { m.do(e) }
