package layout

import (
	"fmt"
	"math"

	"lanewright/layout/curve"
)

// shortest piece of a routed track; shorter ones are counts meant for a sectional kit.
const routedLeast = 5

// routed queues a free piece, with the length of the call.
func (b *builder) routed(it *Item, n int) bool {
	kind, name := wanted(it)
	length := it.Number
	if it.Word != "" && it.Verb != VerbSensor && it.Verb != VerbTrap {
		return b.missing(it, n, name)
	}
	if it.Verb == VerbRamp {
		return b.fail(CodePieceMissing, n, "for example rise 90 over straight 1200", "a routed track has no ramp pieces")
	}
	if it.Verb == VerbCrossroads && length == 0 {
		length = b.kit.RoadWidthMM
	}
	if length < routedLeast {
		return b.fail(CodeOutOfRange, n, "for example "+name+" 900", "on a routed track %s is followed by its length in mm, at least %d, not by %s", name, routedLeast, trim(length))
	}
	p := Piece{Name: name + " " + trim(length), Kind: kind, LengthMM: length, Shape: b.kit.Shape, Move: it.Move}
	side := 0.0
	switch it.Verb {
	case VerbCrossing:
		if b.kit.Lanes == 2 {
			p.Crosses = [2]int{1, 2}
		}
		side = b.kit.SpacingMM
	case VerbChanger:
		side = b.kit.SpacingMM
	case VerbNarrowIn, VerbNarrowOut:
		p.FromMM, p.ToMM = b.roads[n-1].spacing, it.ToMM
		if it.Verb == VerbNarrowOut && p.ToMM == 0 {
			p.ToMM = b.kit.SpacingMM
		}
		if p.ToMM == 0 {
			return b.fail(CodeCallUnclear, n, "for example narrow-in 300 to 60", "a narrow piece of a routed track must say to which lane spacing it goes")
		}
		p.FromMM = b.spacingNow(n)
		if (it.Verb == VerbNarrowIn) != (p.ToMM < p.FromMM) {
			return b.fail(CodeSpacing, n, "", "%s goes to %s, but the lanes already lie %s apart", name, mmText(p.ToMM), mmText(p.FromMM))
		}
		side = math.Abs(p.ToMM-p.FromMM) * float64(b.kit.Lanes-1) / 2
		if w := float64(b.kit.Lanes-1) * p.ToMM; w >= b.kit.RoadWidthMM {
			return b.fail(CodeOutOfRange, n, "", "%d lanes %s apart do not fit on a road %s wide", b.kit.Lanes, mmText(p.ToMM), mmText(b.kit.RoadWidthMM))
		}
	case VerbShift:
		if p.ShiftMM = it.ToMM; p.ShiftMM == 0 {
			return b.fail(CodeCallUnclear, n, "for example shift left 300 by 30", "a shift of a routed track must say by how much")
		}
		side = p.ShiftMM
	case VerbTiming:
		p.Sensors = [][]float64{b.middle(length)}
	case VerbSensor:
		p.Sensors = [][]float64{b.middle(length)}
	case VerbTrap:
		if len(it.AtMM) != 0 {
			return b.fail(CodeCallUnclear, n, "write two sensors", "the lines of a routed speed trap lie at both ends of its length; no place can be stated")
		}
		p.Sensors = [][]float64{b.places(0), b.places(length)}
	}
	if side > length {
		return b.fail(CodeOutOfRange, n, "make it longer", "a sideways move of %s does not fit into a length of %s", mmText(side), mmText(length))
	}
	if !b.swap(it, n, &p) {
		return false
	}
	if it.Road != 0 && it.Road != n {
		return b.beside(length, n, it, p.Name)
	}
	b.queueOne(b.free(p), it)
	return true
}

// spacingNow returns the lane spacing at the end of what is queued for a road.
func (b *builder) spacingNow(n int) float64 {
	for i := len(b.queue) - 1; i >= b.first; i-- {
		if to := b.pieces[b.queue[i].piece].ToMM; to > 0 {
			return to
		}
	}
	return b.roads[n-1].spacing
}

// middle is where a sensor sits on a routed piece unless the call says otherwise.
func (b *builder) middle(length float64) []float64 { return b.places(length / 2) }

func (b *builder) places(at float64) []float64 {
	out := make([]float64, b.kit.Lanes)
	for i := range out {
		out[i] = at
	}
	return out
}

// routedBend queues one arc of a routed track.
func (b *builder) routedBend(it *Item, n int, angle int64, radius float64, steps int) bool {
	if it.Ring != 0 {
		return b.fail(CodeRingMissing, n, "for example left 90 radius 600", "a routed track has no rings; a bend is called with its radius")
	}
	if radius == 0 {
		return b.fail(CodeCallUnclear, n, "for example left 90 radius 600", "a bend of a routed track needs its radius, to the middle of the innermost road")
	}
	radius += float64(steps) * b.kit.RoadWidthMM
	p := Piece{Kind: KindCurve, RadiusMM: radius, Shape: b.kit.Shape}
	angles := it.Pieces
	if len(angles) == 0 || steps > 0 {
		angles = []int64{angle}
	}
	if it.Move != MoveNone && (it.Road == 0 || it.Road == n) {
		p.Kind, p.Move = KindChanger, it.Move
		if !b.swap(it, n, &p) {
			return false
		}
	}
	for _, m := range angles {
		p.AngleDeg = float64(m) / 1e6
		p.Name = fmt.Sprintf("curve %s radius %s", trim(p.AngleDeg), trim(radius))
		if p.Kind == KindChanger {
			p.Name = fmt.Sprintf("changer %s in %s %s radius %s", it.Move, way(it.Turn), trim(p.AngleDeg), trim(radius))
			if b.kit.SpacingMM > radius*curve.Radians(p.AngleDeg) {
				return b.fail(CodeOutOfRange, n, "make the bend longer", "a change of lanes %s apart does not fit into this bend", mmText(b.kit.SpacingMM))
			}
		}
		b.queueOne(b.free(p), it)
	}
	return true
}
