package rotation

// chain swaps lanes a and b in heat h and then in as many other heats as it
// takes for everybody to have his lanes again: a Kempe chain. It says false,
// and leaves things half done for undo, when there is no such set of heats.
func (g *lanes) chain(h, a, b int, r *random) bool {
	g.stamp++
	g.swapped = g.swapped[:0]
	g.todo = g.todo[:0]
	add := func(h int) {
		g.mark[h] = g.stamp
		g.swapped = append(g.swapped, int16(h))
		for _, x := range []int16{g.seat[h*g.k+a], g.seat[h*g.k+b]} {
			if x >= 0 {
				g.todo = append(g.todo, x)
			}
		}
		g.flip(h, a, b)
	}
	add(h)
	for len(g.todo) > 0 {
		x := int(g.todo[len(g.todo)-1])
		g.todo = g.todo[:len(g.todo)-1]
		ca, cb := g.count[x*g.k+a], g.count[x*g.k+b]
		from := -1 // the lane he has too often or may give up
		switch {
		case ca > g.hi[x] || cb < g.lo[x]:
			from = a
		case cb > g.hi[x] || ca < g.lo[x]:
			from = b
		default:
			continue
		}
		mine := g.mine[x]
		off := 0
		if g.hi[x] > 1 {
			off = r.below(len(mine))
		}
		found := -1
		for i := range mine {
			j := i + off
			if j >= len(mine) {
				j -= len(mine)
			}
			if q := int(mine[j]); g.mark[q] != g.stamp && int(g.at[x*g.heats+q]) == from {
				found = q
				break
			}
		}
		if found < 0 {
			return false
		}
		g.todo = append(g.todo, int16(x)) // look at him again
		add(found)
	}
	return true
}

// undo takes back the last chain.
func (g *lanes) undo(a, b int) {
	for i := len(g.swapped) - 1; i >= 0; i-- {
		g.flip(int(g.swapped[i]), a, b)
	}
}

// settle improves the lanes level by level, as evening.settle does.
func (g *lanes) settle(order []laneLevel, goal laneTotals, moves int, r *random, stop func() bool) {
	if g.k < 2 || g.heats < 1 {
		return
	}
	var cap laneTotals
	for i, l := range order {
		g.phase(l, order[:i], &cap, goal[l], moves, r, stop)
		cap[l] = g.total[l]
		if l == laneTime {
			// a fifth, and a quarter of a standard error for everybody, may be
			// taken back: the last bit would freeze the lanes
			cap[l] += g.total[l]/5 + int64(g.n)
		}
	}
}

func (g *lanes) within(held []laneLevel, cap *laneTotals) bool {
	for _, l := range held {
		if g.total[l] > cap[l] {
			return false
		}
	}
	return true
}

func (g *lanes) phase(l laneLevel, held []laneLevel, cap *laneTotals, goal int64, moves int, r *random, stop func() bool) {
	if g.total[l] <= goal {
		return
	}
	draw := func() (h, a, b int) {
		h, a, b = r.below(g.heats), r.below(g.k), r.below(g.k-1)
		if b >= a {
			b++
		}
		return
	}
	var sum, count int64
	for range 100 {
		h, a, b := draw()
		before := g.total[l]
		if g.chain(h, a, b, r) && g.total[l] != before && g.within(held, cap) {
			sum += max(g.total[l]-before, before-g.total[l])
			count++
		}
		g.undo(a, b)
	}
	mean := max(1, sum/max(1, count))
	c := newCooling(max(mean*500, 300), min(400, max(50, mean*20)), moves)
	best, kept := g.total, append([]int16(nil), g.seat...)
	for i := range moves {
		if i&127 == 0 && stop() {
			break
		}
		g.tried++
		h, a, b := draw()
		if g.seat[h*g.k+a] == g.seat[h*g.k+b] { // both empty
			c.accept(0, r)
			continue
		}
		before := g.total[l]
		if !g.chain(h, a, b, r) || !g.within(held, cap) || !c.accept(g.total[l]-before, r) {
			g.undo(a, b)
			continue
		}
		if g.total[l] < best[l] {
			best = g.total
			copy(kept, g.seat)
			if best[l] <= goal {
				break
			}
		}
	}
	copy(g.seat, kept)
	g.recount()
}

// laneOrder turns an order of importance into levels of lanes.
func laneOrder(p Problem) []laneLevel {
	order := []laneLevel{laneBroken}
	if p.Kind == ShortKind && p.Costs != nil {
		order = append(order, laneCost)
	}
	for _, c := range p.Order {
		switch c {
		case Evening:
			order = append(order, laneTime)
			if p.Rounds > 1 {
				order = append(order, laneStint)
			}
		case Moves:
			order = append(order, laneMoves)
		}
	}
	return order
}

// pin renames lanes so that as much as possible of the wished first heat is
// kept. It does nothing where lanes are not all alike.
func (g *lanes) pin() {
	for _, b := range g.barred {
		if b {
			return
		}
	}
	for l, x := range g.first {
		if x < 0 {
			continue
		}
		for m := range g.k {
			if g.seat[m] != x || m == l {
				continue
			}
			for h := range g.heats {
				row := g.seat[h*g.k : (h+1)*g.k]
				row[l], row[m] = row[m], row[l]
			}
		}
	}
	g.recount()
}
