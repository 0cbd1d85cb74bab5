package rotation

import "math"

// laneLevel is something the lanes can be judged by when it is settled who
// drives in which heat.
type laneLevel int

const (
	laneBroken laneLevel = iota // barred lanes driven, places of the first heat not kept
	laneCost                    // squares of drivers' lane costs, where they differ
	laneTime                    // squares of lane by time of evening
	laneStint                   // squares of mean heat number on each lane
	laneMoves                   // squares of moves and of take-overs
	laneLevels
)

type laneTotals [laneLevels]int64

func (t *laneTotals) less(u *laneTotals, order []laneLevel) bool {
	for _, l := range order {
		if t[l] != u[l] {
			return t[l] < u[l]
		}
	}
	return false
}

// lanes is who drives which lane, when it is settled who drives in which heat.
// Lanes count from 0 over those in use.
type lanes struct {
	n, k, heats     int
	seat            []int16   // heat, lane -> driver or -1
	at              []int8    // driver, heat -> lane or -1
	mine            [][]int16 // driver -> his heats in order
	prev, next      []int16   // driver, heat -> his heat before and after, or -1
	count           []int16   // driver, lane -> times
	lo, hi          []int16   // driver -> least and most times on a lane
	score           []int64   // lane -> its place among the lanes, see laneScores
	cost            []int64   // lane -> cost less the mean of lanes, finely scaled; nil without costs
	paid            []int64   // driver -> sum of his lane costs
	paidSum, paidSq int64     // over drivers
	lt, unit        []int64   // driver -> lane by time; its unit
	by              []int64   // driver, lane -> centred heat numbers
	moved           [LanesMax * LanesMax]int64
	take            []int32 // driver, driver -> take-overs
	sameMove        int64
	sameTake        int64
	stints          bool // laneStint is counted
	barred          []bool
	first           []int16 // lane -> who should drive heat 0 there, -1 for anybody
	total           laneTotals
	mark            []int32 // heat -> swap it was last part of
	stamp           int32
	swapped         []int16
	todo            []int16
	tried           int64
}

// costScale turns lane costs into whole numbers for the proof: a millionth of a
// unit.
const costScale = 1e6

// laneCosts gives the lanes in use whole numbers up to a million that differ as
// their costs do; nil without costs.
func laneCosts(p Problem) []int64 {
	if p.Costs == nil {
		return nil
	}
	use := p.usable()
	mean, most := 0.0, 0.0
	for _, l := range use {
		mean += p.Costs[l-1] / float64(len(use))
	}
	for _, l := range use {
		most = max(most, math.Abs(p.Costs[l-1]-mean))
	}
	out := make([]int64, len(use))
	for i, l := range use {
		if most > 0 {
			out[i] = int64(math.Round((p.Costs[l-1] - mean) / most * 1e6))
		}
	}
	return out
}

// newLanes takes heats with lanes already given, under p.
func newLanes(p Problem, heats [][]int) *lanes {
	use := p.usable()
	n, k, nh := p.Drivers, len(use), len(heats)
	g := &lanes{n: n, k: k, heats: nh, seat: make([]int16, nh*k), at: make([]int8, n*nh), mine: make([][]int16, n),
		prev: make([]int16, n*nh), next: make([]int16, n*nh), count: make([]int16, n*k), lo: make([]int16, n), hi: make([]int16, n),
		lt: make([]int64, n), unit: make([]int64, n), by: make([]int64, n*k), take: make([]int32, n*n), mark: make([]int32, nh),
		stints: p.Rounds > 1, barred: make([]bool, n*k), paid: make([]int64, n)}
	score := laneScores(p)
	for _, l := range use {
		g.score = append(g.score, score[l-1])
	}
	g.cost = laneCosts(p)
	for i, l := range use {
		w := int16(-1)
		if l <= len(p.Wishes.First) {
			w = int16(p.Wishes.First[l-1] - 1)
		}
		g.first = append(g.first, w)
		for _, b := range p.Wishes.Bar {
			if b.Lane == l {
				g.barred[(b.Driver-1)*k+i] = true
			}
		}
	}
	for i := range g.at {
		g.at[i] = -1
	}
	for h, row := range heats {
		for i, l := range use {
			x := row[l-1] - 1
			g.seat[h*k+i] = int16(x)
			if x >= 0 {
				g.at[x*nh+h] = int8(i)
				g.mine[x] = append(g.mine[x], int16(h))
			}
		}
	}
	moves := 0
	for x := range n {
		last := int16(-1)
		for _, h := range g.mine[x] {
			g.prev[x*nh+int(h)] = last
			if last >= 0 {
				g.next[x*nh+int(last)] = h
			}
			g.next[x*nh+int(h)] = -1
			last = h
		}
		each := len(g.mine[x])
		moves += max(0, each-1)
		g.lo[x], g.hi[x] = int16(each/k), int16(ceilDiv(each, k))
		for i := range k {
			if g.barred[x*k+i] {
				g.lo[x], g.hi[x] = 0, int16(p.Rounds)
			}
		}
		g.unit[x] = laneTimeUnit(max(each, 1), k, nh)
	}
	if k > 1 {
		g.sameMove = sameWeight(moves, k*(k-1))
	}
	if n > 1 {
		g.sameTake = sameWeight(k*(nh-1), n*(n-1))
	}
	g.recount()
	return g
}

// centred is twice a heat number less its mean over the evening.
func (g *lanes) centred(h int) int64 { return int64(2*h + 1 - g.heats) }

