package layout

import (
	"fmt"
	"math"
	"testing"

	"lanewright/layout/curve"
)

// onePiece lays a course of one call behind the timing piece and returns the last piece of road 1.
func lastPiece(t *testing.T, kit, call string) Placed {
	t.Helper()
	timing := "timing"
	if kit == "routed 100" {
		timing = "timing 300"
	}
	track, _ := resolveText(t, "piece.toml", fmt.Sprintf("kit = %q\ncourse = [%q, %q]\n", kit, timing, call))
	pieces := track.Roads[0].Pieces
	if len(pieces) != 2 {
		t.Fatalf("%q lays %d pieces", call, len(pieces)-1)
	}
	return pieces[1]
}

// Lane lengths of every piece of Module 90: arcs are (R -+ 42)|a|, the lane on the inside of the bend first; a full shift of 84 over
// 360 is (L²+d²)/d atan(d/L), one of 18 over 180 likewise.
func TestModule90(t *testing.T) {
	tests := []struct {
		call        string
		left, right float64
	}{
		{"straight", 360, 360}, {"half", 180, 180}, {"quarter", 90, 90}, {"timing", 180, 180},
		{"left 1x60 ring 1", 238.7610416728, 326.7256359733},
		{"left 1x30 ring 1", 119.3805208364, 163.3628179867},
		{"left 15 ring 1", 59.6902604182, 81.6814089933},
		{"left 1x60 ring 2", 427.2566008882, 515.2211951887},
		{"left 30 ring 2", 213.6283004441, 257.6105975944},
		{"left 15 ring 2", 106.8141502221, 128.8052987972},
		{"left 30 ring 3", 307.8760800518, 351.8583772021},
		{"left 15 ring 3", 153.9380400259, 175.9291886010},
		{"left 15 ring 4", 201.0619298297, 223.0530784049},
		{"right 60 ring 1", 326.7256359733, 238.7610416728},
		{"hairpin left", 433.5397861954, 697.4335690969},
		{"hairpin right", 697.4335690969, 433.5397861954},
		{"crossing", 372.9276080226, 372.9276080226},
		{"changer left", 360, 360}, {"changer right", 360, 360}, {"changer both", 360, 360},
		{"narrow-in", 181.1976102289, 181.1976102289},
		{"crossroads", 180, 180},
		{"shift left", 181.1976102289, 181.1976102289},
	}
	for _, tt := range tests {
		pl := lastPiece(t, "module 90", tt.call)
		near(t, tt.call+" left", pl.Stay[0].LengthMM, tt.left, 6e-11)
		near(t, tt.call+" right", pl.Stay[1].LengthMM, tt.right, 6e-11)
		for _, s := range append(append([]Strand(nil), pl.Stay...), pl.Change...) {
			near(t, tt.call+" plan", s.Plan.Length(), s.LengthMM, 1e-9)
		}
	}
	for call, want := range map[string][][2]int{
		"changer left": {{2, 1}}, "changer right": {{1, 2}}, "changer both": {{1, 2}, {2, 1}}, "left 1x60 ring 2 changer right": {{1, 2}},
	} {
		pl := lastPiece(t, "module 90", call)
		if len(pl.Change) != len(want) {
			t.Fatalf("%s has changes %v", call, pl.Change)
		}
		for i, s := range pl.Change {
			if s.From != want[i][0] || s.To != want[i][1] {
				t.Errorf("%s changes from %d to %d", call, s.From, s.To)
			}
			if pl.TurnDeg == 0 {
				near(t, call, s.LengthMM, 372.9276080226, 6e-11)
			}
		}
	}
	// A narrow-out behind a narrow-in is as long as it.
	track, findings := resolveText(t, "chicane.toml", `kit = "module 90"
course = ["timing", "narrow-in", "quarter", "narrow-out", "quarter"]`)
	p := track.Roads[0].Pieces
	near(t, "narrow-out", p[3].Stay[0].LengthMM, 181.1976102289, 6e-11)
	near(t, "lanes inside a chicane", p[2].Stay[0].Plan.Start().Y-p[2].Stay[1].Plan.Start().Y, 48, 1e-9)
	near(t, "lanes behind a chicane", p[4].Stay[0].Plan.Start().Y-p[4].Stay[1].Plan.Start().Y, 84, 1e-9)
	for _, f := range findings {
		if f.Code != CodeOpen {
			t.Errorf("finding %v", f)
		}
	}
}

// A bend can change lanes too: R 450, 60 degrees, offset from +42 to -42 by a half cosine wave: 480.3627402029 (mpmath).
func TestCurvedChanger(t *testing.T) {
	for _, call := range []string{"left 60 radius 450 changer both", "changer both in left 60 radius 450"} {
		track, _ := resolveText(t, "bend.toml", "kit = \"routed 100\"\nlanes = 2\nlane_spacing = 84\ncourse = [\"timing 300\", \""+call+"\"]\n")
		pl := track.Roads[0].Pieces[1]
		if len(pl.Change) != 2 || pl.Kind != KindChanger {
			t.Fatalf("%+v", pl)
		}
		for _, s := range pl.Change {
			near(t, "change", s.LengthMM, 480.3627402029, 1e-9)
		}
		near(t, "inside", pl.Stay[0].LengthMM, 427.2566008882, 6e-11)
		near(t, "outside", pl.Stay[1].LengthMM, 515.2211951887, 6e-11)
	}
}

