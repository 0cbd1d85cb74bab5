package curve

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// drawPath draws a path of lines, arcs, clothoids and moves, each starting where the one before ends.
func drawPath(t *rapid.T) Path {
	var p Path
	at := Pose{rapid.Float64Range(-100, 100).Draw(t, "x"), rapid.Float64Range(-100, 100).Draw(t, "y"), rapid.Float64Range(-4, 4).Draw(t, "heading")}
	for range rapid.IntRange(1, 5).Draw(t, "segments") {
		length := rapid.Float64Range(20, 500).Draw(t, "length")
		turn := rapid.Float64Range(-3, 3).Draw(t, "turn")
		var next Path
		switch rapid.IntRange(0, 4).Draw(t, "kind") {
		case 0:
			next = Path{Line{LengthMM: length}}
		case 1:
			next = Path{Arc{RadiusMM: length, Turn: turn}}
		case 2:
			next = Path{Clothoid{K0: turn / length, K1: -turn / (2 * length), LengthMM: length}}
		case 3:
			shape := Shape(rapid.IntRange(int(TwoArcs), int(Clothoids)).Draw(t, "shape"))
			if shape == Diagonal {
				shape = Cosine // a diagonal has kinks
			}
			next = Shift(shape, length, length*turn/4)
		default:
			arc := Arc{RadiusMM: 300, Turn: math.Copysign(1, turn)}
			next = Path{Bend(arc, Shift(Quintic, 300, 20*turn))}
		}
		p = append(p, next.Moved(at)...)
		at = p.End()
	}
	return p
}

// A path is as long as a fine polyline through its poses, its chords stray no further than asked, its poses run without jumps and its
// mirror image is as long.
func TestPathLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPath(t)
		length := p.Length()
		const steps = 2000
		var sum float64
		last := p.At(0)
		for i := 1; i <= steps; i++ {
			at := p.At(length * float64(i) / steps)
			step := math.Hypot(at.X-last.X, at.Y-last.Y)
			if step > length/steps*(1+1e-9)+1e-9 {
				t.Fatalf("a step of %g where %g was walked", step, length/steps)
			}
			sum += step
			last = at
		}
		if math.Abs(sum-length) > 1e-4*length+1e-9 {
			t.Fatalf("polyline %g, path %g", sum, length)
		}
		if m := p.Mirrored(); math.Abs(m.Length()-length) > 1e-7 || math.Abs(m.End().Y+p.End().Y) > 1e-7 || math.Abs(m.End().X-p.End().X) > 1e-7 {
			t.Fatalf("mirror image: length %g for %g, end %v for %v", m.Length(), length, m.End(), p.End())
		}
		by := Pose{3, -4, 0.7}
		want := by.Compose(p.End())
		if end := p.Moved(by).End(); math.Hypot(end.X-want.X, end.Y-want.Y) > 1e-7 {
			t.Fatalf("moved end %v, want %v", end, want)
		}
		if back := by.Compose(by.Seen(p.End())); math.Hypot(back.X-p.End().X, back.Y-p.End().Y) > 1e-9 {
			t.Fatal("seen and composed do not undo each other")
		}
	})
}

func TestSampleKeepsItsTolerance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPath(t)
		tol := rapid.Float64Range(0.01, 2).Draw(t, "tolerance")
		poses := p.Sample(tol)
		if len(poses) > 20000 {
			t.Fatalf("%d poses", len(poses))
		}
		length := p.Length()
		for i := range 400 {
			at := p.At(length * float64(i) / 400)
			near := math.Inf(1)
			for k := 1; k < len(poses); k++ {
				near = math.Min(near, toChord(at, poses[k-1], poses[k]))
			}
			if near > tol*1.5 {
				t.Fatalf("the path strays %g from its chords, asked for %g", near, tol)
			}
		}
	})
}

func toChord(p, a, b Pose) float64 {
	dx, dy := b.X-a.X, b.Y-a.Y
	u := ((p.X-a.X)*dx + (p.Y-a.Y)*dy) / (dx*dx + dy*dy)
	if !(u > 0) {
		u = 0
	}
	u = math.Min(u, 1)
	return math.Hypot(p.X-a.X-u*dx, p.Y-a.Y-u*dy)
}

func TestEmptyAndFlatThings(t *testing.T) {
	var none Path
	if none.Length() != 0 || none.At(3) != (Pose{}) || none.Sample(1) != nil || none.Curvature(0) != 0 || none.End() != (Pose{}) {
		t.Error("an empty path has nothing in it")
	}
	for _, seg := range []Segment{Line{}, Arc{}, Clothoid{}, Graph{}, Bent{}} {
		if seg.Length() != 0 || seg.At(5) != (Pose{}) {
			t.Errorf("%T has length %v", seg, seg.Length())
		}
		seg.Curvature(1)
	}
	if p := Shift(TwoArcs, 0, 30); math.Abs(p.Length()-30) > 1e-12 {
		t.Errorf("a move without room is its chord, got %v", p.Length())
	}
}

// A parallel of lines and arcs differs in length by offset times turning.
func TestParallel(t *testing.T) {
	p := Path{Line{LengthMM: 100}}
	p = append(p, Arc{Start: p.End(), RadiusMM: 300, Turn: 1})
	p = append(p, Arc{Start: p.End(), RadiusMM: 300, Turn: -2.5})
	left := p.Parallel(42)
	near(t, "left", left.Length(), p.Length()+42*1.5, 1e-9)
	near(t, "right", p.Parallel(-42).Length(), p.Length()-42*1.5, 1e-9)
	want := p.End().Left(42)
	near(t, "end x", left.End().X, want.X, 1e-9)
	near(t, "end y", left.End().Y, want.Y, 1e-9)
	if len(p.Parallel(350)) != 2 {
		t.Error("an arc that shrinks beyond its centre is left out")
	}
}

func TestParseShape(t *testing.T) {
	for s := TwoArcs; s <= Clothoids; s++ {
		if got, err := ParseShape(" " + s.String()); got != s || err != nil {
			t.Errorf("%v read back as %v, %v", s, got, err)
		}
	}
	if _, err := ParseShape("wobble"); err == nil {
		t.Error("wobble is no shape")
	}
	if Shape(99).String() == "" {
		t.Error("no name for an unknown shape")
	}
}

func BenchmarkShift(b *testing.B) {
	for s := TwoArcs; s <= Clothoids; s++ {
		b.Run(s.String(), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Shift(s, 360, 84)
			}
		})
	}
}
