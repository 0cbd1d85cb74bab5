package layout

import (
	"fmt"
	"math"

	"lanewright/layout/curve"
	"lanewright/layout/lattice"
)

// Weights used where a kit states no play at all, so that a misfit can still be described. Common practice, no source.
const (
	defaultTurnDeg = 0.25
	defaultPlayMM  = 0.5
)

// into returns for each road (from 0) the road into whose start it runs: its own, unless it ends well within half a road width
// of another road's start and no other road does so too.
func (b *builder) into() []int {
	n := len(b.roads)
	to := make([]int, n)
	taken := make([]bool, n)
	for i := range b.roads {
		best, gap := i, math.Inf(1)
		for j := range b.roads {
			d := math.Hypot(b.roads[i].x, b.roads[i].y+float64(j)*b.kit.RoadWidthMM)
			if j != i && d > b.kit.RoadWidthMM/4 {
				continue
			}
			if d < gap-1e-6 {
				best, gap = j, d
			}
		}
		to[i] = best
	}
	for i, j := range to {
		if taken[j] {
			for k := range to {
				to[k] = k
			}
			return to
		}
		taken[to[i]] = true
	}
	return to
}

// joins says how every road meets its start again.
func (b *builder) joins(to []int) []Join {
	out := make([]Join, len(b.roads))
	for i := range b.roads {
		out[i] = b.join(i, to[i])
	}
	return out
}

func (b *builder) join(i, j int) Join {
	r := &b.roads[i]
	width := b.kit.RoadWidthMM
	turned := r.micro % lattice.Full
	if turned > lattice.Full/2 {
		turned -= lattice.Full
	} else if turned <= -lattice.Full/2 {
		turned += lattice.Full
	}
	out := Join{
		Road: i + 1, Into: j + 1,
		ForwardMM:  r.x,
		LeftMM:     r.y + float64(j)*width,
		AngleDeg:   float64(turned) / 1e6,
		HeightMM:   r.z - b.plan.Start.HeightMM,
		SpacingMM:  r.spacing - b.kit.SpacingMM,
		ShiftMM:    r.shift,
		NetTurnDeg: float64(r.micro) / 1e6,
		Joints:     len(r.placed),
	}
	if len(r.placed) == 0 {
		return out
	}
	if !r.inexact && r.units == 0 {
		out.HeightMM = 0
	}
	if !r.inexact && r.shifted == 0 {
		out.ShiftMM = 0
	}
	level := out.HeightMM == 0 && out.SpacingMM == 0 && out.ShiftMM == 0
	beside, ok := lattice.Units(width * float64(j-i))
	if !r.inexact && ok {
		// The terms lead from the start of road i to the end; the last one leads from the start of road j back to that of i.
		terms := append(r.terms[:len(r.terms):len(r.terms)], lattice.Term{Units: beside, Micro: lattice.Full / 4})
		zero, provable := lattice.Zero(terms)
		out.Provable = provable
		out.Exact = provable && zero && turned == 0 && level
		if provable && zero {
			out.ForwardMM, out.LeftMM = 0, 0
		}
	}
	out.GapMM = math.Hypot(out.ForwardMM, out.LeftMM)
	if out.Exact {
		out.Usable = true
		return out
	}
	b.budget(&out, r)
	return out
}

// budget distributes the misfit of a road over its joints.
func (b *builder) budget(out *Join, r *road) {
	joint := b.kit.Joint
	play := Play{curve.Radians(joint.AngleDeg), joint.PlayMM}
	if play.TurnRad == 0 && play.ShiftMM == 0 {
		play = Play{curve.Radians(defaultTurnDeg), defaultPlayMM}
	}
	play.TurnRad, play.ShiftMM = math.Max(play.TurnRad, 1e-9), math.Max(play.ShiftMM, 1e-6)
	joints := make([]curve.Pose, len(r.placed))
	for k := range r.placed {
		at := r.placed[k].Start
		dx, dy := at.X-b.start.X, at.Y-b.start.Y
		joints[k] = curve.Pose{X: b.cos*dx + b.sin*dy, Y: -b.sin*dx + b.cos*dy}
	}
	s := Share(joints, curve.Pose{X: r.x, Y: r.y}, out.ForwardMM, out.LeftMM, curve.Radians(out.AngleDeg), play)
	out.WorstTurnDeg, out.WorstPlayMM = curve.Degrees(s.WorstTurnRad), s.WorstShiftMM
	const rounding = 1e-9 // of the sums above, not of the joints
	out.Usable = !b.missingPiece(out) && out.WorstTurnDeg <= joint.AngleDeg+rounding && out.WorstPlayMM <= joint.PlayMM+rounding &&
		math.Abs(out.HeightMM) <= joint.HeightMM*float64(len(r.placed))+rounding &&
		math.Abs(out.SpacingMM) <= joint.PlayMM+rounding && math.Abs(out.ShiftMM) <= joint.PlayMM+rounding
}

// Misfits of a routed track from which on a shape is wrong, rather than a seam. Common practice, no source.
const (
	routedGapMM   = 50
	routedTurnDeg = 5
)

