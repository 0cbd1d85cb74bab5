package layout

import (
	"math"
	"strings"
	"testing"
)

// heron is Heron Eight with other pieces where its crossings lie: before the bridge, after it, and after the right loop.
func heron(first, second, third string) string {
	return `kit = "module 90"
course = ["timing", "half", "quarter", "left 270 ring 2 rise 90", "` + first + `", "quarter 2 bridge", "` + second + `",
"right 270 ring 2 fall 90", "` + third + `", "quarter"]
`
}

// A lane of the eight takes each loop outside or inside: with a = 9 hypot(408 pi/6, 10) for the inside of a loop, b the same with 492 for the outside,
// and 1080 + 720 of straights, lanes without crossings have a + b + 1800 = 6045.001557.
// One crossing between the loops (372.927608 for 360) puts the lane that was inside on the first loop inside on the second too:
// 2a + 1800 + 12.927608 = 5662.447636 and 2b + ... = 6453.410695; together one slot of 12115.858330.
// A second crossing after the right loop parts the slot again but leaves the lanes apart: 5675.375244 and 6466.338303.
func TestCrossingsOfAnEight(t *testing.T) {
	a, b := 9*math.Hypot(408*math.Pi/6, 10), 9*math.Hypot(492*math.Pi/6, 10)
	extra := (360*360+84*84.0)/84*math.Atan(84/360.0) - 360
	tests := []struct {
		name, first, second, third string
		lanes                      [2]float64
		again                      [2]float64
		slots                      [][]int
	}{
		{"none", "straight", "straight", "straight", [2]float64{6045.001557157, 6045.001557157}, [2]float64{a + b + 1800, a + b + 1800}, [][]int{{1}, {2}}},
		{"first", "crossing", "straight", "straight", [2]float64{5662.447635663, 6453.410694697}, [2]float64{2*a + 1800 + extra, 2*b + 1800 + extra}, [][]int{{1, 2}}},
		{"first and third", "crossing", "straight", "crossing", [2]float64{5675.375243686, 6466.338302719},
			[2]float64{2*a + 1800 + 2*extra, 2*b + 1800 + 2*extra}, [][]int{{1}, {2}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			track, findings := resolveText(t, "heron.toml", heron(tt.first, tt.second, tt.third))
			for i, l := range track.Lanes {
				near(t, "lane", l.LengthMM, tt.lanes[i], 6e-10)
				near(t, "derived lane", tt.again[i], tt.lanes[i], 6e-9)
			}
			if len(track.Slots) != len(tt.slots) {
				t.Fatalf("slots %+v", track.Slots)
			}
			for i, s := range track.Slots {
				if len(s.Lanes) != len(tt.slots[i]) {
					t.Errorf("slot %+v, want lanes %v", s, tt.slots[i])
				}
			}
			joined := len(tt.slots) == 1
			if joined {
				near(t, "slot", track.Slots[0].LengthMM, 12115.858330360, 1e-9)
			}
			if joined != (len(findings) == 1 && findings[0].Code == CodeLanesJoined && strings.Contains(findings[0].Text, "12115.9 mm")) || !joined && len(findings) > 0 {
				t.Errorf("findings %v", findings)
			}
		})
	}
}

// On n lanes crossings between neighbours make a permutation; its cycles are the slots, and its parity is that of their number.
func TestCrossingsOfThreeLanes(t *testing.T) {
	course := func(calls ...string) string {
		return "kit = \"routed 100\"\nlanes = 3\ncourse = [\"timing 300\", \"straight 700\", \"left 180 radius 600\", \"" +
			strings.Join(calls, `", "`) + "\", \"left 180 radius 600\"]\n"
	}
	// 1<->2 then 2<->3 sends 1 to 3, 2 to 1, 3 to 2: one cycle of three, two crossings (even).
	track, findings := resolveText(t, "three.toml", course("crossing 500 lanes 1 2", "crossing 500 lanes 3 2"))
	if len(track.Slots) != 1 || len(track.Slots[0].Lanes) != 3 || !track.Closes {
		t.Fatalf("slots %+v, findings %v", track.Slots, findings)
	}
	if ends := [3]int{track.Lanes[0].EndsIn, track.Lanes[1].EndsIn, track.Lanes[2].EndsIn}; ends != [3]int{3, 1, 2} {
		t.Errorf("lanes end in %v", ends)
	}
	var sum float64
	for _, lap := range track.Slots[0].LapsMM {
		sum += lap
	}
	near(t, "slot", track.Slots[0].LengthMM, sum, 1e-9)
	// 1<->2 twice: three slots.
	track, _ = resolveText(t, "three.toml", course("crossing 500 lanes 1 2", "crossing 500 lanes 1 2"))
	if len(track.Slots) != 3 {
		t.Errorf("slots %+v", track.Slots)
	}
}

