package fit

import (
	"cmp"
	"slices"
	"strings"

	"lanewright/layout"
)

// found is a set of changes that closes the roads, in driving order.
type found struct {
	ops  []op
	cost int
	sign string // what is done, regardless of where
}

// pool keeps the best sets of changes.
type pool struct {
	chain *chain
	keep  int
	list  []found // best first
	signs map[string]int
	stock map[string]int // what is left of each part after the layout; parts without an entry are not counted
}

// poolMost is how many proposals are kept for each one asked for, so that those that collide can give way to others;
// alikeMost how many may do the same at different places.
const (
	poolMost  = 3
	alikeMost = 2
)

func newPool(c *chain, t layout.Track, o CloseOptions) *pool {
	p := &pool{chain: c, keep: o.Most * poolMost, signs: map[string]int{}}
	if !o.AnyStock {
		p.stock = left(t)
	}
	return p
}

// left counts what the club owns less what the layout takes.
func left(t layout.Track) map[string]int {
	out := map[string]int{}
	for i := range t.Kit.Pieces {
		if n := t.Kit.Pieces[i].Stock; n >= 0 {
			out[t.Kit.Pieces[i].Name] = n
		}
	}
	for _, s := range t.Plan.Stock {
		out[s.Piece] = s.Count
	}
	for _, r := range t.Roads {
		for i := range r.Pieces {
			if n, ok := out[r.Pieces[i].Part]; ok {
				out[r.Pieces[i].Part] = n - 1
			}
		}
	}
	return out
}

// worst is the cost above which an offer is of no use.
func (p *pool) worst() int {
	if len(p.list) < p.keep {
		return 1 << 30
	}
	return p.list[len(p.list)-1].cost
}

func (p *pool) best() []found { return p.list }

// offer takes changes of bends and steps of straights that close road 1 in floating point, finds places for the
// straights, and keeps the set if it closes all roads exactly and the pieces are there.
func (p *pool) offer(ops []op, steps []*step) {
	ops, ok := p.chain.place(ops, steps)
	if !ok || len(ops) == 0 {
		return
	}
	f := found{ops: ops}
	var words []string
	for _, o := range ops {
		f.cost += o.cost()
		words = append(words, p.chain.sign(o))
	}
	if f.cost > p.worst() {
		return
	}
	slices.Sort(words)
	f.sign = strings.Join(words, ",")
	if p.signs[f.sign] >= alikeMost || p.has(f) || !p.owned(ops) || !closes(p.chain.with(ops)) {
		return
	}
	at, _ := slices.BinarySearchFunc(p.list, f, func(a, b found) int {
		return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(len(a.ops), len(b.ops)), -1)
	})
	if at >= p.keep {
		return
	}
	p.list = slices.Insert(p.list, at, f)
	p.signs[f.sign]++
	if len(p.list) > p.keep {
		p.signs[p.list[p.keep].sign]--
		p.list = p.list[:p.keep]
	}
}

func (p *pool) has(f found) bool {
	return slices.ContainsFunc(p.list, func(g found) bool { return slices.Equal(f.ops, g.ops) })
}

// owned says whether the pieces that are added are there, counting those taken out.
func (p *pool) owned(ops []op) bool {
	if len(p.stock) == 0 {
		return true
	}
	need := map[string]int{}
	count := func(u *unit, n int) {
		for _, road := range u.parts {
			for _, part := range road {
				need[part] += n
			}
		}
	}
	for _, o := range ops {
		if o.kind != add {
			count(&p.chain.units[o.at], -1)
		}
		if o.kind != remove {
			count(&p.chain.symbols[o.symbol], 1)
		}
	}
	for part, n := range need { // only a verdict comes out, so the order does not matter
		if have, counted := p.stock[part]; counted && n > max(have, 0) {
			return false
		}
	}
	return true
}

// sign words a change without its place.
func (c *chain) sign(o op) string {
	switch o.kind {
	case add:
		return "+" + c.symbols[o.symbol].text
	case remove:
		return "-" + c.units[o.at].text
	}
	return c.units[o.at].text + ">" + c.symbols[o.symbol].text
}

// with gives the course with the changes made.
func (c *chain) with(ops []op) []*unit {
	out := make([]*unit, 0, len(c.units)+len(ops))
	for i := 0; i <= len(c.units); i++ {
		gone := false
		for len(ops) > 0 && ops[0].at == i {
			o := ops[0]
			ops = ops[1:]
			if o.kind != remove {
				out = append(out, &c.symbols[o.symbol])
			}
			gone = gone || o.kind != add
		}
		if i < len(c.units) && !gone {
			out = append(out, &c.units[i])
		}
	}
	return out
}

