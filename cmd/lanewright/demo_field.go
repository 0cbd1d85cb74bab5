package main

import (
	"math"
	"math/rand/v2"
	"sync"
	"time"

	"lanewright/layout"
	"lanewright/layout/pace"
	"lanewright/race"
	"lanewright/timing/bench"
)

// demoField drives the demo's cars. Each driver has a pace of his own, each lane its length, each lap its luck; all of it follows
// from the seed, the number of the heat, the lane and the lap, never from the clock, so that a seed gives one and the same night.
type demoField struct {
	seed  uint64
	lanes []race.LaneInfo
	par   []time.Duration                  // by lane: what a plain car needs
	look  func(fn func(*race.Night)) error // asks the live loop

	mu    sync.Mutex
	heats map[int]heatField // by the counter's number of the heat
}

// parLaps are the laps of a plain car on each lane, from the same curves that the lengths come from; a layout that cannot be driven
// by that model gets laps at a steady pace.
func parLaps(t layout.Track, lanes []race.LaneInfo) []time.Duration {
	par := make([]time.Duration, len(lanes))
	for i, l := range lanes {
		par[i] = time.Duration(l.LengthMM / 1000 / steadyMS * float64(time.Second))
	}
	list, err := pace.Lanes(t, pace.BuiltinCars()[0], false)
	if err != nil || len(list) != len(lanes) {
		return par
	}
	for i, p := range list {
		// To the microsecond, so that every computer draws the same laps.
		par[i] = time.Duration(math.Round(p.LapsS[0]*1e6)) * time.Microsecond
	}
	return par
}

// steadyMS is a usual speed over a lap, in metres a second.
const steadyMS = 2.6

// heatField is who stood on the grid when the counter's lamps went out.
type heatField struct {
	number  int   // of the heat in the draw
	drivers []int // by lane
}

// lapOf is the counter's lap model: how long the car on lane takes for a lap of the heat; lap 0 is the way from the grid to the line.
func (f *demoField) lapOf(heat, lane, lap int) time.Duration {
	grid := f.grid(heat)
	if lane < 1 || lane > len(grid.drivers) || grid.drivers[lane-1] == 0 {
		return 0
	}
	driver := grid.drivers[lane-1]
	base := f.par[lane-1]
	skill := rand.New(rand.NewPCG(f.seed, uint64(driver))).IntN(40) // thousandths
	profile := bench.Profile{
		Lap: base + base*time.Duration(skill)/1000, Grid: 700 * time.Millisecond,
		Spread: 40 * time.Millisecond, Noise: 250 * time.Millisecond, Off: 30,
		OffMin: 1500 * time.Millisecond, OffMax: 5 * time.Second,
	}
	return bench.Model(profile, f.seed)(grid.number, lane, lap)
}

// grid remembers who was at the line when the counter first asked about a heat. It asks the loop, not a screen's snapshot: those
// come a little later.
func (f *demoField) grid(heat int) heatField {
	f.mu.Lock()
	defer f.mu.Unlock()
	if g, ok := f.heats[heat]; ok {
		return g
	}
	g := heatField{drivers: make([]int, len(f.lanes))}
	err := f.look(func(n *race.Night) {
		g.number, _ = n.AtLine()
		for i := range g.drivers {
			g.drivers[i] = n.DriverIn(g.number, i+1)
		}
	})
	if err != nil || g.number == 0 {
		return heatField{}
	}
	if f.heats == nil {
		f.heats = map[int]heatField{}
	}
	f.heats[heat] = g
	return g
}