// recount works out all totals from the seats.
func (g *lanes) recount() {
	g.total = laneTotals{}
	clear(g.count)
	clear(g.lt)
	clear(g.by)
	clear(g.take)
	clear(g.paid)
	g.paidSum, g.paidSq = 0, 0
	clear(g.moved[:])
	for h := range g.heats {
		for l := range g.k {
			x := int(g.seat[h*g.k+l])
			if x < 0 {
				continue
			}
			g.at[x*g.heats+h] = int8(l)
			g.count[x*g.k+l]++
			g.lt[x] += g.centred(h) * g.score[l]
			g.by[x*g.k+l] += g.centred(h)
			if g.cost != nil {
				g.paid[x] += g.cost[l]
			}
			if g.barred[x*g.k+l] {
				g.total[laneBroken]++
			}
		}
	}
	for l, x := range g.first {
		if x >= 0 && g.heats > 0 && g.seat[l] != x {
			g.total[laneBroken]++
		}
	}
	for x := range g.n {
		g.total[laneTime] += g.ltCost(x)
		for _, h := range g.mine[x] {
			if p := g.prev[x*g.heats+int(h)]; p >= 0 {
				g.move(int(g.at[x*g.heats+int(p)]), int(g.at[x*g.heats+int(h)]), 1)
			}
		}
		g.paidSum += g.paid[x]
		g.paidSq += g.paid[x] * g.paid[x]
	}
	g.total[laneCost] = g.spread()
	if g.stints {
		for _, b := range g.by {
			g.total[laneStint] += b * b
		}
	}
	for h := 1; h < g.heats; h++ {
		for l := range g.k {
			g.pass(g.seat[(h-1)*g.k+l], g.seat[h*g.k+l], 1)
		}
	}
}

// ltCost is the part of driver x in laneTime.
func (g *lanes) ltCost(x int) int64 {
	v := max(g.lt[x], -g.lt[x]) / g.unit[x]
	return v * v
}

// spread is n times the sum of squares of the drivers' lane costs about their
// mean; at most 60 drivers of 24 heats keep it below 2^62.
func (g *lanes) spread() int64 {
	if g.cost == nil {
		return 0
	}
	return int64(g.n)*g.paidSq - g.paidSum*g.paidSum
}

// move counts by moves from lane a to lane b.
func (g *lanes) move(a, b int, by int64) {
	if a == b {
		g.moved[a*LanesMax+a] += by
		g.total[laneMoves] += by * g.sameMove
		return
	}
	m := &g.moved[a*LanesMax+b]
	g.total[laneMoves] += by * (2**m + by)
	*m += by
}

// pass counts by take-overs of a lane from x by y.
func (g *lanes) pass(x, y int16, by int32) {
	if x < 0 || y < 0 {
		return
	}
	if x == y {
		g.total[laneMoves] += int64(by) * g.sameTake
		return
	}
	t := &g.take[int(x)*g.n+int(y)]
	g.total[laneMoves] += int64(by * (2**t + by))
	*t += by
}

// passes counts the take-overs on lane l into and out of heat h.
func (g *lanes) passes(h, l int, by int32) {
	i := h*g.k + l
	if h > 0 {
		g.pass(g.seat[i-g.k], g.seat[i], by)
	}
	if h+1 < g.heats {
		g.pass(g.seat[i], g.seat[i+g.k], by)
	}
}

// flip swaps what is on lanes a and b of heat h, with all totals.
func (g *lanes) flip(h, a, b int) {
	g.passes(h, a, -1)
	g.passes(h, b, -1)
	x, y := g.seat[h*g.k+a], g.seat[h*g.k+b]
	g.seat[h*g.k+a], g.seat[h*g.k+b] = y, x
	g.passes(h, a, 1)
	g.passes(h, b, 1)
	if h == 0 {
		g.total[laneBroken] += g.misplaced(a, y) + g.misplaced(b, x) - g.misplaced(a, x) - g.misplaced(b, y)
	}
	if x >= 0 {
		g.shift(int(x), h, a, b)
	}
	if y >= 0 {
		g.shift(int(y), h, b, a)
	}
}

func (g *lanes) misplaced(l int, x int16) int64 {
	if w := g.first[l]; w >= 0 && w != x {
		return 1
	}
	return 0
}

// shift moves driver x in heat h from lane a to lane b in all his totals.
func (g *lanes) shift(x, h, a, b int) {
	i := x*g.heats + h
	if p := g.prev[i]; p >= 0 {
		l := int(g.at[x*g.heats+int(p)])
		g.move(l, a, -1)
		g.move(l, b, 1)
	}
	if q := g.next[i]; q >= 0 {
		l := int(g.at[x*g.heats+int(q)])
		g.move(a, l, -1)
		g.move(b, l, 1)
	}
	g.at[i] = int8(b)
	g.count[x*g.k+a]--
	g.count[x*g.k+b]++
	c := g.centred(h)
	g.total[laneTime] -= g.ltCost(x)
	g.lt[x] += c * (g.score[b] - g.score[a])
	g.total[laneTime] += g.ltCost(x)
	if g.stints {
		u, v := &g.by[x*g.k+a], &g.by[x*g.k+b]
		g.total[laneStint] += c*(c-2**u) + c*(c+2**v)
		*u -= c
		*v += c
	}
	if g.cost != nil {
		d := g.cost[b] - g.cost[a]
		g.paidSum += d
		g.paidSq += d * (2*g.paid[x] + d)
		g.paid[x] += d
		g.total[laneCost] = g.spread()
	}
	g.total[laneBroken] += int64(bit(g.barred[x*g.k+b]) - bit(g.barred[x*g.k+a]))
}

// rows returns the heats over all lanes of the track.
func (g *lanes) rows(p Problem) [][]int {
	use := p.usable()
	out := make([][]int, g.heats)
	for h := range out {
		out[h] = make([]int, p.Lanes)
		for i, l := range use {
			out[h][l-1] = int(g.seat[h*g.k+i]) + 1
		}
	}
	return out
}
