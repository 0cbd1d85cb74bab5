package rotation

import "fmt"

// A turning draw is one that a turn of the drivers maps onto itself: the
// drivers lie on circles of m places (a few may lie outside and never move),
// and every base block stands for the m heats that come of turning all circles
// together. Whatever the base blocks are, every driver of a circle drives
// equally often, so a search over base blocks visits valid draws only, and few
// of them. With one circle these are cyclic designs, with m = 1 there is no
// structure and the search is over single heats. Source: John & Williams, "Cyclic and Computer Generated Designs",
// 1995 (from memory); difference families, any handbook of designs.
type turning struct {
	n, size int       // drivers, drivers in a block
	circle  int       // drivers of a circle, the order of the group
	fixed   int       // the last drivers, whom no turn moves
	perm    [][]int16 // turn, driver -> driver
	orbit   []int32   // pair x,y -> number of its class under the turns
	class   []class
	count   []int32 // class -> base pairs in it
	block   []int16 // base blocks, flat, size each
	has     []bool  // base block, driver -> is in it
	still   [][]int // blocks that no turn moves: whole circles and fixed drivers
	cost    int64   // sum over pairs of drivers of meetings^2
	moved   int64
}

// class is a class of pairs under the turns. With c base pairs in it each of
// its pairs meets times*c + still times.
type class struct{ pairs, times, still int64 }

// group is a set of turns: circles of a*b places that turn as Z_a x Z_b, and
// fixed drivers. b is 1 save for a few squares.
type group struct{ a, b, fixed int }

func (g group) String() string {
	switch {
	case g.a*g.b == 1:
		return "a search over single heats"
	case g.b > 1:
		return fmt.Sprintf("base blocks turned in squares of %d by %d", g.a, g.b)
	case g.fixed > 0:
		return fmt.Sprintf("base blocks turned in circles of %d, %d drivers outside", g.a, g.fixed)
	}
	return fmt.Sprintf("base blocks turned in circles of %d", g.a)
}

// newTurning sets up the turns of g for n drivers; a*b must divide n-fixed.
func newTurning(n, size int, g group) *turning {
	m := g.a * g.b
	t := &turning{n: n, size: size, circle: m, fixed: g.fixed, orbit: make([]int32, n*n)}
	for s := range m {
		p := make([]int16, n)
		for x := range n {
			p[x] = int16(x)
			if x < n-g.fixed {
				z := x % m
				u, v := (z/g.b+s/g.b)%g.a, (z%g.b+s%g.b)%g.b
				p[x] = int16(x - z + u*g.b + v)
			}
		}
		t.perm = append(t.perm, p)
	}
	for i := range t.orbit {
		t.orbit[i] = -1
	}
	for x := range n {
		for y := x + 1; y < n; y++ {
			if t.orbit[x*n+y] >= 0 {
				continue
			}
			c := class{}
			id := int32(len(t.class))
			for _, p := range t.perm {
				i, j := int(p[x])*n+int(p[y]), int(p[y])*n+int(p[x])
				if t.orbit[i] < 0 {
					c.pairs++
				}
				t.orbit[i], t.orbit[j] = id, id
			}
			c.times = int64(m) / c.pairs
			t.class = append(t.class, c)
		}
	}
	t.count = make([]int32, len(t.class))
	return t
}

