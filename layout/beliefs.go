package layout

import (
	"fmt"
	"math"
	"strings"

	"lanewright/layout/curve"
)

// besideMM is how far a road may stray from its place beside road 1 before the tool speaks: what a hand does not notice when
// laying, and far below any mistake with a piece. Common practice, no source.
const besideMM = 0.5

// checkBeliefs compares what the builder believes of a call with what was laid.
func (b *builder) checkBeliefs(c *Call, before *marks) {
	for _, belief := range c.Beliefs {
		switch {
		case len(belief.Pieces) > 0:
			b.checkPieces(belief, before)
		case belief.HasAngle:
			b.eachRoad(func(i int) float64 { return float64(b.roads[i].micro-before[i].micro) / 1e6 }, func(road int, turned float64) {
				believed := float64(belief.AngleMicro) / 1e6
				if turned == believed || !belief.Signed && -turned == believed {
					return
				}
				b.say(Error, CodeBelief, road, believed-turned, "deg", "count the pieces of this bend again",
					"the call states a turn of %s, its pieces turn by %s", turnText(believed, belief.Signed), turnText(turned, true))
			})
		case belief.LengthMM > 0:
			length := func(i int) (sum float64) {
				for k := before[i].placed; k < len(b.roads[i].placed); k++ {
					sum += b.roads[i].placed[k].Centre.Length()
				}
				return sum
			}
			b.eachRoad(length, func(road int, length float64) {
				if math.Abs(length-belief.LengthMM) > besideMM {
					b.say(Error, CodeBelief, road, belief.LengthMM-length, "mm", "", "the call states a length of %s, its pieces measure %s along the middle of the road",
						mmText(belief.LengthMM), mmText(length))
				}
			})
		}
	}
}

// eachRoad measures every road and hands the results on, once for all (road 0) where they are the same.
func (b *builder) eachRoad(measure func(i int) float64, tell func(road int, x float64)) {
	got := make([]float64, len(b.roads))
	same := true
	for i := range got {
		got[i] = measure(i)
		same = same && got[i] == got[0]
	}
	if same {
		tell(0, got[0])
		return
	}
	for i, x := range got {
		tell(i+1, x)
	}
}

// turnText says a turn with its side.
func turnText(deg float64, signed bool) string {
	switch {
	case !signed || deg == 0:
		return degText(deg)
	case deg < 0:
		return degText(-deg) + " to the right"
	}
	return degText(deg) + " to the left"
}

func (b *builder) checkPieces(belief Belief, before *marks) {
	got := make([]int, len(b.roads))
	sum := 0
	for i := range b.roads {
		got[i] = len(b.roads[i].placed) - before[i].placed
		sum += got[i]
	}
	if len(belief.Pieces) == 1 && len(got) > 1 {
		if belief.Pieces[0] != sum {
			b.say(Error, CodeBelief, 0, float64(belief.Pieces[0]-sum), "pieces", "", "the call states %s, it takes %d on all roads together (%s)",
				plural(belief.Pieces[0], "piece"), sum, joinPlus(got))
		}
		return
	}
	if len(belief.Pieces) != len(got) {
		b.say(Error, CodeBelief, 0, float64(len(belief.Pieces)-len(got)), "roads", "state one number a road, joined by +", "the call states pieces for %s, the plan has %s",
			plural(len(belief.Pieces), "road"), plural(len(got), "road"))
		return
	}
	for i := range got {
		if got[i] != belief.Pieces[i] {
			b.say(Error, CodeBelief, i+1, float64(belief.Pieces[i]-got[i]), "pieces", "", "the call states %s, it takes %d (%s)",
				plural(belief.Pieces[i], "piece"), got[i], b.listed(i, before[i].placed))
		}
	}
}

func joinPlus(ns []int) string {
	parts := make([]string, len(ns))
	for i, n := range ns {
		parts[i] = fmt.Sprint(n)
	}
	return strings.Join(parts, "+")
}

// listed names the pieces a road got, runs of like ones together.
func (b *builder) listed(i, from int) string {
	var out []string
	placed := b.roads[i].placed
	for k := from; k < len(placed); {
		n := 1
		for k+n < len(placed) && placed[k+n].Piece == placed[k].Piece {
			n++
		}
		out = append(out, fmt.Sprintf("%d x %s", n, placed[k].Piece))
		k += n
	}
	return shortList(out)
}

