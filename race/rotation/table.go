package rotation

import "math/bits"

// table is an evening with its lanes: seat h*lanes+l is who drives lane l in
// heat h. Its move swaps some lanes of two heats and keeps, for everybody,
// which lanes he drives how often: a Kempe chain between two heats. It serves
// where drivers still need different lanes, as after a change in mid-evening.
type table struct {
	*evening
	at     []int8 // driver, heat -> lane, -1
	score  []int64
	unit   []int64
	ltOf   []int64 // driver -> his part of the lane by time total
	lt     int64
	moved  [LanesMax * LanesMax]int64
	take   []int32
	moves  int64   // squares of moves and take-overs
	old    []int16 // the plan before, seat by seat; -2 where there was none
	away   int64   // seats that differ from it
	factor [levels + 3]int64
	lanesP []int // lanes of the track in use
}

// newTable takes heats over the lanes in use; the first locked ones are run.
func newTable(p Problem, heats [][]int, locked int, old [][]int) *table {
	e := newEvening(p, make([][]int, len(heats)))
	use := p.usable()
	k := len(use)
	nh := len(heats)
	e.locked, e.limit = locked, HeatsMax
	t := &table{evening: e, at: make([]int8, e.n*nh), unit: make([]int64, e.n), ltOf: make([]int64, e.n),
		take: make([]int32, e.n*e.n), old: make([]int16, nh*k), lanesP: use}
	score := laneScores(p)
	for _, l := range use {
		t.score = append(t.score, score[l-1])
	}
	for h, row := range heats {
		for i, l := range use {
			e.seat[h*k+i] = int16(row[l-1] - 1)
			t.old[h*k+i] = -2
			if h < len(old) {
				t.old[h*k+i] = int16(old[h][l-1] - 1)
			}
		}
	}
	t.recountAll()
	return t
}

func (t *table) recountAll() {
	t.recount()
	for i := range t.at {
		t.at[i] = -1
	}
	clear(t.take)
	clear(t.moved[:])
	t.lt, t.moves, t.away = 0, 0, 0
	for h := range t.heats {
		for l := range t.lanes {
			if x := int(t.seat[h*t.lanes+l]); x >= 0 {
				t.at[x*t.heats+h] = int8(l)
			}
			t.away += t.differs(h*t.lanes + l)
		}
	}
	for x := range t.n {
		t.unit[x] = laneTimeUnit(max(1, t.each[x]), t.lanes, t.heats)
		t.ltOf[x] = 0
		t.lanesOf(x, 1)
	}
	for h := 1; h < t.heats; h++ {
		for l := range t.lanes {
			t.pass(h, l, 1)
		}
	}
}

// differs says whether a driven seat is another's than in the old plan.
func (t *table) differs(i int) int64 {
	if t.seat[i] >= 0 && t.old[i] >= -1 && t.seat[i] != t.old[i] {
		return 1
	}
	return 0
}

// lanesOf adds (by 1) or takes away (by -1) what driver x's lanes count for.
func (t *table) lanesOf(x int, by int64) {
	last, lt := -1, int64(0)
	for w := range t.words {
		for b := t.when[x*t.words+w]; b != 0; b &= b - 1 {
			h := w<<6 + bits.TrailingZeros64(b)
			l := int(t.at[x*t.heats+h])
			lt += int64(2*h+1-t.heats) * t.score[l]
			if last >= 0 {
				m := &t.moved[last*LanesMax+l]
				t.moves += by * (2**m + by)
				*m += by
			}
			last = l
		}
	}
	v := max(lt, -lt) / t.unit[x]
	t.lt += by * v * v
}

// pass adds or takes away the take-over on lane l into heat h.
func (t *table) pass(h, l int, by int32) {
	if h < 1 || h >= t.heats {
		return
	}
	x, y := t.seat[(h-1)*t.lanes+l], t.seat[h*t.lanes+l]
	if x < 0 || y < 0 {
		return
	}
	c := &t.take[int(x)*t.n+int(y)]
	t.moves += int64(by * (2**c + by))
	*c += by
}

// passes does so for the lanes of set around heats h and g.
func (t *table) passes(h, g int, set uint, by int32) {
	for s := set; s != 0; s &= s - 1 {
		l := bits.TrailingZeros(s)
		t.pass(h, l, by)
		t.pass(h+1, l, by)
		if g != h+1 {
			t.pass(g, l, by)
		}
		if g+1 != h {
			t.pass(g+1, l, by)
		}
	}
}

// linked is the least set of lanes with lane l that can be swapped between
// heats h and g without anybody driving twice in one of them.
func (t *table) linked(h, g, l int) uint {
	set, todo := uint(0), uint(1)<<l
	for todo != 0 {
		l := bits.TrailingZeros(todo)
		todo &= todo - 1
		set |= 1 << l
		if x := t.seat[h*t.lanes+l]; x >= 0 && t.in[g]>>x&1 == 1 {
			if m := uint(1) << t.at[int(x)*t.heats+g]; set&m == 0 {
				todo |= m
			}
		}
		if y := t.seat[g*t.lanes+l]; y >= 0 && t.in[h]>>y&1 == 1 {
			if m := uint(1) << t.at[int(y)*t.heats+h]; set&m == 0 {
				todo |= m
			}
		}
	}
	return set
}

