package pace

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"lanewright/layout"
	"lanewright/layout/curve"
	"lanewright/layout/route"
)

// Ribbon is a way along a track cut into short steps, ready to be driven over with any car. It knows nothing of cars, so
// one ribbon serves many. Make one with [LaneRibbon] or [RouteRibbon].
type Ribbon struct {
	Lanes []int // in which its laps start, in order; one for a plain lane
	steps []step
	at    []float64 // m from the first line, at each joint of steps: one more than steps
	lapAt []int     // index of the joint at which each lap starts; the first is 0
	parts []part
}

// part says which piece a run of steps belongs to.
type part struct {
	first int // step
	leg   route.Leg
}

// step is a short stretch with the shape of the way at its start, middle and end.
type step struct {
	length     float64    // m in space
	k          [3]float64 // curvature in 1/m as the car feels it: plan curvature times cos2 of the grade
	sinA, cosA float64    // grade
	sinB, cosB float64    // bank, raised on the outside of the bend
	even       bool       // the same curvature all along
}

// ErrRibbon reports a way that cannot be driven: no length, or a shape that is not a number.
var ErrRibbon = errors.New("not a way to drive")

// stepMM is the longest step taken. On the closed forms of the tests a lap computed with it is within 1e-6 of the exact
// time; halving it moves the laps of real layouts by less than a microsecond.
const stepMM = 10 // in bends; twice that on straights

// stepsMost bounds the steps of one ribbon, 10 km of track: more is a mistake in a plan.
const stepsMost = 1_000_000

// LaneRibbon is what a car drives that stays in its slot, starting in lane: one lap, or all the laps of a joined slot
// until it comes back to the lane. The error wraps [ErrRibbon] or [route.ErrNoWay].
func LaneRibbon(t layout.Track, lane int) (Ribbon, error) {
	g, err := route.New(t)
	if err != nil {
		return Ribbon{}, err
	}
	return laneRibbon(g, lane, len(t.Lanes), stepMM)
}

func laneRibbon(g route.Graph, lane, lanes int, step float64) (Ribbon, error) {
	var b builder
	return b.lane(g, lane, lanes, step)
}

// lane lays the ribbon of a lane in the builder's own room: the ribbon before it is gone.
func (b *builder) lane(g route.Graph, lane, lanes int, step float64) (Ribbon, error) {
	b.ribbon = Ribbon{steps: b.ribbon.steps[:0], at: b.ribbon.at[:0], parts: b.ribbon.parts[:0]}
	at := lane
	for range max(1, lanes) {
		legs, end, err := g.Legs(at, nil)
		if err != nil {
			return Ribbon{}, err
		}
		if err := b.lap(at, legs, step); err != nil {
			return Ribbon{}, err
		}
		if end == lane {
			return b.ribbon, nil
		}
		at = end
	}
	return Ribbon{}, fmt.Errorf("pace: lane %d never comes back to itself: %w", lane, ErrRibbon)
}

// RouteRibbon is what a car drives that makes the given turns, lap after lap: laps[i] starts in lane starts[i], and each
// lap must end where the next, or the first, starts.
func RouteRibbon(g route.Graph, starts []int, turns [][]route.Turn) (Ribbon, error) {
	return routeRibbon(g, starts, turns, stepMM)
}

func routeRibbon(g route.Graph, starts []int, turns [][]route.Turn, step float64) (Ribbon, error) {
	var r builder
	if len(starts) == 0 || len(starts) != len(turns) {
		return Ribbon{}, fmt.Errorf("pace: %d starting lanes for %d laps: %w", len(starts), len(turns), ErrRibbon)
	}
	for i, lane := range starts {
		legs, end, err := g.Legs(lane, turns[i])
		if err != nil {
			return Ribbon{}, err
		}
		if next := starts[(i+1)%len(starts)]; end != next {
			return Ribbon{}, fmt.Errorf("pace: lap %d ends in lane %d but the next starts in lane %d: %w", i+1, end, next, ErrRibbon)
		}
		if err := r.lap(lane, legs, step); err != nil {
			return Ribbon{}, err
		}
	}
	return r.ribbon, nil
}

// builder lays steps one after the other.
type builder struct{ ribbon Ribbon }

