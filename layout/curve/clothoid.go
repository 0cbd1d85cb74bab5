package curve

import "math"

// Clothoid is a curve whose curvature runs linearly from K0 to K1 (1/mm, positive to the left) along its LengthMM.
//
// Its end follows from the Fresnel integrals, the kernel of Abramowitz & Stegun 7.3.1-7.3.2; they are evaluated here by
// quadrature of the heading, which needs no special cases.
type Clothoid struct {
	Start    Pose
	K0, K1   float64
	LengthMM float64
}

// Length returns the length in mm.
func (c Clothoid) Length() float64 { return c.LengthMM }

// Curvature returns the curvature s mm after the start.
func (c Clothoid) Curvature(s float64) float64 {
	if c.LengthMM <= 0 {
		return c.K0
	}
	return c.K0 + (c.K1-c.K0)*within(s, c.LengthMM)/c.LengthMM
}

// gain returns the heading gained in the first s mm.
func (c Clothoid) gain(s float64) float64 {
	if c.LengthMM <= 0 {
		return 0
	}
	return s * (c.K0 + (c.K1-c.K0)*s/(2*c.LengthMM))
}

// clothoidMost bounds the parts a clothoid is cut into; beyond it (some 60 full turns) the pose is no longer exact.
const clothoidMost = 512

// At returns the pose s mm after the start.
func (c Clothoid) At(s float64) Pose {
	s = within(s, c.LengthMM)
	turned := max(math.Abs(c.K0), math.Abs(c.K1)) * s
	n := int(min(clothoidMost, 1+turned/0.75)) // a rule of 10 points is exact to rounding over 0.75 rad
	var x, y float64
	for i := range n {
		a, b := s*float64(i)/float64(n), s*float64(i+1)/float64(n)
		x += integrate(func(t float64) float64 { return math.Cos(c.gain(t)) }, a, b)
		y += integrate(func(t float64) float64 { return math.Sin(c.gain(t)) }, a, b)
	}
	return c.Start.Compose(Pose{x, y, c.gain(s)})
}

// Moved returns the clothoid as it lies in the frame in which by is given.
func (c Clothoid) Moved(by Pose) Segment {
	c.Start = by.Compose(c.Start)
	return c
}

// Mirrored returns the clothoid mirrored at the X axis.
func (c Clothoid) Mirrored() Segment {
	c.Start, c.K0, c.K1 = mirror(c.Start), -c.K0, -c.K1
	return c
}