// swap exchanges the lanes of set between heats h and g, with all totals. Doing
// it twice undoes it.
func (t *table) swap(h, g int, set uint) {
	k := t.lanes
	var who, fromH, fromG uint64
	for s := set; s != 0; s &= s - 1 {
		l := bits.TrailingZeros(s)
		if x := t.seat[h*k+l]; x >= 0 {
			who |= 1 << x
			fromH |= 1 << x
		}
		if y := t.seat[g*k+l]; y >= 0 {
			who |= 1 << y
			fromG |= 1 << y
		}
		t.away -= t.differs(h*k+l) + t.differs(g*k+l)
	}
	both := fromH & fromG
	fromH, fromG = fromH&^both, fromG&^both
	for s := who; s != 0; s &= s - 1 {
		t.lanesOf(bits.TrailingZeros64(s), -1)
	}
	t.passes(h, g, set, -1)
	t.total[levelForced] -= t.forcedAround(h, g)
	t.total[levelBroken] -= t.brokenOf(who)
	for s := fromH; s != 0; s &= s - 1 {
		t.leave(int16(bits.TrailingZeros64(s)), h)
	}
	for s := fromG; s != 0; s &= s - 1 {
		t.leave(int16(bits.TrailingZeros64(s)), g)
	}
	for s := set; s != 0; s &= s - 1 {
		l := bits.TrailingZeros(s)
		a, b := &t.seat[h*k+l], &t.seat[g*k+l]
		*a, *b = *b, *a
	}
	for s := fromH; s != 0; s &= s - 1 {
		x := bits.TrailingZeros64(s)
		t.join(int16(x), g)
		t.at[x*t.heats+h] = -1
	}
	for s := fromG; s != 0; s &= s - 1 {
		x := bits.TrailingZeros64(s)
		t.join(int16(x), h)
		t.at[x*t.heats+g] = -1
	}
	for s := set; s != 0; s &= s - 1 {
		l := bits.TrailingZeros(s)
		if x := t.seat[h*k+l]; x >= 0 {
			t.at[int(x)*t.heats+h] = int8(l)
		}
		if y := t.seat[g*k+l]; y >= 0 {
			t.at[int(y)*t.heats+g] = int8(l)
		}
		t.away += t.differs(h*k+l) + t.differs(g*k+l)
	}
	for s := who; s != 0; s &= s - 1 {
		x := bits.TrailingZeros64(s)
		t.refresh(x)
		t.lanesOf(x, 1)
	}
	t.passes(h, g, set, 1)
	t.total[levelForced] += t.forcedAround(h, g)
	t.total[levelBroken] += t.brokenOf(who)
}

// weigh sets what each total counts for in a re-draw, where criteria and the
// stability of the plan are weighed against each other: halving from criterion
// to criterion in the order of importance. One pair meeting once too often
// counts as much as six seats at stability 10.
func (t *table) weigh(order []Criterion, stability int) {
	w := int64(16)
	for _, c := range order {
		switch c {
		case Opponents:
			t.factor[levelMeet] = 32 * w
		case Waiting:
			t.factor[levelStreak], t.factor[levelWait] = 64*w, 4*w
		case Evening:
			t.factor[levelTime], t.factor[levels] = w, 4*w
		case Moves:
			t.factor[levels+1] = 8 * w
		case Marshals:
			t.factor[levelForced] = 32 * w
		}
		w /= 2
	}
	t.factor[levelBroken], t.factor[levelUneven] = 1<<24, 256
	t.factor[levels+2] = 16 * int64(stability)
}

// value is what a re-draw minimizes.
func (t *table) value() int64 {
	sum := int64(0)
	for l := range levels {
		if l == levelTime {
			sum += t.factor[l] * (t.total[l] * 64 / int64(t.heats*t.heats))
			continue
		}
		sum += t.factor[l] * t.total[l]
	}
	return sum + t.factor[levels]*t.lt + t.factor[levels+1]*t.moves + t.factor[levels+2]*t.away
}

// anneal improves the heats that are not locked.
func (t *table) anneal(moves int, r *random, stop func() bool) {
	free := t.heats - t.locked
	if free < 2 || t.lanes < 1 {
		return
	}
	draw := func() (h, g int, set uint) {
		h = t.locked + r.below(free)
		g = t.locked + r.below(free-1)
		if g >= h {
			g++
		}
		if r.below(4) == 0 {
			return h, g, 1<<t.lanes - 1 // whole heats
		}
		return h, g, t.linked(h, g, r.below(t.lanes))
	}
	now := t.value()
	var sum, count int64
	for range 100 {
		h, g, set := draw()
		t.swap(h, g, set)
		if d := t.value() - now; d != 0 && max(d, -d) < 1<<23 {
			sum += max(d, -d)
			count++
		}
		t.swap(h, g, set)
	}
	mean := max(1, sum/max(1, count))
	c := newCooling(mean*300, max(50, mean*10), moves)
	best, kept := now, append([]int16(nil), t.seat...)
	for i := range moves {
		if i&63 == 0 && stop() {
			break
		}
		t.evening.moved++
		h, g, set := draw()
		t.swap(h, g, set)
		v := t.value()
		if !c.accept(v-now, r) {
			t.swap(h, g, set)
			continue
		}
		now = v
		if now < best {
			best = now
			copy(kept, t.seat)
		}
	}
	copy(t.seat, kept)
	t.recountAll()
}

// rows returns the heats over all lanes of the track.
func (t *table) rows(lanes int) [][]int {
	out := make([][]int, t.heats)
	for h := range out {
		out[h] = make([]int, lanes)
		for i, l := range t.lanesP {
			out[h][l-1] = int(t.seat[h*t.lanes+i]) + 1
		}
	}
	return out
}
