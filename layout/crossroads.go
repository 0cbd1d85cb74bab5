package layout

import (
	"math"

	"lanewright/layout/curve"
)

// crossroadsMM is how far the two passes of a crossroads may lie from a common centre.
const crossroadsMM = 1.0

// pairCrossroads checks that every crossroads is passed twice, square across itself and at one height: it is one piece.
func (b *builder) pairCrossroads() {
	var passes []*Placed
	for i := range b.roads {
		for k := range b.roads[i].placed {
			if pl := &b.roads[i].placed[k]; pl.Kind == KindCrossroads {
				passes = append(passes, pl)
			}
		}
	}
	centres := make([]curve.Pose, len(passes))
	for i, p := range passes {
		centres[i] = p.Centre.At(p.Centre.Length() / 2)
	}
	paired := make([]bool, len(passes))
	for i, p := range passes {
		for j := i + 1; j < len(passes) && !paired[i]; j++ {
			if !paired[j] && square(centres[i], centres[j]) && math.Abs(p.StartZ-passes[j].StartZ) <= crossroadsMM {
				paired[i], paired[j] = true, true
			}
		}
		if !paired[i] && !b.broken { // else the stretch that goes through it may not have been laid
			b.call = p.Call - 1
			b.say(Error, CodeCrossroads, p.Road, 0, "", "lead another stretch through it at a right angle, or lay a straight instead", "no other stretch of road goes square through this crossroads")
		}
	}
}

// square reports whether two passes share their centre at a right angle, to half a degree.
func square(a, b curve.Pose) bool {
	return math.Abs(a.X-b.X) <= crossroadsMM && math.Abs(a.Y-b.Y) <= crossroadsMM &&
		math.Abs(math.Cos(a.Heading-b.Heading)) < math.Sin(curve.Radians(0.5))
}
