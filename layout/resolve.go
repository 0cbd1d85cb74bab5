package layout

import (
	"fmt"
	"math"
	"sort"

	"lanewright/layout/curve"
)

// Resolve lays a plan with a kit: every piece of every road in its place, lanes and slots with their lengths, how the roads
// close, and what there is to say about it.
//
// It is total: any plan and kit give a track and findings, however wrong they are; it never panics and its work is bounded by
// the number of calls and by 20000 pieces. Findings come in the order of the calls, those about the whole track last.
func Resolve(p Plan, k Kit) (Track, []Finding) {
	b := &builder{plan: &p, kit: k, effort: effortMost}
	if !b.prepare() {
		return Track{Plan: p, Kit: b.kit}, b.findings
	}
	for i := range p.Calls {
		b.call = i
		b.layCall(&p.Calls[i])
		if b.total > pieceMost {
			break
		}
	}
	b.pairCrossroads()
	t := Track{Plan: p, Kit: b.kit}
	to := b.into()
	t.Joins = b.joins(to)
	if b.broken {
		for i := range t.Joins {
			t.Joins[i].Exact, t.Joins[i].Usable = false, false
		}
	}
	lines := b.timingLines(to)
	t.Lanes = b.lanes(to, lines)
	t.Slots = slots(t.Lanes)
	t.Roads = make([]Road, len(b.roads))
	for i := range b.roads {
		t.Roads[i] = Road{Number: i + 1, Positions: b.kit.Lanes, Pieces: b.roads[i].placed}
	}
	if !b.broken {
		b.report(t.Joins)
		b.reportSlots(t.Slots)
		b.reportBanking()
		b.selfCheck(&t)
	}
	t.Closes = !b.broken && b.total > 0
	for _, j := range t.Joins {
		t.Closes = t.Closes && j.Usable
	}
	sort.SliceStable(b.findings, func(i, j int) bool { return order(b.findings[i]) < order(b.findings[j]) })
	return t, b.findings
}

// order puts findings at calls first, call by call.
func order(f Finding) int {
	if f.Call == 0 {
		return math.MaxInt
	}
	return f.Call
}

// prepare sets up the builder; false when there is nothing to lay or nothing to lay it with.
func (b *builder) prepare() bool {
	p, k := b.plan, &b.kit
	b.call = len(p.Calls)
	if p.Roads < 1 || p.Roads > 4 {
		return b.fail(CodeRoadMissing, 0, "", "the plan has %d roads; it must have 1 to 4", p.Roads)
	}
	if k.Routed {
		if p.Lanes > 0 {
			k.Lanes = p.Lanes
		}
		if p.SpacingMM > 0 {
			k.SpacingMM = p.SpacingMM
		}
		if k.EdgeMM > 0 {
			k.RoadWidthMM = float64(k.Lanes-1)*k.SpacingMM + 2*k.EdgeMM
		}
	} else if p.Lanes > 0 && p.Lanes != k.Lanes || p.SpacingMM > 0 && p.SpacingMM != k.SpacingMM {
		return b.fail(CodeKitShape, 0, "leave lanes and lane_spacing out", "the roads of this kit have %d lanes %s apart; only a routed kit leaves that to the plan", k.Lanes, mmText(k.SpacingMM))
	}
	if why := unusable(k); why != "" {
		return b.fail(CodeKitShape, 0, "", "%s", why)
	}
	if len(p.Calls) == 0 {
		return b.fail(CodeNoCalls, 0, `write course = ["timing", "straight 3", ...]`, "the course has no calls")
	}
	if len(p.Calls) > callMost {
		return b.fail(CodeTooManyCalls, 0, "give runs of like pieces in one call, for example straight 12", "the course has %d calls; at most %d are read", len(p.Calls), callMost)
	}
	if p.Roads > 1 {
		b.findings = append(b.findings, CheckKit(*k)...)
	}
	b.start = p.Start.Pose()
	b.sin, b.cos = curve.SinCos(p.Start.HeadingDeg)
	if !finite(b.start.X) || !finite(b.start.Y) || !finite(b.start.Heading) || !finite(p.Start.HeightMM) {
		return b.fail(CodeOutOfRange, 0, "", "the start of the plan is no place")
	}
	b.pieces = append(make([]Piece, 0, len(k.Pieces)+16), k.Pieces...)
	b.roads = make([]road, p.Roads)
	for i := range b.roads {
		b.roads[i] = b.newRoad(i + 1)
		b.roads[i].placed = make([]Placed, 0, len(p.Calls)+len(p.Calls)/8+16)
	}
	for _, s := range p.Stock {
		if b.find(func(p *Piece) bool { return p.Name == s.Piece }) < 0 {
			f := Finding{Level: Error, Code: CodeUnknownStock, File: p.File, Line: s.Line,
				Text: fmt.Sprintf("the kit has no piece called %q to have in stock", shorten(s.Piece)), Way: "pieces of this kit: " + b.partNames()}
			b.findings = append(b.findings, f)
		}
	}
	return true
}