// An oval with one crossing on each straight evens its two lanes out: each takes one half turn inside, one outside.
func TestOvalWithTwoCrossings(t *testing.T) {
	track, findings := resolveText(t, "oval.toml", `kit = "module 90"
course = ["timing", "half", "crossing", "left 180 ring 1", "crossing", "straight", "left 180 ring 1"]`)
	want := 180 + 180 + 360 + 2*372.9276080226 + math.Pi*(228+312)
	for _, l := range track.Lanes {
		near(t, "lane", l.LengthMM, want, 1e-9)
	}
	if len(findings) > 0 || len(track.Slots) != 2 {
		t.Errorf("slots %+v, findings %v", track.Slots, findings)
	}
}

// Two roads that swap places run into each other: road 1 comes back 180 mm further right, where road 2 began, and road 2 where road 1
// began. Straights of road 1: 180+1440 + 360 + 1800 + 540 + 180 = 4500; of road 2: 180+1440 + 720 + 1800 + 540 + 180 = 4860;
// both turn a full circle on ring 1. So lane 1 runs into lane 3 and back.
func TestRoadsThatRunIntoEachOther(t *testing.T) {
	track, findings := resolveText(t, "swap.toml", `kit = "module 90"
roads = 2
course = [
  "timing", "straight 4",
  "road 1: left 90 ring 1, straight | road 2: left 90 ring 1, straight 2 apart",
  "road 1 and 2: left 90 ring 1 apart",
  "straight 5",
  "road 1: left 90 ring 1, straight, half, left 90 ring 1, half | road 2: left 90 ring 1, straight, half, left 90 ring 1, half",
]`)
	// Rings called for both roads at once step outwards; this bend is therefore listed road by road below.
	if len(findings) == 0 {
		t.Fatal("a bend that puts road 2 on ring 2 should not close")
	}
	track, findings = resolveText(t, "swap.toml", `kit = "module 90"
roads = 2
course = [
  "timing", "straight 4",
  "road 1: left 90 ring 1, straight, left 90 ring 1 | road 2: left 90 ring 1, straight 2, left 90 ring 1 apart",
  "straight 5",
  "road 1: left 90 ring 1, straight, half, left 90 ring 1, half | road 2: left 90 ring 1, straight, half, left 90 ring 1, half bridge apart",
]`)
	for _, f := range findings {
		if f.Code != CodeRoadsJoined && f.Code != CodeLanesJoined {
			t.Errorf("finding %v", f)
		}
	}
	if len(findings) != 4 || !track.Closes || track.Joins[0].Into != 2 || track.Joins[1].Into != 1 || !track.Joins[0].Exact || !track.Joins[1].Exact {
		t.Fatalf("joins %+v, findings %v", track.Joins, findings)
	}
	want := []float64{4500 + 2*math.Pi*228, 4500 + 2*math.Pi*312, 4860 + 2*math.Pi*228, 4860 + 2*math.Pi*312}
	ends := []int{3, 4, 1, 2}
	for i, l := range track.Lanes {
		near(t, "lane", l.LengthMM, want[i], 1e-9)
		if l.EndsIn != ends[i] {
			t.Errorf("lane %d ends in %d", l.Number, l.EndsIn)
		}
	}
	if len(track.Slots) != 2 || len(track.Slots[0].Lanes) != 2 {
		t.Errorf("slots %+v", track.Slots)
	}
}