// place finds places for steps of straights in the course as the ops leave it. It tries to add beside a straight of the
// same heading, else to take out one of the opposite heading, else to swap one for another.
func (c *chain) place(ops []op, steps []*step) ([]op, bool) {
	out := slices.Clone(ops)
	for _, s := range steps {
		o, ok := c.placeStep(out, s)
		if !ok {
			return nil, false
		}
		// At one place it goes ahead of what is there: the heading was that of the joint.
		at, _ := slices.BinarySearchFunc(out, o, func(a, b op) int {
			return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(rankOf(a.kind), rankOf(b.kind)), 1)
		})
		out = slices.Insert(out, at, o)
	}
	return out, true
}

// rankOf orders changes at one place: what is added comes before what is done to the unit.
func rankOf(k opKind) int {
	if k == add {
		return 0
	}
	return 1
}

func (c *chain) placeStep(ops []op, s *step) (op, bool) {
	if o, ok := c.placeAdd(ops, s); ok {
		return o, true
	}
	back := wrap(s.micro + 180_000_000)
	if o, ok := c.placeOn(ops, back, func(u *unit) (op, bool) { return op{kind: remove, symbol: -1}, u.straight == s.mm }); ok {
		return o, true
	}
	for sym := range c.symbols {
		l := c.symbols[sym].straight
		if l == 0 {
			continue
		}
		if o, ok := c.placeOn(ops, s.micro, func(u *unit) (op, bool) { return op{kind: swap, symbol: sym}, u.straight > 0 && l-u.straight == s.mm }); ok {
			return o, true
		}
		if o, ok := c.placeOn(ops, back, func(u *unit) (op, bool) { return op{kind: swap, symbol: sym}, u.straight-l == s.mm }); ok {
			return o, true
		}
	}
	return op{}, false
}

// placeAdd finds a joint of the right heading, behind a straight if there is such a one.
func (c *chain) placeAdd(ops []op, s *step) (op, bool) {
	symbol := slices.IndexFunc(c.symbols, func(u unit) bool { return u.straight == s.mm })
	if symbol < 0 {
		return op{}, false
	}
	best := -1
	turned := int64(0) // what the ops so far turn the course by
	for i := 0; i <= len(c.units); i++ {
		// A joint before unit i, ahead of whatever the ops do there.
		if wrap(c.micro[i]+turned) == s.micro && i > 0 {
			if best < 0 {
				best = i
			}
			if c.units[i-1].straight > 0 && !gone(ops, i-1) {
				return op{i, add, symbol}, true
			}
		}
		turned += c.turnAt(ops, i)
	}
	return op{best, add, symbol}, best >= 0
}

func gone(ops []op, i int) bool {
	return slices.ContainsFunc(ops, func(o op) bool { return o.at == i && o.kind != add })
}

// turnAt is what the ops at place i add to the turn of the course.
func (c *chain) turnAt(ops []op, i int) int64 {
	turn := int64(0)
	for _, o := range ops {
		if o.at != i {
			continue
		}
		if o.kind != remove {
			turn += c.symbols[o.symbol].roads[0].micro
		}
		if o.kind != add {
			turn -= c.units[i].roads[0].micro
		}
	}
	return turn
}

// placeOn finds a straight of the course at a heading that the caller can use and that no other change touches.
func (c *chain) placeOn(ops []op, micro int64, use func(*unit) (op, bool)) (op, bool) {
	turned := int64(0)
	for i := range c.units {
		// Additions before unit i turn it as well.
		here := turned
		for _, o := range ops {
			if o.at == i && o.kind == add {
				here += c.symbols[o.symbol].roads[0].micro
			}
		}
		u := &c.units[i]
		if u.plain && u.straight > 0 && wrap(c.micro[i]+here) == micro && !gone(ops, i) {
			if o, ok := use(u); ok {
				o.at = i
				return o, true
			}
		}
		turned += c.turnAt(ops, i)
	}
	return op{}, false
}

// closing words a set of changes.
func (f found) closing(c *chain, road int) Closing {
	out := Closing{Road: road, Exact: true, sign: f.sign}
	for _, o := range f.ops {
		var e Edit
		if o.kind != add {
			u := &c.units[o.at]
			e = Edit{Action: "remove", Call: u.call, Index: u.index, Piece: u.text}
			for _, parts := range u.parts {
				out.Removed += len(parts)
			}
		} else {
			u := &c.units[o.at-1]
			e = Edit{Action: "add", Call: u.call, Index: u.index + len(u.parts[0]) - 1}
		}
		if o.kind != remove {
			e.With = c.symbols[o.symbol].text
			for _, parts := range c.symbols[o.symbol].parts {
				out.Added += len(parts)
			}
		}
		if o.kind == swap {
			e.Action = "swap"
		}
		out.Edits = append(out.Edits, e)
	}
	micro := int64(0)
	for _, u := range c.with(f.ops) {
		micro += u.roads[0].micro
	}
	out.NetTurnDeg = float64(micro) / 1e6
	return out
}
