package fit

import (
	"math"
	"slices"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// board is one table: a rectangle, turned about its corner.
type board struct {
	corner   vec
	w, d     float64
	sin, cos float64
}

func newBoard(t layout.Table) board {
	sin, cos := curve.SinCos(t.TurnedDeg)
	return board{vec{t.XMM, t.YMM}, t.WidthMM, t.DepthMM, sin, cos}
}

// in gives a place in the table's own frame.
func (b *board) in(p vec) vec { return p.sub(b.corner).turned(-b.sin, b.cos) }

// out gives a place of the table's own frame on the ground.
func (b *board) out(p vec) vec { return p.turned(b.sin, b.cos).add(b.corner) }

// to is the distance of a place from the table, 0 on it.
func (b *board) to(p vec) float64 {
	q := b.in(p)
	return math.Hypot(max(-q.x, 0, q.x-b.w), max(-q.y, 0, q.y-b.d))
}

// edges gives the four sides, each with the way out of the table.
func (b *board) edges() [4]edge {
	c := [4]vec{b.out(vec{0, 0}), b.out(vec{b.w, 0}), b.out(vec{b.w, b.d}), b.out(vec{0, b.d})}
	n := [4]vec{{b.sin, -b.cos}, {b.cos, b.sin}, {-b.sin, b.cos}, {-b.cos, -b.sin}}
	return [4]edge{{seg{c[0], c[1]}, n[0]}, {seg{c[1], c[2]}, n[1]}, {seg{c[2], c[3]}, n[2]}, {seg{c[3], c[0]}, n[3]}}
}

type edge struct {
	seg
	out vec
}

// cut gives which part of a stretch, as shares of it, lies on the table (Liang and Barsky).
func (b *board) cut(s seg) (lo, hi float64, some bool) {
	p, q := b.in(s.a), b.in(s.b)
	lo, hi = 0, 1
	for _, c := range [4][2]float64{{p.x - q.x, p.x}, {q.x - p.x, b.w - p.x}, {p.y - q.y, p.y}, {q.y - p.y, b.d - p.y}} {
		switch {
		case c[0] == 0:
			if c[1] < 0 {
				return 0, 0, false
			}
		case c[0] < 0:
			lo = max(lo, c[1]/c[0])
		default:
			hi = min(hi, c[1]/c[0])
		}
	}
	return lo, hi, hi > lo
}

// ground is the tables together.
type ground struct {
	boards []board
	gap    float64 // between tables, bridged
	shore  []edge  // where the ground ends
	seams  []seg   // where tables meet
}

// hair is a distance that nobody can see or build, used to look past an edge.
const hair = 1e-5

func newGround(tables []layout.Table, gap float64) ground {
	g := ground{gap: gap}
	for _, t := range tables {
		if t.WidthMM > 0 && t.DepthMM > 0 {
			g.boards = append(g.boards, newBoard(t))
		}
	}
	for i := range g.boards {
		for _, e := range g.boards[i].edges() {
			g.side(i, e)
		}
	}
	return g
}

// side cuts one side of table i into what other tables go on from and what is shore. It looks outwards from a hair beyond
// the side, so that sides of tables that lie on each other stay shore, up to the widest gap that is bridged.
func (g *ground) side(i int, e edge) {
	type part struct{ lo, hi float64 }
	var covered []part
	for k := range g.boards {
		if k == i {
			continue
		}
		lo, hi := 1.0, 0.0
		for _, far := range [3]float64{hair, hair + g.gap/2, hair + g.gap} {
			look := e.out.times(far)
			if l, h, ok := g.boards[k].cut(seg{e.a.add(look), e.b.add(look)}); ok {
				lo, hi = min(lo, l), max(hi, h)
			}
		}
		if hi > lo {
			covered = append(covered, part{lo, hi})
			g.seams = append(g.seams, seg{between(e.a, e.b, lo), between(e.a, e.b, hi)})
		}
	}
	slices.SortFunc(covered, func(a, b part) int {
		if a.lo < b.lo {
			return -1
		}
		return 1
	})
	at := 0.0
	for _, c := range covered {
		if c.lo > at {
			g.shore = append(g.shore, edge{seg{between(e.a, e.b, at), between(e.a, e.b, c.lo)}, e.out})
		}
		at = max(at, c.hi)
	}
	if at < 1 {
		g.shore = append(g.shore, edge{seg{between(e.a, e.b, at), e.b}, e.out})
	}
}

// to is the distance of a place from the ground, 0 on it and in a gap between two tables that is bridged.
func (g *ground) to(p vec) float64 {
	near, next := math.Inf(1), math.Inf(1)
	for i := range g.boards {
		if d := g.boards[i].to(p); d < near {
			near, next = d, near
		} else {
			next = min(next, d)
		}
	}
	if near > 0 && near+next <= g.gap {
		return 0
	}
	return near
}
