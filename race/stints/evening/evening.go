// Package evening makes the events of invented race nights, for tests of what is worked out from a night: the same events that a
// live night writes into its journal, so that everything goes through the real fold.
package evening

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"lanewright/race"
)

// Plan says what happens in a night.
type Plan struct {
	Opened  race.Opened // Card is made sensible where its kind is empty
	Drivers []race.DriverAdded
	Heats   [][]int // by heat: driver by seat, 0 nobody
	// Lap returns how long a car takes for a lap of a heat; lap 0 is from go to the line, 0 or less ends the driver's heat.
	Lap func(heat, seat, driver, lap int) time.Duration
	// During returns further events of a heat, to be written between go and the end; At of those with counter times counts from go.
	// They are put among the passes by that time.
	During func(heat int) []Mark
	// After returns events between the end of a heat and its acceptance: rulings, with the journal numbers of passes by seat.
	After  func(heat int, passes [][]uint64) []race.Event
	Sensor map[int]Trap // a further sensor by number
	Tick   time.Duration
	Open   bool // leave the last heat unaccepted
	Wall   time.Time
}

// Mark is an event at a time of a heat.
type Mark struct {
	At    time.Duration
	Event func(segment int, counter time.Duration) race.Event
}

// Trap says when a car passes a further sensor: a part of the lap after the line.
type Trap struct{ After float64 }

const goAt = 100 * time.Second // counter time at go of the first heat

// Events returns the events of the night, in order; number i of the journal is i+1.
func (p Plan) Events() []race.Event {
	o := p.Opened
	if o.Card.Kind == "" {
		o.Card = race.DefaultCard()
		o.Card.Length = time.Minute
	}
	tick := cmp.Or(p.Tick, time.Millisecond)
	wall := race.WallOf(p.Wall)
	o.Stamp.Wall = wall
	events := []race.Event{o}
	for i, d := range p.Drivers {
		d.Driver = i + 1
		d.Stamp.Wall = wall
		events = append(events, d)
	}
	drawn := race.Drawn{Stamp: race.Stamp{Wall: wall}, Draw: "made"}
	for _, h := range p.Heats {
		drawn.Heats = append(drawn.Heats, race.PlannedHeat{Drivers: slices.Clone(h)})
	}
	events = append(events, drawn)
	serial, ticks0 := uint64(0), goAt
	for h, seats := range p.Heats {
		heat := h + 1
		wall += race.Wall(2 * time.Minute)
		stamp := race.Stamp{Wall: wall}
		segment, went := 1, ticks0
		events = append(events, race.HeatStaged{Stamp: stamp, Heat: heat}, race.LampsStarted{Stamp: stamp, Lamps: 5},
			race.Went{Stamp: stamp, Source: "made", Segment: segment, At: went, Acked: true})
		type moment struct {
			at    time.Duration
			order int
			seat  int
			event race.Event
		}
		var run []moment
		for i, driver := range seats {
			at := time.Duration(0)
			for lap := 0; driver > 0; lap++ {
				d := p.Lap(heat, i+1, driver, lap)
				if d <= 0 || at+d > o.Card.Length && o.Card.Kind == "timed" || o.Card.Kind == "laps" && lap > o.Card.Laps {
					break
				}
				for _, sensor := range sensorsOf(p.Sensor) {
					if lap == 0 {
						break
					}
					t := at + time.Duration(p.Sensor[sensor].After*float64(d))
					run = append(run, moment{t, sensor, i + 1, pass(sensor, i+1, went+t, tick, o.Digital)})
				}
				at += d
				run = append(run, moment{at, 1, i + 1, pass(1, i+1, went+at, tick, o.Digital)})
			}
		}
		if p.During != nil {
			for _, m := range p.During(heat) {
				run = append(run, moment{m.At, 0, 0, m.Event(segment, went+m.At)})
			}
		}
		slices.SortStableFunc(run, func(a, b moment) int {
			return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.seat, b.seat), cmp.Compare(a.order, b.order))
		})
		passes := make([][]uint64, len(seats))
		end := o.Card.Length
		for _, m := range run {
			if made, ok := m.event.(race.Passed); ok {
				serial++
				made.Serial, made.Stamp, made.Heard = serial, stamp, wall+race.Wall(m.at)
				m.event = made
				if made.Sensor == 1 {
					passes[m.seat-1] = append(passes[m.seat-1], uint64(len(events)+1))
				}
			}
			events = append(events, m.event)
			if o.Card.Kind == "laps" {
				end = max(end, m.at)
			}
		}
		events = append(events, race.TimeUp{Stamp: stamp, Segment: segment, At: went + end}, race.Finished{Stamp: stamp, Segment: segment, At: went + end})
		if p.After != nil {
			events = append(events, p.After(heat, passes)...)
		}
		if !p.Open || heat < len(p.Heats) {
			events = append(events, race.Accepted{Stamp: stamp, Heat: heat})
		}
		ticks0 += 10 * time.Minute
	}
	return events
}

// Fold folds the night; seen is told of every pass after it was applied, and may be nil.
func (p Plan) Fold(seen func(n *race.Night, seq uint64, p race.Pass)) (*race.Night, error) {
	n := race.NewNight()
	for i, e := range p.Events() {
		if err := n.Apply(uint64(i+1), e); err != nil {
			return nil, fmt.Errorf("event %d, %T: %w", i+1, e, err)
		}
		if made, ok := e.(race.Passed); ok && seen != nil {
			seen(n, uint64(i+1), made.Pass)
		}
	}
	return n, nil
}

func pass(sensor, seat int, at, tick time.Duration, digital bool) race.Passed {
	at = at / tick * tick
	p := race.Passed{Pass: race.Pass{Source: "made", Segment: 1, Sensor: sensor, At: at, Ticks: uint64(at / tick)}}
	if digital {
		p.Car = seat
	} else {
		p.Lane = seat
	}
	return p
}

func sensorsOf(traps map[int]Trap) []int {
	var out []int
	for s := range traps {
		out = append(out, s)
	}
	slices.Sort(out)
	return out
}

// Rolling is a rotation in which everybody moves one lane on each heat: drivers wait in a circle, the first lanes of which drive.
func Rolling(drivers, lanes int) [][]int {
	heats := make([][]int, max(drivers, lanes))
	for h := range heats {
		heats[h] = make([]int, lanes)
		for l := range heats[h] {
			if d := (h + l) % max(drivers, lanes); d < drivers {
				heats[h][l] = d + 1
			}
		}
	}
	return heats
}
