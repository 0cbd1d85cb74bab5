package curve

// Line is a straight run from Start, LengthMM long.
type Line struct {
	Start    Pose
	LengthMM float64
}

// Length returns the length in mm.
func (l Line) Length() float64 { return l.LengthMM }

// At returns the pose s mm after the start.
func (l Line) At(s float64) Pose {
	return l.Start.Compose(Pose{X: within(s, l.LengthMM)})
}

// Curvature is 0 everywhere.
func (l Line) Curvature(float64) float64 { return 0 }

// Moved returns the line as it lies in the frame in which by is given.
func (l Line) Moved(by Pose) Segment {
	l.Start = by.Compose(l.Start)
	return l
}

// Mirrored returns the line mirrored at the X axis.
func (l Line) Mirrored() Segment {
	l.Start = mirror(l.Start)
	return l
}

// within clamps s to [0, length].
func within(s, length float64) float64 {
	return max(0, min(s, length))
}

func mirror(p Pose) Pose { return Pose{p.X, -p.Y, -p.Heading} }