// A piece that rises is hypot(plan, rise) long: R 228 over 90 degrees with 30 mm 359.3958525033 at 8.37657595 %, R 312
// 491.0057970176 at 6.12134397 %, a straight of 360 with 30 mm 361.2478373638.
func TestRise(t *testing.T) {
	track, findings := resolveText(t, "rise.toml", "kit = \"routed 100\"\nlanes = 2\nlane_spacing = 84\ncourse = [\"timing 300\", \"left 90 radius 270 rise 30\", \"straight 360 fall 30\"]\n")
	p := track.Roads[0].Pieces
	near(t, "inside", p[1].Stay[0].LengthMM, 359.3958525033, 6e-11)
	near(t, "outside", p[1].Stay[1].LengthMM, 491.0057970176, 6e-11)
	near(t, "straight", p[2].Stay[0].LengthMM, 361.2478373638, 6e-11)
	near(t, "top", p[1].EndZ, 30, 0)
	near(t, "foot", p[2].EndZ, 0, 0)
	var grades []float64
	for _, f := range findings {
		if f.Code == CodeGradeHigh {
			grades = append(grades, f.Amount)
		}
	}
	if len(grades) != 2 {
		t.Fatalf("findings %v", findings)
	}
	near(t, "steepest", grades[0], 8.37657595, 6e-9)
	near(t, "steepest straight", grades[1], 8.3333333333, 6e-11)
	for i, g := range []float64{8.37657595, 6.12134397} {
		near(t, "grade", 100*30/p[1].Stay[i].Plan.Length(), g, 6e-9)
	}
}

// A measured length overrides the computed one, from the inside of a bend outwards, whichever way it is laid.
func TestMeasuredLengths(t *testing.T) {
	kit, err := ReadKit("own.toml", []byte(`
road_width = 180
lane_spacing = 84
[[timing]]
length = 180
at = [80, 95]
[[curve]]
ring = 1
radius = 270
angle = 60
measured = [238.1, 327.3]
[[changer]]
move = "both"
length = 360
measured_move = 373.4
[[straight]]
name = "full"
length = 360
measured = [360.2, 360.1]
`))
	if err != nil {
		t.Fatal(err)
	}
	p, err := ReadPlan("own-plan.toml", []byte("kit = \"own.toml\"\ncourse = '''\ntiming\nleft 60\nright 60 ring 1\nchanger both\nstraight\n'''\n"))
	if err != nil {
		t.Fatal(err)
	}
	track, _ := Resolve(p, kit)
	pieces := track.Roads[0].Pieces
	for i, want := range [][2]float64{{180, 180}, {238.1, 327.3}, {327.3, 238.1}, {360, 360}, {360.2, 360.1}} {
		near(t, pieces[i].Piece, pieces[i].Stay[0].LengthMM, want[0], 0)
		near(t, pieces[i].Piece, pieces[i].Stay[1].LengthMM, want[1], 0)
	}
	if !pieces[1].Stay[0].Measured || pieces[3].Stay[0].Measured || !pieces[3].Change[0].Measured {
		t.Error("measured lengths are not marked")
	}
	near(t, "measured change", pieces[3].Change[1].LengthMM, 373.4, 0)
	if at := pieces[0].Sensors[0].AtMM; at[0] != 80 || at[1] != 95 {
		t.Errorf("timing at %v", at)
	}
	// The lap from line to line is the whole way round, wherever on its piece the line lies.
	near(t, "lap", track.Lanes[0].LengthMM, 180+238.1+327.3+360+360.2, 1e-9)
}

// Lane i of n lies (n+1)/2 - i spacings to the left of the middle.
func TestLaneOffsets(t *testing.T) {
	for _, tt := range []struct {
		i, n int
		want float64
	}{{1, 2, 42}, {2, 2, -42}, {1, 6, 250 * 0.84}, {6, 6, -250 * 0.84}, {2, 3, 0}} {
		near(t, "offset", LaneOffsetMM(tt.i, tt.n, 84), tt.want, 1e-12)
	}
}

// Joints between pieces are smooth for every lane: each strand starts where the one before it ended.
func TestStrandsRunOn(t *testing.T) {
	for _, name := range Examples() {
		track, _ := resolveExample(t, name)
		for _, road := range track.Roads {
			for k := range road.Pieces {
				pl, next := &road.Pieces[k], &road.Pieces[(k+1)%len(road.Pieces)]
				near(t, "centre", apart(pl.Centre.End(), next.Start), 0, 1e-9)
				near(t, "own end", apart(pl.Centre.End(), pl.End), 0, 1e-9)
				for _, s := range append(append([]Strand(nil), pl.Stay...), pl.Change...) {
					near(t, name+" "+pl.Piece, apart(s.Plan.End(), next.Stay[s.To-1].Plan.Start()), 0, 1e-9)
					near(t, name+" start "+pl.Piece, apart(s.Plan.Start(), pl.Stay[s.From-1].Plan.Start()), 0, 1e-9)
					near(t, "heading", curve.Wrap(s.Plan.End().Heading-next.Stay[s.To-1].Plan.Start().Heading), 0, 1e-9)
				}
			}
		}
	}
}

func apart(a, b curve.Pose) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }
