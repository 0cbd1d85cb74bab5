package curve

import (
	"fmt"
	"math"
	"strings"
)

// Shape is the form of a sideways move. It is a stated property of a kit, since shapes differ by millimetres a crossing.
type Shape int

// The shapes. TwoArcs is the default.
const (
	TwoArcs   Shape = iota // two equal tangent arcs, a reversed curve
	Diagonal               // a straight line, with kinks at both ends
	Cubic                  // d (3u² - 2u³)
	Cosine                 // d (1 - cos πu)/2
	Quintic                // d (10u³ - 15u⁴ + 6u⁵)
	Clothoids              // four equal clothoids, curvature 0, +k, 0, -k, 0
)

var shapeNames = []string{"two arcs", "diagonal", "cubic", "cosine", "quintic", "clothoids"}

// String returns the shape's name as kits write it.
func (s Shape) String() string {
	if s < 0 || int(s) >= len(shapeNames) {
		return fmt.Sprintf("shape %d", int(s))
	}
	return shapeNames[s]
}

// ParseShape returns the shape of a name as kits write it: "two arcs", "diagonal", "cubic", "cosine", "quintic", "clothoids".
func ParseShape(name string) (Shape, error) {
	for i, n := range shapeNames {
		if n == strings.ToLower(strings.TrimSpace(name)) {
			return Shape(i), nil
		}
	}
	return 0, fmt.Errorf("%q is no shape of a sideways move; use one of: %s", name, strings.Join(shapeNames, ", "))
}

// Shift returns the path from the origin along the X axis that moves shift mm to the left (negative: right) within along mm.
//
// along must be positive and |shift| no more than along; otherwise the path is the straight chord. Two arcs: R = (L²+d²)/(4d),
// each turning 2 atan(d/L), from L = 2R sin t and d = 2R(1 - cos t).
func Shift(shape Shape, along, shift float64) Path {
	if shift == 0 {
		return Path{Line{LengthMM: along}}
	}
	if !(along > 0) || math.Abs(shift) > along {
		return diagonal(along, shift)
	}
	switch shape {
	case Diagonal:
		return diagonal(along, shift)
	case Cubic:
		return Path{newGraph(along, shift, cubic)}
	case Cosine:
		return Path{newGraph(along, shift, cosine)}
	case Quintic:
		return Path{newGraph(along, shift, quintic)}
	case Clothoids:
		return clothoids(along, shift)
	}
	d := math.Abs(shift)
	radius := (along*along + d*d) / (4 * d)
	turn := math.Copysign(2*math.Atan(d/along), shift)
	first := Arc{RadiusMM: radius, Turn: turn}
	return Path{first, Arc{Start: first.At(first.Length()), RadiusMM: radius, Turn: -turn}}
}

func diagonal(along, shift float64) Path {
	return Path{Line{Pose{Heading: math.Atan2(shift, along)}, math.Hypot(along, shift)}}
}

func cubic(u float64) (f, d1, d2 float64) {
	return u * u * (3 - 2*u), 6 * u * (1 - u), 6 - 12*u
}

func cosine(u float64) (f, d1, d2 float64) {
	sin, cos := math.Sincos(math.Pi * u)
	return (1 - cos) / 2, math.Pi * sin / 2, math.Pi * math.Pi * cos / 2
}

func quintic(u float64) (f, d1, d2 float64) {
	return u * u * u * (10 + u*(6*u-15)), 30 * u * u * (1 - u) * (1 - u), 60 * u * (1 + u*(2*u-3))
}

// clothoids finds the heading in the middle of a move of total length 1 whose shift and advance stand in the wanted ratio, and
// scales it. The ratio grows with the heading over the searched range.
func clothoids(along, shift float64) Path {
	want := math.Abs(shift) / along
	lo, hi := 0.0, 1.9
	for range 80 {
		mid := (lo + hi) / 2
		if end := fourClothoids(1, mid).End(); end.Y < want*end.X {
			lo = mid
		} else {
			hi = mid
		}
	}
	turn := (lo + hi) / 2
	p := fourClothoids(along/fourClothoids(1, turn).End().X, turn)
	if shift < 0 {
		return p.Mirrored()
	}
	return p
}

// fourClothoids is a move of the given total length whose heading in the middle is turn.
func fourClothoids(length, turn float64) Path {
	k := 4 * turn / length
	p := make(Path, 0, 4)
	var at Pose
	for _, ks := range [4][2]float64{{0, k}, {k, 0}, {0, -k}, {-k, 0}} {
		c := Clothoid{at, ks[0], ks[1], length / 4}
		p = append(p, c)
		at = c.At(c.LengthMM)
	}
	return p
}