// unusable says why a kit that did not come from ReadKit cannot be laid, empty when it can.
func unusable(k *Kit) string {
	if k.Lanes < 2 || k.Lanes > 8 {
		return fmt.Sprintf("a road of this kit has %d lanes; it must have 2 to 8", k.Lanes)
	}
	for _, x := range []float64{k.RoadWidthMM, k.SpacingMM} {
		if !(x >= lengthMM.lo && x <= lengthMM.hi) {
			return "road width and lane spacing of the kit must be lengths from 1 to 100000 mm"
		}
	}
	if w := float64(k.Lanes-1) * k.SpacingMM; w >= k.RoadWidthMM {
		return fmt.Sprintf("%d lanes %s apart do not fit on a road %s wide", k.Lanes, mmText(k.SpacingMM), mmText(k.RoadWidthMM))
	}
	for i := range k.Pieces {
		p := &k.Pieces[i]
		straight := p.LengthMM > 0 && p.LengthMM <= lengthMM.hi && p.RadiusMM == 0
		bent := p.RadiusMM > 0 && p.RadiusMM <= lengthMM.hi && micro(math.Min(p.AngleDeg, 1e6)) > 0 && p.AngleDeg <= 360
		if !straight && !bent {
			return fmt.Sprintf("%q of the kit is neither a straight with a length nor a curve with radius and angle", shorten(p.Name))
		}
		if (p.Kind == KindTiming || p.Kind == KindSensor) && len(p.Sensors) == 0 {
			return fmt.Sprintf("%q of the kit has no sensor", shorten(p.Name))
		}
		if !finite(p.RiseMM) || !finite(p.ShiftMM) || !finite(p.FromMM) || !finite(p.ToMM) {
			return fmt.Sprintf("%q of the kit has a size that is no number", shorten(p.Name))
		}
	}
	return ""
}

// selfCheckMM is how far lane lengths may be from the parallel-curve theorem: rounding of some hundred sums.
const selfCheckMM = 1e-6

// selfCheck compares neighbouring lanes with the parallel-curve theorem: on a closed road they differ by spacing times whole
// turning, whatever its shape. It holds without crossings, sideways moves, rises and measured lengths.
//
// Source: lengths of parallel curves and the winding number; length + 2 pi r I for a curve of turning number I.
func (b *builder) selfCheck(t *Track) {
	for i, road := range t.Roads {
		if !t.Joins[i].Exact || t.Joins[i].Into != i+1 || !plain(road) {
			continue
		}
		step := b.kit.SpacingMM * curve.Radians(t.Joins[i].NetTurnDeg)
		for n := 1; n < len(t.Lanes); n++ {
			left, right := &t.Lanes[n-1], &t.Lanes[n]
			if left.At.Road != i+1 || right.At.Road != i+1 {
				continue
			}
			if off := right.LengthMM - left.LengthMM - step; math.Abs(off) > selfCheckMM {
				b.say(Error, CodeSelfCheck, i+1, off, "mm", "please report this plan", "lanes %d and %d differ by %s, the parallel-curve theorem demands %s",
					left.Number, right.Number, mmText(right.LengthMM-left.LengthMM), mmText(step))
			}
		}
	}
}

func plain(r Road) bool {
	for i := range r.Pieces {
		switch pl := &r.Pieces[i]; {
		case pl.Kind == KindCrossing || pl.Kind == KindPinch:
			return false
		case len(pl.Stay) > 0 && (pl.Stay[0].Measured || pl.Stay[0].RiseMM != 0):
			return false
		}
	}
	return true
}
