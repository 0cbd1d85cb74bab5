package fit

import (
	"math"
	"strings"
	"testing"

	"lanewright/layout"
)

func codes(fs []layout.Finding) string {
	var out []string
	for _, f := range fs {
		out = append(out, f.Code)
	}
	return strings.Join(out, " ")
}

func TestExamplesDoNotCollide(t *testing.T) {
	for _, name := range layout.Examples() {
		if fs := Collisions(example(t, name)); len(fs) != 0 {
			t.Errorf("%s: %+v", name, fs)
		}
	}
}

// Two parallel straights of a hairpin: the middle lines lie twice the hairpin's radius of 180 apart, the roads are 180
// wide, so 180 is left between them. Two half turns of 90 + 90 on ring 1 leave more. A lane shift is not needed to see
// a collision: a course that runs through itself.
func TestRunningThroughItself(t *testing.T) {
	// A figure-eight on the flat without crossroads.
	track, _ := resolve(t, "module 90", 1, "timing", "half, quarter", "left 270 ring 2", "straight 2, half", "right 270 ring 2", "straight, quarter")
	fs := Collisions(track)
	if len(fs) == 0 || fs[0].Code != CodeCollision || fs[0].Level != layout.Error {
		t.Fatalf("findings %+v", fs)
	}
	// The middle lines cross, so they are a whole road width too close.
	if math.Abs(fs[0].Amount-180) > 1 {
		t.Errorf("too close by %.2f, want 180", fs[0].Amount)
	}
	for _, f := range fs {
		if f.Call < 1 || f.Way == "" || f.Unit != "mm" {
			t.Errorf("finding %+v", f)
		}
	}
}

func TestBridgesNeedRoomAndDeclaring(t *testing.T) {
	eight := func(rise, bridge string) []layout.Finding {
		track, _ := resolve(t, "module 90", 1, "timing", "half, quarter", "left 270 ring 2 rise "+rise, "straight", "quarter 2"+bridge,
			"straight", "right 270 ring 2 fall "+rise, "straight, quarter")
		return Collisions(track)
	}
	// Module 90 wants 80 mm of clear height and takes a deck of 10 mm.
	for _, w := range []struct{ rise, bridge, want string }{
		{"90", " bridge", ""},
		{"90", "", CodeBridgeUnset},
		{"70", " bridge", CodeBridgeLow},
		{"5", " bridge", CodeCollision},
	} {
		if got := codes(eight(w.rise, w.bridge)); !strings.HasPrefix(got, w.want) || w.want == "" && got != "" {
			t.Errorf("rise %s%s: findings %q, want %q", w.rise, w.bridge, got, w.want)
		}
	}
	fs := eight("70", " bridge")
	if math.Abs(fs[0].Amount-20) > 1e-6 { // 70 - 10 = 60 of 80
		t.Errorf("short by %.3f, want 20", fs[0].Amount)
	}
}

// Roads side by side touch without colliding; pushed together by more than a joint gives, they collide.
func TestRoadsSideBySide(t *testing.T) {
	track := example(t, "saltmarsh four")
	for i := range track.Roads[1].Pieces {
		track.Roads[1].Pieces[i].WidthMM += 2
	}
	fs := Collisions(track)
	if len(fs) == 0 || fs[0].Code != CodeCollision {
		t.Fatalf("findings %v", codes(fs))
	}
	if math.Abs(fs[0].Amount-1) > 0.05 { // half of the 2 mm lies on this side
		t.Errorf("too close by %.3f, want 1", fs[0].Amount)
	}
}

func BenchmarkCollisions200Pieces(b *testing.B) {
	track := winding(b, 2)
	b.ReportAllocs()
	for b.Loop() {
		Collisions(track)
	}
}