// missingPiece reports a misfit of at least half the kit's smallest piece. A hundred joints could be bent round such a one, a quarter
// of a degree each, but what it means is that a piece is missing or one too many; and the linear model of Share ends well below it.
func (b *builder) missingPiece(j *Join) bool {
	gap, turn := 2.0*routedGapMM, 2.0*routedTurnDeg
	if !b.kit.Routed {
		gap, turn = math.Inf(1), math.Inf(1)
	}
	for _, p := range b.kit.Pieces {
		switch {
		case p.RadiusMM > 0:
			turn = math.Min(turn, p.AngleDeg)
		case p.Kind == KindStraight:
			gap = math.Min(gap, p.LengthMM)
		}
	}
	return j.GapMM >= gap/2 || math.Abs(j.AngleDeg) >= turn/2
}

// roundingMM is what sums of some hundred lengths are off in floating point; below it a gap that exact arithmetic cannot judge
// counts as none.
const roundingMM = 1e-6

// report says what is to be said about the joins.
func (b *builder) report(joins []Join) {
	b.call = len(b.plan.Calls) // not at a call, but at the end
	for _, j := range joins {
		if j.Into != j.Road {
			b.say(Note, CodeRoadsJoined, j.Road, 0, "", "", "road %d ends where road %d begins", j.Road, j.Into)
		}
		flat := j.GapMM == 0 && j.AngleDeg == 0
		if !j.Provable {
			flat = j.GapMM < roundingMM && j.AngleDeg == 0
		}
		switch {
		case j.Exact:
		case j.Joints == 0:
		case flat && j.SpacingMM != 0:
			b.say(Error, CodeOpenSpacing, j.Road, j.SpacingMM, "mm", "every narrow-in needs a narrow-out", "road %d closes in plan, but its lanes come back %s", j.Road, moreOrLess(j.SpacingMM, "further apart", "closer together"))
		case flat && math.Abs(j.ShiftMM) > roundingMM:
			b.say(Error, CodeOpenSpacing, j.Road, j.ShiftMM, "mm", "every shift needs one to the other side", "road %d closes in plan, but its lanes come back %s", j.Road, moreOrLess(j.ShiftMM, "too far left", "too far right"))
		case flat && math.Abs(j.HeightMM) > roundingMM:
			level := Error
			if j.Usable {
				level = Warning
			}
			b.say(level, CodeOpenHeight, j.Road, j.HeightMM, "mm", "rises and falls must add up to nothing", "road %d closes in plan, but comes back %s", j.Road, moreOrLess(j.HeightMM, "too high", "too low"))
		case flat && !j.Provable:
			b.say(Note, CodeUnproved, j.Road, j.GapMM, "mm", "", "road %d closes to within rounding; exact arithmetic cannot prove it for these lengths or angles", j.Road)
		case j.Usable:
			b.say(Note, CodeForced, j.Road, j.GapMM, "mm", "", "road %d does not close exactly: it ends %s from its start%s; shared among %d joints that is at most %.3f degrees and %.3f mm a joint, within the kit's play",
				j.Road, mmText(j.GapMM), b.misfit(j), j.Joints, j.WorstTurnDeg, j.WorstPlayMM)
		case b.missingPiece(&j):
			b.say(Error, CodeOpen, j.Road, j.GapMM, "mm", b.closeWay(j), "road %d does not close: it ends %s from its start%s; that is no play of joints but a piece missing or one too many",
				j.Road, mmText(j.GapMM), b.misfit(j))
		default:
			b.say(Error, CodeOpen, j.Road, j.GapMM, "mm", b.closeWay(j), "road %d does not close: it ends %s from its start%s; shared among %d joints that is up to %.3f degrees and %.3f mm a joint, the kit gives %s degrees and %s mm",
				j.Road, mmText(j.GapMM), b.misfit(j), j.Joints, j.WorstTurnDeg, j.WorstPlayMM, trim(b.kit.Joint.AngleDeg), trim(b.kit.Joint.PlayMM))
		}
	}
}

// closeWay names the single straight that would close a road, where one would.
func (b *builder) closeWay(j Join) string {
	if j.AngleDeg == 0 && math.Abs(j.LeftMM) < roundingMM && j.ForwardMM < 0 {
		if b.kit.Routed {
			return fmt.Sprintf("a straight of %s at the end would close it", mmText(-j.ForwardMM))
		}
		for _, p := range b.kit.Pieces {
			if p.Kind == KindStraight && math.Abs(p.LengthMM+j.ForwardMM) < roundingMM {
				return "one more " + p.Name + " at the end would close it"
			}
		}
	}
	if j.AngleDeg != 0 {
		return fmt.Sprintf("it turns by %s in all; look for a bend that is %s short or over, or let layout close look", degText(j.NetTurnDeg), degText(math.Abs(j.AngleDeg)))
	}
	return "layout close looks for what closes it"
}

func moreOrLess(mm float64, more, less string) string {
	if mm > 0 {
		return mmText(mm) + " " + more
	}
	return mmText(-mm) + " " + less
}

// misfit tells direction, angle and height of a gap in words.
func (b *builder) misfit(j Join) string {
	s := ""
	if j.GapMM > 0 {
		s = ", " + direction(j.ForwardMM, j.LeftMM)
	}
	if j.AngleDeg != 0 {
		s += fmt.Sprintf(", turned by %s", degText(j.AngleDeg))
	}
	if math.Abs(j.HeightMM) > roundingMM {
		s += ", " + moreOrLess(j.HeightMM, "too high", "too low")
	}
	return s
}
