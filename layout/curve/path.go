package curve

import "math"

// mover is what every segment of this package can do beside its lengths and poses.
type mover interface {
	Moved(by Pose) Segment
	Mirrored() Segment
}

// Length returns the length of all segments in mm.
func (p Path) Length() float64 {
	var sum float64
	for _, seg := range p {
		sum += seg.Length()
	}
	return sum
}

// find returns the segment that holds s and the distance into it. p must not be empty.
func (p Path) find(s float64) (Segment, float64) {
	for _, seg := range p[:len(p)-1] {
		l := seg.Length()
		if s < l {
			return seg, max(0, s)
		}
		s -= l
	}
	return p[len(p)-1], max(0, s)
}

// At returns the pose s mm along the path; s is clamped to its ends. An empty path gives the zero pose.
func (p Path) At(s float64) Pose {
	if len(p) == 0 {
		return Pose{}
	}
	seg, rest := p.find(s)
	return seg.At(rest)
}

// Curvature returns the curvature in 1/mm s mm along the path, positive to the left; at a joint that of the later segment.
func (p Path) Curvature(s float64) float64 {
	if len(p) == 0 {
		return 0
	}
	seg, rest := p.find(s)
	return seg.Curvature(rest)
}

// Start returns the first pose, the zero pose for an empty path.
func (p Path) Start() Pose { return p.At(0) }

// End returns the last pose, the zero pose for an empty path.
func (p Path) End() Pose {
	if len(p) == 0 {
		return Pose{}
	}
	last := p[len(p)-1]
	return last.At(last.Length())
}

// Moved returns the path as it lies in the frame in which by is given. Segments of foreign types are dropped.
func (p Path) Moved(by Pose) Path {
	out := make(Path, 0, len(p))
	for _, seg := range p {
		if m, ok := seg.(mover); ok {
			out = append(out, m.Moved(by))
		}
	}
	return out
}

// Mirrored returns the path mirrored at the X axis. Segments of foreign types are dropped.
func (p Path) Mirrored() Path {
	out := make(Path, 0, len(p))
	for _, seg := range p {
		if m, ok := seg.(mover); ok {
			out = append(out, m.Mirrored())
		}
	}
	return out
}

// sampleMost bounds the poses that one segment can contribute to a sample, however small the tolerance.
const sampleMost = 4096

// Sample returns poses along the path, both ends included, such that the straight chords between them stray from the path by no
// more than toleranceMM (at least a thousandth of a millimetre is taken).
func (p Path) Sample(toleranceMM float64) []Pose {
	if len(p) == 0 {
		return nil
	}
	tol := math.Max(toleranceMM, 1e-3)
	out := []Pose{p.Start()}
	for _, seg := range p {
		length := seg.Length()
		n := chords(seg, tol)
		for i := 1; i <= n; i++ {
			out = append(out, seg.At(length*float64(i)/float64(n)))
		}
	}
	return out
}

// chords returns how many equal parts of a segment keep its chords within tol: a chord of length c on a curve of curvature k
// strays by the sagitta, at most k c²/8 up to higher orders.
func chords(seg Segment, tol float64) int {
	if _, straight := seg.(Line); straight {
		return 1
	}
	length := seg.Length()
	var k float64
	const probes = 16
	for i := 0; i <= probes; i++ {
		k = math.Max(k, math.Abs(seg.Curvature(length*float64(i)/probes)))
	}
	n := math.Ceil(length * math.Sqrt(1.1*k/(8*tol)))
	if !(n >= 1) { // also when something was not a number
		return 1
	}
	return int(math.Min(n, sampleMost))
}

// Bounds returns the corners of the smallest upright rectangle around the path, to within toleranceMM.
func (p Path) Bounds(toleranceMM float64) (minX, minY, maxX, maxY float64) {
	for i, at := range p.Sample(toleranceMM) {
		if i == 0 {
			minX, maxX, minY, maxY = at.X, at.X, at.Y, at.Y
			continue
		}
		minX, maxX = min(minX, at.X), max(maxX, at.X)
		minY, maxY = min(minY, at.Y), max(maxY, at.Y)
	}
	return minX, minY, maxX, maxY
}

// Parallel returns the curve that runs offset mm to the left of a path of lines and arcs. Where the offset reaches the centre of an
// arc, that arc shrinks to a turn on the spot and is left out; segments of other types are left out too.
func (p Path) Parallel(offset float64) Path {
	out := make(Path, 0, len(p))
	for _, seg := range p {
		switch seg := seg.(type) {
		case Line:
			out = append(out, Line{seg.Start.Left(offset), seg.LengthMM})
		case Arc:
			if r := seg.RadiusMM - math.Copysign(1, seg.Turn)*offset; r > 0 {
				out = append(out, Arc{seg.Start.Left(offset), r, seg.Turn})
			}
		}
	}
	return out
}
