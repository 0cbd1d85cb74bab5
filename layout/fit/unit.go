package fit

import (
	"math"
	"math/cmplx"

	"lanewright/layout"
	"lanewright/layout/curve"
	"lanewright/layout/lattice"
)

// shape is the way along the middle of one road through a few pieces, seen from where it begins: in floating point for
// searching, in exact terms for deciding.
type shape struct {
	way   complex128 // mm
	micro int64      // turn in millionths of a degree
	terms []lattice.Term
	exact bool // the terms are the whole truth
}

// unit is the least that can be added to or taken out of all roads together without parting them: a piece of every
// road, or a bend of the same angle on every road.
type unit struct {
	text     string  // as called
	plain    bool    // nothing but straights and curves on the flat, so that it can be taken out
	straight float64 // mm where it is a straight
	roads    []shape
	parts    [][]string // names of parts lists, by road
	call     int        // number of its call
	index    int        // of its first piece on the first road
	turned   bool       // the direction of some road changes in it
}

// turnOf reads the exact turn and way of a placed piece.
func shapeOf(p *layout.Placed) shape {
	s := shape{exact: true}
	for _, seg := range p.Centre {
		switch seg := seg.(type) {
		case curve.Line:
			units, ok := lattice.Units(seg.LengthMM)
			s.exact = s.exact && ok
			s.terms = append(s.terms, lattice.Term{Units: units, Micro: s.micro})
			s.way += cmplx.Rect(1, 0) * complex(seg.LengthMM, 0) * turnBy(s.micro)
		case curve.Arc:
			micro, ok := lattice.Micro(p.TurnDeg)
			units, ok2 := lattice.Units(seg.RadiusMM)
			s.exact = s.exact && ok && ok2
			quarter := int64(lattice.Full / 4)
			if micro < 0 {
				units = -units
			}
			// sR (z^(h+90) - z^(h+turn+90))
			s.terms = append(s.terms, lattice.Term{Units: units, Micro: s.micro + quarter},
				lattice.Term{Units: -units, Micro: s.micro + micro + quarter})
			r := complex(math.Copysign(seg.RadiusMM, float64(micro)), 0)
			s.way += r * (turnBy(s.micro+quarter) - turnBy(s.micro+micro+quarter))
			s.micro += micro
		default:
			s.exact = false
		}
	}
	return s
}

// then appends a shape.
func (s shape) then(t shape) shape {
	out := shape{way: s.way + turnBy(s.micro)*t.way, micro: s.micro + t.micro, exact: s.exact && t.exact}
	out.terms = append(out.terms, s.terms...)
	for _, x := range t.terms {
		out.terms = append(out.terms, lattice.Term{Units: x.Units, Micro: x.Micro + s.micro})
	}
	return out
}

// turnBy is the unit vector of a heading in millionths of a degree.
func turnBy(micro int64) complex128 {
	sin, cos := curve.SinCos(float64(micro) / 1e6)
	return complex(cos, sin)
}

// wrap brings a turn into [0, 360) degrees.
func wrap(micro int64) int64 {
	micro %= lattice.Full
	if micro < 0 {
		micro += lattice.Full
	}
	return micro
}

// isPlain says whether a piece may be taken out without changing anything but the way of the road.
func isPlain(p *layout.Placed) bool {
	return (p.Kind == layout.KindStraight || p.Kind == layout.KindCurve) && len(p.Sensors) == 0 && !p.Bridge &&
		p.StartZ == p.EndZ && len(p.Change) == 0
}

// unitsOf cuts the roads with the given indices into units. Where pieces of the roads cannot be matched up, the whole
// call is one unit that stays as it is.
func unitsOf(t layout.Track, roads []int) []unit {
	next := make([]int, len(roads))
	var out []unit
	for {
		// The call that comes next: the lowest that any road has pieces of.
		call := math.MaxInt
		for i, r := range roads {
			if next[i] < len(t.Roads[r].Pieces) {
				call = min(call, t.Roads[r].Pieces[next[i]].Call)
			}
		}
		if call == math.MaxInt {
			return out
		}
		runs := make([][]layout.Placed, len(roads))
		first := next[0]
		for i, r := range roads {
			from := next[i]
			for next[i] < len(t.Roads[r].Pieces) && t.Roads[r].Pieces[next[i]].Call == call {
				next[i]++
			}
			runs[i] = t.Roads[r].Pieces[from:next[i]]
		}
		out = append(out, cut(runs, call, first+1)...)
	}
}

// cut matches the pieces that one call laid on each road.
func cut(runs [][]layout.Placed, call, index int) []unit {
	var out []unit
	at := make([]int, len(runs))
	for {
		left := 0
		for i := range runs {
			left += len(runs[i]) - at[i]
		}
		if left == 0 {
			return out
		}
		to, ok := match(runs, at)
		if !ok {
			return []unit{gather(runs, make([]int, len(runs)), ends(runs), call, index, false)}
		}
		out = append(out, gather(runs, at, to, call, index+at[0], true))
		at = to
	}
}

func ends(runs [][]layout.Placed) []int {
	to := make([]int, len(runs))
	for i := range runs {
		to[i] = len(runs[i])
	}
	return to
}

// match finds the shortest run of pieces on each road that turns all roads by the same angle; straights must be of one
// length.
func match(runs [][]layout.Placed, at []int) ([]int, bool) {
	to := make([]int, len(runs))
	turns := make([]float64, len(runs))
	for i := range runs {
		if at[i] >= len(runs[i]) {
			return nil, false
		}
		p := &runs[i][at[i]]
		to[i], turns[i] = at[i]+1, p.TurnDeg
		if p.TurnDeg == 0 && (runs[0][at[0]].TurnDeg != 0 || p.Centre.Length() != runs[0][at[0]].Centre.Length()) {
			return nil, false
		}
	}
	for {
		least, most := 0, 0
		for i := range turns {
			if math.Abs(turns[i]) < math.Abs(turns[least]) {
				least = i
			}
			if math.Abs(turns[i]) > math.Abs(turns[most]) {
				most = i
			}
		}
		if turns[least] == turns[most] {
			return to, true
		}
		if to[least] >= len(runs[least]) || runs[least][to[least]].TurnDeg*turns[most] <= 0 {
			return nil, false
		}
		turns[least] += runs[least][to[least]].TurnDeg
		to[least]++
	}
}

func gather(runs [][]layout.Placed, from, to []int, call, index int, matched bool) unit {
	u := unit{call: call, index: index, plain: matched}
	for i := range runs {
		s := shape{exact: true}
		var parts []string
		for k := from[i]; k < to[i]; k++ {
			p := &runs[i][k]
			u.plain = u.plain && isPlain(p)
			s = s.then(shapeOf(p))
			parts = append(parts, p.Part)
			if u.text == "" {
				u.text = p.Piece
			}
		}
		u.roads = append(u.roads, s)
		u.parts = append(u.parts, parts)
		u.turned = u.turned || s.micro != 0
	}
	if u.plain && !u.turned {
		u.straight = real(u.roads[0].way)
	}
	return u
}
