package curve

import "math"

// Bent is a curve drawn along a straight axis and bent with it round an arc: what lay at distance x along the axis and y to its
// left lies afterwards at arc x of the base and y to its left. It is how a lane changes sides inside a bend.
//
// With base curvature k the curve's element is sqrt((1-k y)² x'² + y'²). Make one with [Bend]; the zero Bent has no length.
type Bent struct {
	Base     Arc
	flat     Path
	measured *gauge
}

// Bend bends a flat path, given along the X axis from the origin, round base, whose heading at the start is that axis.
// The path must stay on the near side of the base's centre.
func Bend(base Arc, flat Path) Bent {
	b := Bent{Base: base, flat: flat}
	k := base.Curvature(0)
	b.measured = newGauge(flat.Length(), func(t float64) float64 {
		at := flat.At(t)
		sin, cos := math.Sincos(at.Heading)
		return math.Hypot((1-k*at.Y)*cos, sin)
	})
	return b
}

// Length returns the length along the curve in mm.
func (b Bent) Length() float64 {
	if b.measured == nil {
		return 0
	}
	return b.measured.length()
}

// At returns the pose s mm along the curve.
func (b Bent) At(s float64) Pose {
	if b.measured == nil {
		return b.Base.Start
	}
	at := b.flat.At(b.measured.param(s))
	sin, cos := math.Sincos(at.Heading)
	foot := b.Base.At(at.X)
	out := foot.Left(at.Y)
	out.Heading += math.Atan2(sin, (1-b.Base.Curvature(0)*at.Y)*cos)
	return out
}

// Curvature returns the curvature s mm along the curve, positive to the left.
func (b Bent) Curvature(s float64) float64 {
	if b.measured == nil {
		return 0
	}
	t := b.measured.param(s)
	at, kf := b.flat.At(t), b.flat.Curvature(t)
	k := b.Base.Curvature(0)
	sin, cos := math.Sincos(at.Heading)
	ahead, aside := (1-k*at.Y)*cos, sin // velocity in the turning frame
	dAhead := -k*sin*cos - (1-k*at.Y)*kf*sin
	dAside := kf * cos
	speed := math.Hypot(ahead, aside)
	return (k*cos + (ahead*dAside-aside*dAhead)/(speed*speed)) / speed
}

// Moved returns the curve as it lies in the frame in which by is given.
func (b Bent) Moved(by Pose) Segment {
	b.Base.Start = by.Compose(b.Base.Start)
	return b
}

// Mirrored returns the curve mirrored at the X axis.
func (b Bent) Mirrored() Segment {
	base := b.Base
	base.Start, base.Turn = mirror(base.Start), -base.Turn
	return Bend(base, b.flat.Mirrored())
}
