package layout

import (
	"math"
	"sort"

	"lanewright/layout/curve"
	"lanewright/layout/lattice"
)

// strands gives a placed piece its centre line and the ways through it, and moves the road's lane spacing on.
func (b *builder) strands(r *road, pl *Placed, p *Piece, l laid, turn int) {
	n := b.kit.Lanes
	pl.Centre = b.path(b.run(pl.Start, p, turn))
	pl.Stay = b.newStrands(n)
	before, shiftBefore := r.spacing, r.shift
	switch {
	case p.ShiftMM != 0:
		r.shift += float64(l.turn) * p.ShiftMM
		units, whole := lattice.Units(p.ShiftMM)
		r.shifted += int64(l.turn) * units
		r.inexact = r.inexact || !whole
	case p.Kind == KindPinch:
		b.checkSpacing(r, pl, p.FromMM)
		before = r.spacing
		r.spacing = p.ToMM
	}
	a, z := l.lanes[0], l.lanes[1]
	for i := 1; i <= n; i++ {
		s := &pl.Stay[i-1]
		s.From, s.To = i, i
		if p.Kind == KindCrossing {
			switch i {
			case a:
				s.To = z
			case z:
				s.To = a
			}
		}
		from := LaneOffsetMM(i, n, before) + shiftBefore
		to := LaneOffsetMM(s.To, n, r.spacing) + r.shift
		b.way(s, pl, p, turn, from, to, l.rise)
		if len(p.MeasuredMM) == n {
			s.Measured, s.LengthMM = true, p.MeasuredMM[i-1]
			if turn < 0 { // measured from the inside outwards
				s.LengthMM = p.MeasuredMM[n-i]
			}
		}
	}
	if p.Kind == KindChanger {
		b.changes(r, pl, p, l, turn)
	}
	b.sensorsOn(pl, p, l)
	b.checkRadius(pl, p)
}

// slab is how many strands or segments are made at once; a piece needs two or three.
const slab = 128

// newStrands returns room for the strands of one piece.
func (b *builder) newStrands(n int) []Strand {
	if len(b.strandsLeft) < n {
		b.strandsLeft = make([]Strand, slab)
	}
	out := b.strandsLeft[:n:n]
	b.strandsLeft = b.strandsLeft[n:]
	return out
}

// path returns a path of one segment.
func (b *builder) path(s curve.Segment) curve.Path {
	if len(b.segmentsLeft) == 0 {
		b.segmentsLeft = make([]curve.Segment, slab)
	}
	out := b.segmentsLeft[:1:1]
	b.segmentsLeft = b.segmentsLeft[1:]
	out[0] = s
	return out
}

// run is a piece's way offset by nothing: a line, or an arc.
func (b *builder) run(at curve.Pose, p *Piece, turn int) curve.Segment {
	if turn == 0 {
		return curve.Line{Start: at, LengthMM: p.LengthMM}
	}
	return curve.Arc{Start: at, RadiusMM: p.RadiusMM, Turn: float64(turn) * curve.Radians(p.AngleDeg)}
}

// way fills in curve and length of a strand that goes from one offset to another.
func (b *builder) way(s *Strand, pl *Placed, p *Piece, turn int, from, to, rise float64) {
	at := curve.Pose{X: pl.Start.X - from*b.sinNow, Y: pl.Start.Y + from*b.cosNow, Heading: pl.Start.Heading}
	switch {
	case from == to && turn == 0:
		s.Plan = b.path(curve.Line{Start: at, LengthMM: p.LengthMM})
		s.LengthMM = p.LengthMM
	case from == to:
		angle := curve.Radians(p.AngleDeg)
		radius := math.Max(0, p.RadiusMM-float64(turn)*from) // checkRadius speaks up when there is nothing left
		s.Plan = b.path(curve.Arc{Start: at, RadiusMM: radius, Turn: float64(turn) * angle})
		s.LengthMM = radius * angle
	case turn == 0:
		move := b.move(moveKey{p.Shape, p.LengthMM, to - from, 0, 0})
		s.Plan = move.Moved(at)
		s.LengthMM = move.Length()
	default:
		move := b.move(moveKey{p.Shape, centreLength(p), to - from, float64(turn) * p.RadiusMM, from})
		s.Plan = move.Moved(pl.Start)
		s.LengthMM = move.Length()
	}
	s.RiseMM = rise
	if rise != 0 {
		s.LengthMM = math.Hypot(s.LengthMM, rise)
	}
}

