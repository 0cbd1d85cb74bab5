package fit

import (
	"math"
	"slices"
)

type opKind uint8

const (
	add    opKind = iota // a symbol before unit at
	remove               // unit at
	swap                 // a symbol for unit at
)

// op is one change.
type op struct {
	at     int // index of a unit; for add up to their number
	kind   opKind
	symbol int
}

// cost counts pieces handled twice, and half of one back where a place is touched only once: adding or removing 2,
// swapping 3.
func (o op) cost() int {
	if o.kind == swap {
		return 3
	}
	return 2
}

// bendOp is a change that moves more than the length of a straight. With a change of turn a at place i the course behind
// it turns by a about that place.
type bendOp struct {
	op
	turn  int64      // wrapped
	left  complex128 // where the old course's origin lies for what follows: start of the rest less its turned old start
	right complex128 // end of the course seen from before a first change, turned by what that must turn
}

// search offers every combination to the pool.
func (c *chain) search(p *pool) {
	n := len(c.units)
	missing := wrap(-c.micro[n]) // the turn that all changes together must make
	headings := c.headings()
	short := newStraights(c, headings)
	// Straights alone.
	if missing == 0 {
		c.straightsOnly(p, short, -c.at[n], nil, 0, 4)
	}
	ops := c.bendOps(missing)
	// One change of a bend, with up to three of straights.
	for _, group := range ops {
		for i := range group.left {
			b := &group.left[i]
			c.tried++
			if b.turn != missing {
				continue
			}
			end := b.left + turnBy(b.turn)*c.at[n]
			c.straightsOnly(p, short, -end, []op{b.op}, b.cost(), 3)
		}
	}
	// Two of them, with up to two of straights.
	for _, group := range ops {
		if c.tried > triedMost {
			c.cut = true
			return
		}
		c.pairs(p, short, group)
	}
}

// A layout that fills a hall has some hundred places. Beyond opsMost changes of bends only straights are looked at, and
// beyond triedMost pairs of them the search ends: it says so.
const (
	opsMost   = 150_000
	triedMost = 40_000_000
)

// headings lists the headings at which straights can come to lie: those of the course, and those turned by one change.
func (c *chain) headings() []int64 {
	seen := map[int64]bool{}
	var out []int64
	put := func(h int64) {
		if h = wrap(h); !seen[h] && len(out) < headingsMost {
			seen[h] = true
			out = append(out, h)
		}
	}
	for _, h := range c.micro {
		put(h)
	}
	for _, h := range slices.Clone(out) {
		for _, s := range c.symbols {
			put(h + s.roads[0].micro)
		}
	}
	slices.Sort(out)
	return out
}

// headingsMost bounds the headings that straights are tried at: those of a 15 degree kit, twice.
const headingsMost = 48

// group is all changes of one turn, with those that make up the missing turn together with them.
type group struct {
	left  []bendOp
	right []bendOp
}

// bendOps lists every change other than of straights, by turn; turns in ascending order.
func (c *chain) bendOps(missing int64) []group {
	n := len(c.units)
	if c.cut = n*(2*len(c.symbols)+1) > opsMost; c.cut {
		return nil
	}
	byTurn := map[int64][]bendOp{}
	var turns []int64
	put := func(o op, old, new int64, oldWay, newWay complex128) {
		i := o.at
		rest := i
		if o.kind != add {
			rest = i + 1
		}
		b := bendOp{op: o, turn: wrap(new - old)}
		// Seen from the start: p = at[i] + e^(ih) way, and the rest, once at at[rest], begins there turned.
		b.left = c.at[i] + turnBy(c.micro[i])*newWay - turnBy(b.turn)*c.at[rest]
		first := wrap(missing - b.turn)
		b.right = turnBy(first) * (b.left + turnBy(b.turn)*c.at[n])
		if byTurn[b.turn] == nil {
			turns = append(turns, b.turn)
		}
		byTurn[b.turn] = append(byTurn[b.turn], b)
	}
	for i := 0; i <= n; i++ {
		// Before the first unit stands the timing piece: what is added there is added at the end as well.
		if i > 0 {
			for s := range c.symbols {
				if sym := &c.symbols[s]; sym.straight == 0 {
					put(op{i, add, s}, 0, sym.roads[0].micro, 0, sym.roads[0].way)
				}
			}
		}
		if i == n || !c.units[i].plain {
			continue
		}
		u := &c.units[i]
		if u.straight == 0 {
			put(op{i, remove, -1}, u.roads[0].micro, 0, u.roads[0].way, 0)
		}
		for s := range c.symbols {
			sym := &c.symbols[s]
			if u.straight > 0 && sym.straight > 0 || sameParts(*u, *sym) {
				continue
			}
			put(op{i, swap, s}, u.roads[0].micro, sym.roads[0].micro, u.roads[0].way, sym.roads[0].way)
		}
	}
	slices.Sort(turns)
	var out []group
	for _, a := range turns {
		if right := byTurn[wrap(missing-a)]; right != nil {
			out = append(out, group{byTurn[a], right})
		} else if a == missing {
			out = append(out, group{left: byTurn[a]})
		}
	}
	return out
}

// pairs tries every first change of the group with every second one behind it. Both lists are in driving order.
func (c *chain) pairs(p *pool, short *straights, g group) {
	from := 0
	reach := short.reach
	for i := range g.left {
		a := &g.left[i]
		for from < len(g.right) && g.right[from].at < a.at {
			from++
		}
		ax, ay := real(a.left), imag(a.left)
		right := g.right[from:]
		if c.tried > triedMost {
			c.cut = true
			return
		}
		c.tried += int64(len(right))
		for k := range right {
			b := &right[k]
			x, y := ax+real(b.right), ay+imag(b.right)
			if x > reach || x < -reach || y > reach || y < -reach {
				continue
			}
			// At one place only an addition can come before something else.
			if b.at == a.at && a.kind != add {
				continue
			}
			base := a.cost() + b.cost()
			if base > p.worst() {
				continue
			}
			c.straightsUpToTwo(p, short, complex(-x, -y), []op{a.op, b.op}, base)
		}
	}
}

// straightsUpToTwo looks for up to two changes of straights that make the way up.
func (c *chain) straightsUpToTwo(p *pool, short *straights, way complex128, ops []op, base int) {
	short.find(way, func(v vector) {
		if base+v.cost() <= p.worst() {
			p.offer(ops, v.list())
		}
	})
}

// straightsOnly looks for up to most changes of straights that make the way up: two that are in the table and up to two
// tried one by one.
func (c *chain) straightsOnly(p *pool, short *straights, way complex128, ops []op, base, most int) {
	c.straightsUpToTwo(p, short, way, ops, base)
	list := short.ones
	if most >= 4 {
		list = short.all
	}
	if most < 3 {
		return
	}
	for _, v := range list {
		c.tried++
		rest := way - v.way
		if math.Abs(real(rest)) > short.reach || math.Abs(imag(rest)) > short.reach || base+v.cost()+2 > p.worst() {
			continue
		}
		short.find(rest, func(w vector) {
			if base+v.cost()+w.cost() <= p.worst() {
				p.offer(ops, append(v.list(), w.list()...))
			}
		})
	}
}
