package rotation

// A turning draw is one that a turn of the drivers maps onto itself: the
// drivers lie on k circles of m places, and every base block stands for the m
// heats that come of turning all circles together. Whatever the base blocks
// are, every driver of a circle drives equally often, so a search over base
// blocks visits valid draws only, and few of them. With m = n these are cyclic
// designs, with m = 1 there is no structure and the search is over single
// heats. Source: John & Williams, "Cyclic and Computer Generated Designs",
// 1995 (from memory); difference families, any handbook of designs.
type turning struct {
	n, m, size int     // drivers, places of a circle, drivers in a block
	orbit      []int32 // pair x,y -> number of its class under the turn
	weight     []int64 // class -> cost of (number of base pairs in it)^2
	count      []int32 // class -> base pairs in it
	block      []int16 // base blocks, flat, size each
	has        []bool  // base block, driver -> is in it
	cost       int64   // sum over pairs of drivers of meetings^2
	moved      int64
}

// newTurning sets up circles of m places; m must divide n.
func newTurning(n, m, size int) *turning {
	t := &turning{n: n, m: m, size: size, orbit: make([]int32, n*n)}
	for i := range t.orbit {
		t.orbit[i] = -1
	}
	for x := range n {
		for y := x + 1; y < n; y++ {
			if t.orbit[x*n+y] >= 0 {
				continue
			}
			pairs := int64(0)
			id := int32(len(t.weight))
			for s := range m {
				a, b := t.turn(x, s), t.turn(y, s)
				if t.orbit[a*n+b] < 0 {
					pairs++
				}
				t.orbit[a*n+b], t.orbit[b*n+a] = id, id
			}
			// each base pair gives m/pairs meetings to each pair of the class
			t.weight = append(t.weight, pairs*(int64(m)/pairs)*(int64(m)/pairs))
		}
	}
	t.count = make([]int32, len(t.weight))
	return t
}

// turn moves driver x on by s places of his circle.
func (t *turning) turn(x, s int) int { return x/t.m*t.m + (x%t.m+s)%t.m }

// start fills base blocks at random so that every driver drives each times in
// the turned draw. Blocks are filled from the drivers who are owed most.
func (t *turning) start(blocks, each int, r *random) {
	n, size := t.n, t.size
	circles := n / t.m
	owed := make([]int, circles) // base seats still owed to each circle
	for i := range owed {
		owed[i] = each
	}
	t.block, t.has = make([]int16, 0, blocks*size), make([]bool, blocks*n)
	places := make([]int, t.m)
	for b := range blocks {
		for i := 0; i < size; i++ {
			// the circle that is owed most and has room; a random one of them
			best, ties := -1, 0
			for c := range circles {
				in := 0
				for s := range t.m {
					if t.has[b*n+c*t.m+s] {
						in++
					}
				}
				if in == t.m || best >= 0 && owed[c] < owed[best] {
					continue
				}
				if best < 0 || owed[c] > owed[best] {
					best, ties = c, 1
				} else if ties++; r.below(ties) == 0 {
					best = c
				}
			}
			owed[best]--
			for s := range places {
				places[s] = s
			}
			r.shuffle(places)
			for _, s := range places {
				if x := best*t.m + s; !t.has[b*n+x] {
					t.has[b*n+x] = true
					t.block = append(t.block, int16(x))
					break
				}
			}
		}
	}
	t.recount()
}

// set takes given base blocks.
func (t *turning) set(base [][]int) {
	t.block, t.has = nil, make([]bool, len(base)*t.n)
	for b, block := range base {
		for _, x := range block {
			t.block = append(t.block, int16(x))
			t.has[b*t.n+x] = true
		}
	}
	t.recount()
}

func (t *turning) recount() {
	clear(t.count)
	for b := 0; b < len(t.block); b += t.size {
		block := t.block[b : b+t.size]
		for i, x := range block {
			for _, y := range block[i+1:] {
				t.count[t.orbit[int(x)*t.n+int(y)]]++
			}
		}
	}
	t.cost = 0
	for o, c := range t.count {
		t.cost += t.weight[o] * int64(c) * int64(c)
	}
}

// replace puts driver y in place i of base block b and updates all totals.
func (t *turning) replace(b, i int, y int16) {
	block := t.block[b*t.size : (b+1)*t.size]
	x := block[i]
	rx, ry := t.orbit[int(x)*t.n:][:t.n], t.orbit[int(y)*t.n:][:t.n]
	cost := int64(0)
	for j, z := range block {
		if j == i {
			continue
		}
		o := rx[z]
		t.count[o]--
		cost -= t.weight[o] * int64(2*t.count[o]+1)
		o = ry[z]
		cost += t.weight[o] * int64(2*t.count[o]+1)
		t.count[o]++
	}
	block[i] = y
	t.has[b*t.n+int(x)], t.has[b*t.n+int(y)] = false, true
	t.cost += cost
}

// anneal searches base blocks for the least sum of squares and stops at goal.
// It keeps the best blocks seen. stop is asked now and then whether to give up.
func (t *turning) anneal(goal int64, moves int, r *random, stop func() bool) {
	blocks := len(t.block) / t.size
	unit := int64(2 * t.m)
	c := newCooling(unit*1500, unit*120, moves)
	best, kept := t.cost, append([]int16(nil), t.block...)
	n, size := t.n, t.size
	for i := 0; i < moves && best > goal; i++ {
		if i&4095 == 0 && stop() {
			break
		}
		t.moved++
		a := r.below(blocks)
		ia := r.below(size)
		x := t.block[a*size+ia]
		before := t.cost
		if t.m > 1 && (blocks == 1 || r.below(2) == 0) {
			// another place on the same circle
			y := int16(t.turn(int(x), 1+r.below(t.m-1)))
			if t.has[a*n+int(y)] {
				continue
			}
			t.replace(a, ia, y)
			if !c.accept(t.cost-before, r) {
				t.replace(a, ia, x)
			}
		} else {
			if blocks == 1 {
				break
			}
			b := r.below(blocks - 1)
			if b >= a {
				b++
			}
			ib := r.below(size)
			y := t.block[b*size+ib]
			if x == y || t.has[a*n+int(y)] || t.has[b*n+int(x)] {
				continue
			}
			t.replace(a, ia, y)
			t.replace(b, ib, x)
			if !c.accept(t.cost-before, r) {
				t.replace(b, ib, y)
				t.replace(a, ia, x)
			}
		}
		if t.cost < best {
			best = t.cost
			copy(kept, t.block)
		}
	}
	copy(t.block, kept)
	clear(t.has)
	for i, x := range t.block {
		t.has[i/size*n+int(x)] = true
	}
	t.recount()
}

// develop turns the base blocks into the blocks of all heats.
func (t *turning) develop() [][]int {
	var out [][]int
	for b := 0; b < len(t.block); b += t.size {
		for s := range t.m {
			row := make([]int, t.size)
			for i, x := range t.block[b : b+t.size] {
				row[i] = t.turn(int(x), s)
			}
			out = append(out, row)
		}
	}
	return out
}