func (b *builder) lap(lane int, legs []route.Leg, step float64) error {
	r := &b.ribbon
	if len(r.at) == 0 {
		r.at = append(r.at, 0)
	}
	// Room for the whole lap at once: a step a segment more than the length asks for.
	most := 0.0
	for _, leg := range legs {
		most += max(0, leg.ToMM-leg.FromMM)/step + float64(len(leg.Way.Plan)) + 1
	}
	r.steps = slices.Grow(r.steps, int(min(most, stepsMost)))
	r.at = slices.Grow(r.at, int(min(most, stepsMost)))
	r.parts = slices.Grow(r.parts, len(legs))
	r.Lanes = append(r.Lanes, lane)
	r.lapAt = append(r.lapAt, len(r.steps))
	for _, leg := range legs {
		r.parts = append(r.parts, part{len(r.steps), leg})
		if err := b.leg(leg, step); err != nil {
			return err
		}
	}
	if len(r.steps) == r.lapAt[len(r.lapAt)-1] {
		return fmt.Errorf("pace: the lap of lane %d has no length: %w", lane, ErrRibbon)
	}
	return nil
}

// leg lays the steps of one leg. A measured length stretches the drawn curve evenly: the shape is the kit's, the length
// the club's.
func (b *builder) leg(leg route.Leg, stepMM float64) error {
	way := leg.Way
	plan := way.Plan
	planMM := plan.Length()
	if planMM <= 0 {
		planMM = way.LengthMM
		plan = curve.Path{curve.Line{LengthMM: planMM}}
	}
	spaceMM := math.Hypot(planMM, way.RiseMM)
	stretch := way.LengthMM / spaceMM
	shape := step{cosA: planMM / spaceMM, sinA: way.RiseMM / spaceMM}
	shape.sinB, shape.cosB = curve.SinCos(math.Abs(leg.Piece.BankDeg))
	if !(way.LengthMM >= 0) || !(stretch >= 0) || math.IsInf(spaceMM, 0) {
		if way.LengthMM == 0 {
			return nil
		}
		return fmt.Errorf("pace: road %d piece %d (%s) has a way of %v mm drawn %v mm long: %w",
			leg.Piece.Road, leg.Piece.Index, leg.Piece.Piece, way.LengthMM, spaceMM, ErrRibbon)
	}
	perPlan := way.LengthMM / planMM / 1000 // m of way per mm of plan
	felt := shape.cosA * shape.cosA * 1000 / stretch
	from, to := leg.FromMM/(perPlan*1000), leg.ToMM/(perPlan*1000)
	for _, seg := range plan {
		length := seg.Length()
		lo, hi := max(0, from), min(length, to)
		from, to = from-length, to-length
		if !(hi > lo) {
			continue
		}
		if err := b.segment(leg, seg, lo, hi, shape, perPlan, felt, stepMM); err != nil {
			return err
		}
	}
	return nil
}

func (b *builder) segment(leg route.Leg, seg curve.Segment, lo, hi float64, shape step, perPlan, felt, stepMM float64) error {
	r := &b.ribbon
	n := int(min(stepsMost, math.Ceil((hi-lo)/stepMM)))
	if len(r.steps)+n > stepsMost {
		return fmt.Errorf("pace: the way is longer than %d steps of %v mm at road %d piece %d (%s): %w",
			stepsMost, stepMM, leg.Piece.Road, leg.Piece.Index, leg.Piece.Piece, ErrRibbon)
	}
	switch seg.(type) {
	case curve.Line:
		shape.even = true
		n = (n + 1) / 2 // without a bend the speed changes gently enough for steps of twice the length
	case curve.Arc:
		shape.even = true
	}
	shape.length = (hi - lo) / float64(n) * perPlan
	bend := func(s float64) float64 { return math.Abs(seg.Curvature(s)) * felt }
	last := bend(lo)
	for i := range n {
		s := shape
		if s.even {
			s.k = [3]float64{last, last, last}
		} else {
			a := lo + (hi-lo)*float64(i)/float64(n)
			c := lo + (hi-lo)*float64(i+1)/float64(n)
			s.k = [3]float64{last, bend((a + c) / 2), bend(c)}
			last = s.k[2]
		}
		if bad := s.k[0] + s.k[1] + s.k[2] + s.length; math.IsNaN(bad) || math.IsInf(bad, 0) {
			return fmt.Errorf("pace: road %d piece %d (%s) has a curvature that is not a number: %w",
				leg.Piece.Road, leg.Piece.Index, leg.Piece.Piece, ErrRibbon)
		}
		r.steps = append(r.steps, s)
		r.at = append(r.at, r.at[len(r.at)-1]+s.length)
	}
	return nil
}

// LengthMM is the length of all laps of the ribbon.
func (r Ribbon) LengthMM() float64 {
	if len(r.at) == 0 {
		return 0
	}
	return r.at[len(r.at)-1] * 1000
}

// pieceAt finds the piece that step i lies on.
func (r Ribbon) pieceAt(i int) *layout.Placed {
	lo, hi := 0, len(r.parts)
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; r.parts[mid].first <= i {
			lo = mid
		} else {
			hi = mid
		}
	}
	return r.parts[lo].leg.Piece
}
