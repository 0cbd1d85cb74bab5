package curve

import "math"

// Compose returns the pose q, given in the frame of p, in the frame in which p is given.
//
// Composition of plane rigid motions: (R1, t1)(R2, t2) = (R1 R2, R1 t2 + t1).
func (p Pose) Compose(q Pose) Pose {
	sin, cos := math.Sincos(p.Heading)
	return Pose{p.X + cos*q.X - sin*q.Y, p.Y + sin*q.X + cos*q.Y, p.Heading + q.Heading}
}

// Seen returns the pose q, given in the same frame as p, as seen from p: X ahead of p, Y to the left of p.
// The heading is not reduced modulo a full turn.
func (p Pose) Seen(q Pose) Pose {
	sin, cos := math.Sincos(p.Heading)
	dx, dy := q.X-p.X, q.Y-p.Y
	return Pose{cos*dx + sin*dy, -sin*dx + cos*dy, q.Heading - p.Heading}
}

// Left returns the pose beside p, offset mm to its left, with the same heading.
func (p Pose) Left(offset float64) Pose {
	sin, cos := math.Sincos(p.Heading)
	return Pose{p.X - offset*sin, p.Y + offset*cos, p.Heading}
}

// Wrap reduces an angle in radians to (-π, π].
func Wrap(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	switch {
	case a > math.Pi:
		return a - 2*math.Pi
	case a <= -math.Pi:
		return a + 2*math.Pi
	}
	return a
}
