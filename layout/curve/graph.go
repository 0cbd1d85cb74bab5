package curve

import "math"

// Graph is a sideways move given as offset over distance: y = ShiftMM f(x/AlongMM), f rising from 0 to 1 with level ends.
//
// Make one with [Shift]; the zero Graph has no length.
type Graph struct {
	Start            Pose
	AlongMM, ShiftMM float64
	profile          func(u float64) (f, d1, d2 float64) // f and its first two derivatives by u
	measured         *gauge
}

func newGraph(along, shift float64, profile func(float64) (f, d1, d2 float64)) Graph {
	g := Graph{AlongMM: along, ShiftMM: shift, profile: profile}
	g.measured = newGauge(1, func(u float64) float64 {
		_, d1, _ := profile(u)
		return math.Hypot(along, shift*d1)
	})
	return g
}

// Length returns the length along the curve in mm.
func (g Graph) Length() float64 {
	if g.measured == nil {
		return 0
	}
	return g.measured.length()
}

// At returns the pose s mm along the curve.
func (g Graph) At(s float64) Pose {
	if g.measured == nil {
		return g.Start
	}
	u := g.measured.param(s)
	f, d1, _ := g.profile(u)
	return g.Start.Compose(Pose{g.AlongMM * u, g.ShiftMM * f, math.Atan2(g.ShiftMM*d1, g.AlongMM)})
}

// Curvature returns y”/(1+y'²)^(3/2), positive to the left.
func (g Graph) Curvature(s float64) float64 {
	if g.measured == nil {
		return 0
	}
	_, d1, d2 := g.profile(g.measured.param(s))
	slope := g.ShiftMM * d1 / g.AlongMM
	return g.ShiftMM * d2 / (g.AlongMM * g.AlongMM) / math.Pow(1+slope*slope, 1.5)
}

// Moved returns the graph as it lies in the frame in which by is given.
func (g Graph) Moved(by Pose) Segment {
	g.Start = by.Compose(g.Start)
	return g
}

// Mirrored returns the graph mirrored at the X axis.
func (g Graph) Mirrored() Segment {
	g.Start, g.ShiftMM = mirror(g.Start), -g.ShiftMM
	return g
}
