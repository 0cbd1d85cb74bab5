package curve

import (
	"math"
	"testing"
)

// near fails unless got is within tol of want; what says which number it is.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.10f, want %.10f", what, got, want)
	}
}

// tightest returns the smallest radius met along the path.
func tightest(p Path) float64 {
	var k float64
	length := p.Length()
	for i := range 4001 {
		k = math.Max(k, math.Abs(p.Curvature(length*float64(i)/4000)))
	}
	return 1 / k
}

// The lengths were computed with mpmath 1.3.0 at 30 digits, as arc length integrals of y(x), by testdata/shifts.py;
// the two arcs also follow from path = (L²+d²)/d atan(d/L), a reversed curve between parallel tangents.
func TestShiftLengths(t *testing.T) {
	tests := []struct {
		shape        Shape
		along, shift float64
		path         float64
		radius       float64 // smallest; 0 where kinks stand in for it
	}{
		{TwoArcs, 360, 84, 372.9276080226, 406.7142857143},
		{TwoArcs, 180, 18, 181.1976102289, 454.5},
		{TwoArcs, 360, 42, 363.2578255586, 781.9285714286},
		{TwoArcs, 180, 42, 186.4638040113, 203.3571428571},
		{Diagonal, 360, 84, 369.6701232180, 0},
		{Cubic, 360, 84, 371.4988229313, 257.1428571429},
		{Cosine, 360, 84, 371.8016255610, 312.6482238106},
		{Quintic, 360, 84, 373.5416746086, 280.6024556496},
		{Clothoids, 360, 84, 374.9060330194, 204.4359765129},
	}
	for _, tt := range tests {
		for _, side := range []float64{1, -1} {
			p := Shift(tt.shape, tt.along, side*tt.shift)
			near(t, tt.shape.String()+" length", p.Length(), tt.path, 1e-8)
			end := p.End()
			near(t, tt.shape.String()+" end x", end.X, tt.along, 1e-9)
			near(t, tt.shape.String()+" end y", end.Y, side*tt.shift, 1e-9)
			if tt.radius > 0 {
				near(t, tt.shape.String()+" radius", tightest(p), tt.radius, 1e-3)
				near(t, tt.shape.String()+" end heading", end.Heading, 0, 1e-9)
			}
		}
	}
}

func TestSteepShiftsEndWhereTheyShould(t *testing.T) {
	for s := TwoArcs; s <= Clothoids; s++ {
		p := Shift(s, 100, 100)
		near(t, s.String()+" x", p.End().X, 100, 1e-9)
		near(t, s.String()+" y", p.End().Y, 100, 1e-9)
	}
}

// Switch curve inside a bend: R 450, 60 degrees, offset from +42 to -42 and back by a half cosine wave; numeric integration of
// ds = sqrt((1-ke)² + e'²) dc (mpmath 1.3.0) gives 480.3627402029 both ways.
func TestBent(t *testing.T) {
	base := Arc{RadiusMM: 450, Turn: math.Pi / 3}
	flat := Shift(Cosine, base.Length(), -84).Moved(Pose{Y: 42})
	back := Shift(Cosine, base.Length(), 84).Moved(Pose{Y: -42})
	for _, p := range []Path{flat, back} {
		b := Bend(base, p)
		near(t, "switch curve", b.Length(), 480.3627402029, 1e-8)
		end := b.At(b.Length())
		want := base.At(base.Length()).Left(p.End().Y)
		near(t, "end x", end.X, want.X, 1e-9)
		near(t, "end y", end.Y, want.Y, 1e-9)
		near(t, "end heading", end.Heading, math.Pi/3, 1e-9)
	}
}

// A curvature is the derivative of the heading, whatever the shape.
func TestCurvatureIsSlopeOfHeading(t *testing.T) {
	base := Arc{Start: Pose{10, 20, 1}, RadiusMM: 300, Turn: -1}
	for s := TwoArcs; s <= Clothoids; s++ {
		flat := Shift(s, base.Length(), 60)
		for _, p := range []Path{flat, {Bend(base, flat)}} {
			length := p.Length()
			for _, f := range []float64{0.11, 0.37, 0.62, 0.93} {
				const h = 1e-3
				at := f * length
				slope := (p.At(at+h).Heading - p.At(at-h).Heading) / (2 * h)
				near(t, s.String()+" curvature", p.Curvature(at), slope, 1e-8)
				step := math.Hypot(p.At(at+h).X-p.At(at-h).X, p.At(at+h).Y-p.At(at-h).Y)
				near(t, s.String()+" speed", step/(2*h), 1, 1e-6)
			}
		}
	}
}