// start fills base blocks at random so that in the turned draw of heats blocks
// every driver drives each times. It says false when the numbers do not go
// together for this group.
func (t *turning) start(heats, each int, r *random) bool {
	n, size, m := t.n, t.size, t.circle
	circles := (n - t.fixed) / m
	units := circles + t.fixed // circles, then fixed drivers
	owed := make([]int, units) // base seats still owed to each
	for i := range owed {
		owed[i] = each
	}
	t.still = nil
	for range heats % m {
		if !t.startStill(circles, owed, r) {
			return false
		}
	}
	for i := circles; i < units; i++ {
		if owed[i]%m != 0 {
			return false
		}
		owed[i] /= m
	}
	blocks := heats / m
	t.block, t.has = make([]int16, 0, blocks*size), make([]bool, blocks*n)
	in := make([]int, units)
	for b := range blocks {
		clear(in)
		for range size {
			// who is owed most and has room; a random one of them
			best, ties := -1, 0
			for c := range units {
				room := 1
				if c < circles {
					room = m
				}
				if in[c] == room || best >= 0 && owed[c] < owed[best] {
					continue
				}
				if best < 0 || owed[c] > owed[best] {
					best, ties = c, 1
				} else if ties++; r.below(ties) == 0 {
					best = c
				}
			}
			if best < 0 || owed[best] == 0 {
				return false
			}
			owed[best]--
			in[best]++
			x := n - t.fixed + best - circles
			if best < circles {
				x = best*m + r.below(m)
				for t.has[b*n+x] {
					x = best*m + (x+1-best*m)%m
				}
			}
			t.has[b*n+x] = true
			t.block = append(t.block, int16(x))
		}
	}
	t.recount()
	return true
}

// startStill adds a block of whole circles and fixed drivers, those first who
// are owed most.
func (t *turning) startStill(circles int, owed []int, r *random) bool {
	// as many whole circles as leave a number of fixed drivers there are
	var fits []int
	for a := 0; a <= circles && a*t.circle <= t.size; a++ {
		if t.size-a*t.circle <= t.fixed {
			fits = append(fits, a)
		}
	}
	if len(fits) == 0 {
		return false
	}
	a := fits[r.below(len(fits))]
	var block []int
	take := func(from, to, k int) bool {
		for range k {
			best, ties := -1, 0
			for c := from; c < to; c++ {
				if contains(block, t.first(c, circles)) || best >= 0 && owed[c] < owed[best] {
					continue
				}
				if best < 0 || owed[c] > owed[best] {
					best, ties = c, 1
				} else if ties++; r.below(ties) == 0 {
					best = c
				}
			}
			if best < 0 || owed[best] == 0 {
				return false
			}
			owed[best]--
			x := t.first(best, circles)
			block = append(block, x)
			for s := 1; best < circles && s < t.circle; s++ {
				block = append(block, x+s)
			}
		}
		return true
	}
	if !take(0, circles, a) || !take(circles, len(owed), t.size-a*t.circle) {
		return false
	}
	t.still = append(t.still, block)
	return true
}

// first is the first driver of circle c, or the fixed driver c stands for.
func (t *turning) first(c, circles int) int {
	if c < circles {
		return c * t.circle
	}
	return circles*t.circle + c - circles
}

func contains(a []int, x int) bool {
	for _, y := range a {
		if y == x {
			return true
		}
	}
	return false
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
	for i := range t.class {
		t.class[i].still = 0
	}
	for _, block := range t.still {
		for i, x := range block {
			for _, y := range block[i+1:] {
				c := &t.class[t.orbit[x*t.n+y]]
				c.still += 1 // once for each of its pairs
			}
		}
	}
	t.cost = 0
	for o := range t.class {
		c := &t.class[o]
		c.still /= c.pairs
		v := c.times*int64(t.count[o]) + c.still
		t.cost += c.pairs * v * v
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
		c := &t.class[o]
		cost -= c.pairs * c.times * (c.times*int64(2*t.count[o]+1) + 2*c.still)
		o = ry[z]
		c = &t.class[o]
		cost += c.pairs * c.times * (c.times*int64(2*t.count[o]+1) + 2*c.still)
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
	if blocks == 0 {
		return
	}
	unit := int64(2 * t.circle)
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
		if t.circle > 1 && (blocks == 1 || r.below(2) == 0) {
			// another place on the same circle
			y := t.perm[1+r.below(t.circle-1)][x]
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
		for _, p := range t.perm {
			row := make([]int, t.size)
			for i, x := range t.block[b : b+t.size] {
				row[i] = int(p[x])
			}
			out = append(out, row)
		}
	}
	return append(out, t.still...)
}
