package curve

import "math"

// Arc is a part of a circle: from Start with radius RadiusMM > 0, turning by Turn radians, positive to the left.
type Arc struct {
	Start    Pose
	RadiusMM float64
	Turn     float64
}

// Length returns radius times angle.
func (a Arc) Length() float64 { return a.RadiusMM * math.Abs(a.Turn) }

// At returns the pose s mm after the start: the chord 2R sin(t/2) lies at half the turned angle t.
func (a Arc) At(s float64) Pose {
	if a.RadiusMM <= 0 {
		return a.Start
	}
	t := math.Copysign(within(s, a.Length())/a.RadiusMM, a.Turn)
	chord := 2 * a.RadiusMM * math.Sin(math.Abs(t)/2)
	sin, cos := math.Sincos(a.Start.Heading + t/2)
	return Pose{a.Start.X + chord*cos, a.Start.Y + chord*sin, a.Start.Heading + t}
}

// Curvature is 1/radius, positive to the left.
func (a Arc) Curvature(float64) float64 {
	if a.RadiusMM <= 0 {
		return 0
	}
	return math.Copysign(1/a.RadiusMM, a.Turn)
}

// Moved returns the arc as it lies in the frame in which by is given.
func (a Arc) Moved(by Pose) Segment {
	a.Start = by.Compose(a.Start)
	return a
}

// Mirrored returns the arc mirrored at the X axis.
func (a Arc) Mirrored() Segment {
	a.Start, a.Turn = mirror(a.Start), -a.Turn
	return a
}
