package layout

import (
	"math"
	"testing"
)

// The stretches of a lap lie end to end, from the timing line round to it, on every lane of every example.
func TestLapsAreWhole(t *testing.T) {
	for _, name := range Examples() {
		track, _ := resolveExample(t, name)
		for _, l := range track.Lanes {
			lap := track.Lap(l.Number)
			for i, s := range lap {
				if i > 0 {
					near(t, name, s.FromMM, lap[i-1].ToMM, 0)
				}
			}
			at := track.Roads[l.At.Road-1].Pieces[0].Sensors[0].AtMM[l.At.Position-1]
			near(t, name+" begins", lap[0].FromMM, -at, 0)
			last := lap[len(lap)-1]
			near(t, name+" ends", last.FromMM+at, l.LengthMM, 1e-8)
			// Walked in small steps, the lap measures what it should; a crossing's shift in plan counts too.
			const steps = 4000
			var sum float64
			from, z := track.At(l.Number, 0)
			for i := 1; i <= steps; i++ {
				to, h := track.At(l.Number, l.LengthMM*float64(i)/steps)
				sum += math.Hypot(apart(from, to), h-z)
				from, z = to, h
			}
			near(t, name+" walked", sum, l.LengthMM, 1e-4*l.LengthMM)
			start, _ := track.At(l.Number, -5)
			near(t, name+" comes round", apart(start, from), 0, 1e-6)
		}
	}
	track, _ := resolveExample(t, "millpond oval")
	if track.Lap(0) != nil || track.Lap(3) != nil {
		t.Error("a lap on a lane that is not there")
	}
	track.At(9, 1)
}

// Timing at 90 of 180; then a sensor piece of 90 with its line at 45 and a trap of 180 with lines at 40 and 140:
// 90 + 45 = 135, 90 + 90 + 40 = 220 and 320.
func TestSensorsOnALap(t *testing.T) {
	track, _ := resolveText(t, "sensors.toml", `kit = "module 90"
course = ["timing", "sensor hill", "trap main", "left 180", "straight, quarter", "left 180"]`)
	got := track.SensorsOn(2)
	want := []Passing{{1, "timing", 0}, {2, "hill", 135}, {3, "main in", 220}, {4, "main out", 320}}
	if len(got) != len(want) {
		t.Fatalf("sensors %v", got)
	}
	for i := range want {
		near(t, want[i].Name, got[i].AtMM, want[i].AtMM, 1e-9)
		if got[i].Number != want[i].Number || got[i].Name != want[i].Name {
			t.Errorf("sensor %v, want %v", got[i], want[i])
		}
	}
}

// A lap over two roads that run into each other passes both timing lines, so each half is a lap of its own.
func TestLapAcrossRoads(t *testing.T) {
	track, _ := resolveText(t, "swap.toml", `kit = "module 90"
roads = 2
course = [
  "timing", "straight 4",
  "road 1: left 90 ring 1, straight, left 90 ring 1 | road 2: left 90 ring 1, straight 2, left 90 ring 1 apart",
  "straight 5",
  "road 1: left 90 ring 1, straight, half, left 90 ring 1, half | road 2: left 90 ring 1, straight, half, left 90 ring 1, half bridge apart",
]`)
	lap := track.Lap(1)
	last := lap[len(lap)-1]
	if lap[0].Road != 1 || last.Road != 2 || last.Piece != 0 {
		t.Errorf("lap from %+v to %+v", lap[0], last)
	}
	near(t, "lap", last.FromMM+90, track.Lanes[0].LengthMM, 1e-9)
}
