package main

import (
	"math/rand/v2"
	"sync"
	"time"

	"lanewright/race"
	"lanewright/timing/bench"
)

// demoField drives the demo's cars. Each driver has a pace of his own, each lane its length, each lap its luck; all of it follows
// from the seed, the number of the heat, the lane and the lap, never from the clock, so that a seed gives one and the same night.
type demoField struct {
	seed  uint64
	lanes []race.LaneInfo
	look  func(fn func(*race.Night)) error // asks the live loop

	mu    sync.Mutex
	heats map[int]heatField // by the counter's number of the heat
}

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
	// A plain car holds about 2.6 m/s over a lap; the best driver is some four per cent quicker than the slowest.
	metres := f.lanes[lane-1].LengthMM / 1000
	base := time.Duration(metres / 2.6 * float64(time.Second))
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
