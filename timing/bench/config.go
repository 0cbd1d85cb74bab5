// Package bench is a counter on the bench: a simulated lap counter that speaks
// the real sentences of timing/wire over any line, a pseudo-terminal among them.
//
// [Machine] is the counter without time: it is moved to a tick and says what a
// counter would have said. [Counter] runs a Machine against the computer's clock.
//
// The passes of a heat depend only on the lap model, on the tick of the start and on
// the ticks at which lane power changed. When the machine it runs on is late,
// what is overdue is said in the order of its ticks, with the exact ticks. So an
// evening played at sixty-fold speed gives the passes of an evening played slowly,
// provided that the director's commands give their ticks (or wait for what
// they depend on): switch power on, then give the start; cut power at a
// tick, not at a moment of the host.
package bench

import (
	"time"

	"lanewright/timing/clock"
)

// Config describes a simulated counter and the cars on its track.
type Config struct {
	Name  string  // free text in its capabilities; "" means "bench"
	Lanes int     // 0 means 4, at most 32
	Rate  uint64  // ticks per second; 0 means 1000000
	Bits  int     // ticks wrap at 2^Bits; 0 means 32
	Ring  int     // passes it can say again; 0 means 256
	Lamps int     // start lamps; 0 means 5, negative none
	Boot  uint64  // boot number; 0 means it cannot tell
	Start uint64  // ticks at the beginning
	Speed float64 // counter seconds per second of this computer; 0 means 1

	// Laps is the lap model: how long the car on lane (from 1) takes in the
	// heat'th heat (from 1) for a lap; lap 0 is the way from the grid to the timing
	// line. Zero or less: there is no car, or it has stopped for good. It must be a
	// pure function. nil means Model(Profile{}, 1).
	Laps func(heat, lane, lap int) time.Duration

	// Coast is how long a car at full speed rolls on after power has been cut,
	// slowing down evenly. 0 means it stops dead.
	Coast time.Duration

	Heat   int // number of the first heat; 0 means 1
	Faults Faults
	Seed   uint64 // of the faults
}

// Faults are probabilities, each per pass unless said otherwise.
type Faults struct {
	Drop    float64 // the sentence is not sent (it stays in the ring)
	Garble  float64 // one byte of the sentence is changed
	Noise   float64 // stray bytes come before the sentence
	Miss    float64 // the sensor does not see the car
	Bounce  float64 // the sensor sees it twice, 2 to 30 ms apart
	Phantom float64 // the sensor sees something somewhere in the lap that follows
}

func (c Config) filled() Config {
	if c.Name == "" {
		c.Name = "bench"
	}
	if c.Lanes <= 0 {
		c.Lanes = 4
	}
	c.Lanes = min(c.Lanes, 32)
	if c.Rate == 0 {
		c.Rate = 1_000_000
	}
	if c.Bits == 0 {
		c.Bits = 32
	}
	c.Bits = min(max(c.Bits, 8), 63)
	if c.Ring <= 0 {
		c.Ring = 256
	}
	if c.Lamps == 0 {
		c.Lamps = 5
	}
	c.Lamps = max(c.Lamps, 0)
	if c.Speed <= 0 {
		c.Speed = 1
	}
	if c.Laps == nil {
		c.Laps = Model(Profile{}, 1)
	}
	if c.Heat <= 0 {
		c.Heat = 1
	}
	return c
}

func (c Config) rate() clock.Rate { return clock.Rate{Num: c.Rate, Den: 1} }

// Pass is a pass that really happened, for comparing with what was counted.
type Pass struct {
	Serial uint64
	Heat   int
	Lane   int
	Lap    int // 0 is the first crossing after the start
	Ticks  uint64
	False  bool // a bounce or a phantom: no car was there
}
