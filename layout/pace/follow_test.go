package pace

import (
	"math"
	"testing"

	"lanewright/layout"
	"lanewright/layout/route"
)

func graph(t testing.TB, track layout.Track) route.Graph {
	t.Helper()
	g, err := route.New(track)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// example resolves one of the plans that come with the program.
func example(t testing.TB, name string) layout.Track {
	t.Helper()
	data, ok := layout.Example(name)
	if !ok {
		t.Fatalf("no example %q", name)
	}
	p, err := layout.ReadPlan(name, data)
	if err != nil {
		t.Fatal(err)
	}
	k, ok := layout.BuiltinKit(p.Kit)
	if !ok {
		t.Fatalf("no kit %q", p.Kit)
	}
	track, _ := layout.Resolve(p, k)
	return track
}

// The par laps of the example layouts, computed by a separate program with Runge-Kutta steps of 1 mm, to the five
// decimals printed there. Heron Eight climbs and falls on grades that differ between its lanes.
func TestExamplesTakeTheirTime(t *testing.T) {
	for _, w := range []struct {
		name, car string
		laps      []float64
	}{
		{"millpond oval", "plain", []float64{1.90083, 1.99917}},
		{"millpond digital", "plain", []float64{1.90083, 1.99917}},
		{"heron eight", "plain", []float64{2.97791, 2.98043}},
		{"saltmarsh four", "plain", []float64{7.13131, 7.18445, 7.25465, 7.32701}},
		{"kestrel six", "magnet", []float64{2.37316, 2.40896, 2.44497, 2.48113, 2.51867, 2.56263}},
	} {
		c, _ := BuiltinCar(w.car)
		track := example(t, w.name)
		pars, err := Lanes(track, c, false)
		if err != nil {
			t.Fatalf("%s: %v", w.name, err)
		}
		if len(pars) != len(w.laps) {
			t.Fatalf("%s has %d lanes, want %d", w.name, len(pars), len(w.laps))
		}
		for i, p := range pars {
			if math.Abs(p.LapsS[0]-w.laps[i]) > 1.1e-5 {
				t.Errorf("%s lane %d: %.6f s, want %.5f", w.name, i+1, p.LapsS[0], w.laps[i])
			}
			if math.Abs(p.LengthMM-track.Lanes[i].LengthMM) > 1e-6 {
				t.Errorf("%s lane %d is driven over %.9f mm, its length is %.9f", w.name, i+1, p.LengthMM, track.Lanes[i].LengthMM)
			}
		}
	}
}

// One crossing joins the lanes of an oval: a slot of two laps of different length and time.
func TestJoinedSlotHasTwoLaps(t *testing.T) {
	p, err := layout.ReadPlan("joined", []byte(`name = "Joined"
kit = "module 90"
roads = 1
course = ["timing", "crossing", "straight", "left 180 ring 1", "straight 2, half", "left 180 ring 1"]
`))
	if err != nil {
		t.Fatal(err)
	}
	k, _ := layout.BuiltinKit(p.Kit)
	track, _ := layout.Resolve(p, k)
	pars, err := Lanes(track, builtin[0], true)
	if err != nil {
		t.Fatal(err)
	}
	if len(track.Slots) != 1 || len(pars) != 2 || len(pars[0].LapsS) != 2 {
		t.Fatalf("%d slots, %d pars of %d laps, want 1, 2 and 2", len(track.Slots), len(pars), len(pars[0].LapsS))
	}
	near(t, "the second lap of lane 1", pars[0].LapsS[1], pars[1].LapsS[0], 1e-9)
	near(t, "both laps", pars[0].MeanS*2, pars[0].LapsS[0]+pars[0].LapsS[1], 1e-12)
	near(t, "length", pars[0].LengthMM, track.Slots[0].LengthMM, 1e-12)
	last := pars[0].Points[len(pars[0].Points)-1]
	near(t, "time of the last point", last.TimeS, pars[0].LapsS[0]+pars[0].LapsS[1], 1e-12)
	near(t, "speed of the last point", last.SpeedMS, pars[0].Points[0].SpeedMS, 1e-12)
}
