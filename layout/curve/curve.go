// Package curve holds the plane curves that roads and lanes are made of: lines, arcs, and shapes that move a lane sideways.
//
// Lengths are millimetres, angles radians, positive to the left. A Path is a chain of segments; its length, its poses and its
// curvature all come from the same segments, so that a drawing, a lap length and a par lap can never disagree.
package curve

// Pose is a place and a heading: X to the right, Y up, Heading in radians anticlockwise from the X axis.
type Pose struct{ X, Y, Heading float64 }

// Segment is a piece of plane curve parametrised by its own arc length in mm, from 0 to Length.
type Segment interface {
	Length() float64
	At(s float64) Pose           // pose at s; s is clamped to [0, Length]
	Curvature(s float64) float64 // 1/mm, positive to the left
}

// Path is a chain of segments, each starting where the one before ends.
type Path []Segment