// moveMost bounds the different sideways moves of one plan, since each has to be measured by quadrature.
const moveMost = 2000

// moveKey tells sideways moves apart: over a length, by so much to the left, on a straight (radius 0) or, from an offset, round an arc
// whose radius is negative to the right.
type moveKey struct {
	shape        curve.Shape
	along, shift float64
	radius, from float64
}

// move returns a sideways move from the origin, made once for each form and size.
func (b *builder) move(key moveKey) curve.Path {
	if p, ok := b.moves[key]; ok {
		return p
	}
	if len(b.moves) >= moveMost {
		if !b.moved {
			b.moved = true
			b.fail(CodeTooManyPieces, 0, "", "the course has more than %d different sideways moves; no more are measured", moveMost)
		}
		return curve.Shift(curve.Diagonal, key.along, key.shift)
	}
	p := curve.Shift(key.shape, key.along, key.shift)
	if key.radius != 0 {
		base := curve.Arc{RadiusMM: math.Abs(key.radius), Turn: key.along / key.radius}
		p = curve.Path{curve.Bend(base, p.Moved(curve.Pose{Y: key.from}))}
	}
	if b.moves == nil {
		b.moves = map[moveKey]curve.Path{}
	}
	b.moves[key] = p
	return p
}

// changes adds the optional ways of a changer: between the two lanes named, or between all neighbours.
func (b *builder) changes(r *road, pl *Placed, p *Piece, l laid, turn int) {
	n := b.kit.Lanes
	for i := 1; i < n; i++ {
		if l.lanes[0] != 0 && l.lanes[0] != i {
			continue
		}
		if l.move != MoveRight {
			pl.Change = append(pl.Change, Strand{From: i + 1, To: i})
		}
		if l.move != MoveLeft {
			pl.Change = append(pl.Change, Strand{From: i, To: i + 1})
		}
	}
	sort.Slice(pl.Change, func(i, j int) bool {
		x, y := pl.Change[i], pl.Change[j]
		return x.From < y.From || x.From == y.From && x.To < y.To
	})
	for i := range pl.Change {
		s := &pl.Change[i]
		from := LaneOffsetMM(s.From, n, r.spacing) + r.shift
		to := LaneOffsetMM(s.To, n, r.spacing) + r.shift
		b.way(s, pl, p, turn, from, to, l.rise)
		if p.MeasuredMove > 0 {
			s.Measured, s.LengthMM = true, p.MeasuredMove
		}
	}
}

// sensorsOn puts the sensors of a piece on it.
func (b *builder) sensorsOn(pl *Placed, p *Piece, l laid) {
	if len(p.Sensors) == 0 {
		return
	}
	said := false
	for i, places := range p.Sensors {
		s := Sensor{Number: l.sensor + i, Name: l.word, AtMM: make([]float64, b.kit.Lanes)}
		switch {
		case p.Kind == KindTiming:
			s.Number, s.Name = 1, "timing"
		case len(p.Sensors) > 1:
			s.Name += [2]string{" in", " out"}[min(i, 1)]
		}
		stated := l.at
		if len(p.Sensors) > 1 {
			stated = nil
		}
		for j := range s.AtMM {
			switch {
			case len(stated) == 1:
				s.AtMM[j] = stated[0]
			case j < len(stated):
				s.AtMM[j] = stated[j]
			case j < len(places):
				s.AtMM[j] = places[j]
			}
			if s.AtMM[j] > pl.Stay[j].LengthMM {
				if b.broken = true; !said {
					said = true
					b.say(Error, CodeTimingPlace, pl.Road, s.AtMM[j], "mm", "give its distance from the start of the piece",
						"the sensor sits at %s, beyond the end of its piece of %s", mmText(s.AtMM[j]), mmText(pl.Stay[j].LengthMM))
				}
				s.AtMM[j] = pl.Stay[j].LengthMM
			}
		}
		pl.Sensors = append(pl.Sensors, s)
	}
}
