package rotation

import "sort"

// design is who meets whom: blocks of drivers, not yet in the order of the
// evening. The blocks of one base block lie together, in the order of turning.
type design struct {
	blocks [][]int
	turns  int // heats that come of one base block
	still  int // blocks at the end that no turn moves
	cost   int64
	name   string // what theory calls it, or how it was found
}

// designsKept is how many equally good designs are kept for the next step to
// choose from.
const designsKept = 10

// whoMeets searches heats blocks of size drivers with every driver in each of
// them, all blocks full, for the least sum of squares of meetings. It returns
// the best designs it has found, all of the same cost, at least one.
func (s *search) whoMeets(n, size, heats, each int) []design {
	if n <= size {
		all := make([]int, n)
		for i := range all {
			all[i] = i
		}
		d := design{turns: 1, cost: int64(heats*heats) * int64(n*(n-1)/2), name: "everybody drives in every heat"}
		for range heats {
			d.blocks = append(d.blocks, all)
		}
		return []design{d}
	}
	goal := evenSq(heats*size*(size-1)/2, n*(n-1)/2)
	if heats*size == n*each && each%size == 0 {
		if blocks, name := known(n, size, each/size); blocks != nil {
			return []design{{blocks: blocks, turns: n, cost: goal, name: name}}
		}
		if d, ok := storedBlocks(n, size, each/size); ok {
			return []design{d}
		}
	}
	m := meeting{s: s, n: n, size: size, heats: heats, each: each, rnd: newRandom(s.p.Seed, 1)}
	if n < 2*size {
		// The complement has the same differences between pairs.
		m.size, m.each = n-size, heats-each
	}
	low := evenSq(heats*m.size*(m.size-1)/2, n*(n-1)/2)
	m.goal = low
	m.search()
	out := m.best
	sort.SliceStable(out, func(i, j int) bool { return out[i].cost < out[j].cost })
	for i := range out {
		if m.size != size {
			out[i].blocks = complement(n, out[i].blocks)
		}
		out[i].cost += goal - low
	}
	return out
}

// meeting is one such search.
type meeting struct {
	s                    *search
	n, size, heats, each int
	goal                 int64
	rnd                  *random
	best                 []design
}

func (m *meeting) found() bool { return len(m.best) > 0 && m.best[0].cost <= m.goal }

// try anneals once under the turns of g and says what came of it, or -1 when
// the numbers do not go together.
func (m *meeting) try(g group, moves int) int64 {
	t := newTurning(m.n, m.size, g)
	if !t.start(m.heats, m.each, m.rnd) {
		return -1
	}
	t.anneal(m.goal, moves*m.s.p.Effort, m.rnd, m.s.stop)
	m.s.moved += t.moved
	if len(m.best) > 0 && t.cost < m.best[0].cost {
		m.best = m.best[:0]
	}
	if len(m.best) == 0 || t.cost == m.best[0].cost && len(m.best) < designsKept {
		m.best = append(m.best, design{blocks: t.develop(), turns: t.circle, still: len(t.still), cost: t.cost, name: g.String()})
	}
	return t.cost
}

// search goes from the most structure to none, and stops once the goal is
// reached: large structured draws are found in no time when they exist, and
// hardly ever without structure.
func (m *meeting) search() {
	for _, g := range m.groups(0) {
		for k := range designsKept + 2 {
			if k >= 4 && !m.found() || m.s.stop() && len(m.best) > 0 {
				break
			}
			m.try(g, 20000)
		}
		if m.found() {
			return
		}
	}
	if m.raiseGoal() && m.found() {
		return
	}
	type probe struct {
		g    group
		cost int64
	}
	var probes []probe
	for _, g := range m.groups(6) {
		if m.s.stop() && len(m.best) > 0 {
			return
		}
		if c := m.try(g, 30000); c >= 0 {
			probes = append(probes, probe{g, c})
		}
		if m.found() {
			return
		}
	}
	sort.SliceStable(probes, func(i, j int) bool { return probes[i].cost < probes[j].cost })
	for round, moves := range []int{60000, 120000, 300000, 600000} {
		fit := append([]probe(nil), probes[:min(len(probes), 4-round)]...)
		if round == 3 {
			fit = append(fit, probe{g: group{1, 1, 0}})
		}
		for _, p := range fit {
			for range 3 {
				if m.s.stop() && len(m.best) > 0 {
					return
				}
				m.try(p.g, moves)
				if m.found() {
					return
				}
			}
		}
	}
}

// raiseGoal lifts the goal where the even split is known to be out of reach.
func (m *meeting) raiseGoal() bool {
	up, _ := evenSplitRaise(m.n, m.size, m.heats, m.each)
	m.goal += up
	return up > 0
}

// groups lists turns that fit n drivers with at most fixed drivers left out,
// those with most structure first.
func (m *meeting) groups(fixed int) []group {
	var out []group
	for c := m.n; c >= 1; c-- {
		for f := 0; f <= fixed && f < m.n; f++ {
			if (m.n-f)%c != 0 || c == 1 && f > 0 {
				continue
			}
			if f == 0 || m.heats%c*m.size >= m.heats%c*f/2 {
				out = append(out, group{c, 1, f})
			}
			for a := 2; a*a <= c; a++ {
				if a*a == c {
					out = append(out, group{a, a, f})
				}
			}
		}
	}
	return out
}