// checkBeside compares where the roads lie beside road 1 before and after a call.
func (b *builder) checkBeside(c *Call, before *marks) {
	for i := 1; i < len(b.roads); i++ {
		r := &b.roads[i]
		want := -float64(i) * b.kit.RoadWidthMM
		ahead, left, turned := b.roads[0].seen(r)
		off := math.Hypot(ahead, left-want)
		switch {
		case r.parted || c.Apart:
			r.parted = off > besideMM || turned != 0
		case turned != 0:
			r.parted = true
			first, own := b.roads[0].micro-before[0].micro, r.micro-before[i].micro
			b.say(Error, CodeBendDisagrees, i+1, float64(turned)/1e6, "deg", "give both roads the same angle, or add the word apart if they part here on purpose",
				"road 1 turns by %s in this call, road %d by %s", degText(float64(first)/1e6), i+1, degText(float64(own)/1e6))
		case off > besideMM:
			r.parted = true
			b.say(Error, CodeRoadsPart, i+1, off, "mm", "take pieces that keep the roads side by side, or add the word apart if they part here on purpose",
				"after this call road %d lies %s from its place beside road 1: %s", i+1, mmText(off), direction(ahead, left-want))
		}
	}
}

// seen returns where the end of another road lies as seen from the end of this one.
func (r *road) seen(q *road) (ahead, left float64, turned int64) {
	dx, dy := q.x-r.x, q.y-r.y
	const full = 360e6
	turned = (q.micro - r.micro) % full
	if turned > full/2 {
		turned -= full
	} else if turned <= -full/2 {
		turned += full
	}
	return r.cos*dx + r.sin*dy, -r.sin*dx + r.cos*dy, turned
}

// direction says a gap in words.
func direction(ahead, left float64) string {
	var parts []string
	if math.Abs(ahead) >= 0.0005 {
		parts = append(parts, mmText(math.Abs(ahead))+[2]string{" ahead", " behind"}[sign(ahead)])
	}
	if math.Abs(left) >= 0.0005 {
		parts = append(parts, mmText(math.Abs(left))+[2]string{" to the left", " to the right"}[sign(left)])
	}
	if len(parts) == 0 {
		return "by less than can be measured"
	}
	return strings.Join(parts, " and ")
}

func sign(x float64) int {
	if x < 0 {
		return 1
	}
	return 0
}

// checkGrade reports the steepest lane of a call where it is steeper than the kit allows.
func (b *builder) checkGrade(before *marks) {
	most := b.kit.Limits.GradePercent
	if most <= 0 {
		return
	}
	for i := range b.roads {
		var steepest float64
		var at Strand
		var piece string
		for k := before[i].placed; k < len(b.roads[i].placed); k++ {
			pl := &b.roads[i].placed[k]
			for _, s := range pl.Stay {
				if s.RiseMM == 0 {
					continue
				}
				if g := 100 * math.Abs(s.RiseMM) / s.Plan.Length(); g > steepest {
					steepest, at, piece = g, s, pl.Piece
				}
			}
		}
		if steepest > most {
			verb := "climbs"
			if at.RiseMM < 0 {
				verb = "falls"
			}
			b.say(Warning, CodeGradeHigh, i+1, steepest, "percent", "spread the rise over a longer stretch",
				"%s %s by %.2f %% on its steepest lane, position %d; the kit allows %s %%", piece, verb, steepest, at.From, trim(most))
		}
	}
}

// checkRadius reports lanes that turn too tightly. A lane whose circle has shrunk to nothing cannot exist.
func (b *builder) checkRadius(pl *Placed, p *Piece) {
	if p.RadiusMM <= 0 {
		return
	}
	least, lane := math.Inf(1), 0
	for _, s := range pl.Stay {
		if arc, ok := s.Plan[0].(curve.Arc); ok && arc.RadiusMM < least {
			least, lane = arc.RadiusMM, s.From
		}
	}
	switch {
	case least <= 0:
		b.broken = true
		b.say(Error, CodeRadiusSmall, pl.Road, p.RadiusMM, "mm", "take a larger radius", "%s leaves no bend for the lane at position %d", pl.Piece, lane)
	case least < b.kit.Limits.RadiusMM:
		b.say(Warning, CodeRadiusSmall, pl.Road, least, "mm", "take a larger radius", "the lane at position %d of %s has a radius of %s, the kit allows no less than %s",
			lane, pl.Piece, mmText(least), mmText(b.kit.Limits.RadiusMM))
	}
}

// checkSpacing reports a narrow piece that does not fit what lies in front of it.
func (b *builder) checkSpacing(r *road, pl *Placed, from float64) {
	if from == r.spacing {
		return
	}
	b.say(Error, CodeSpacing, pl.Road, from-r.spacing, "mm", "a narrow-in needs wide lanes in front of it, a narrow-out narrow ones",
		"%s begins with lanes %s apart, the piece in front of it ends with %s", pl.Piece, mmText(from), mmText(r.spacing))
	r.spacing = from
}
