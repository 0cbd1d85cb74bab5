package control

import (
	"context"
	"fmt"

	"lanewright/race"
	"lanewright/race/rotation"
)

// DrawRequest is what a draw is made of. Drivers, lanes and heats count from 1.
type DrawRequest struct {
	race.MakeDraw
	Drivers []race.Driver // here and driving, in order of their numbers
	Seats   int           // lanes, or cars on digital nights
	Digital bool
	Closed  []int   // lanes out of use
	Posts   int     // marshal posts
	Run     [][]int // heats run and accepted: driver by seat
	Was     []race.PlannedHeat
}

func (d *desk) request(m race.MakeDraw) DrawRequest {
	r := DrawRequest{MakeDraw: m, Seats: d.night.Seats(), Digital: d.night.Info().Digital, Posts: d.night.Card().Posts, Run: d.night.HeatsRun(), Was: d.night.HeatsAhead()}
	if m.Seed == 0 {
		r.Seed = d.night.Info().Seed
	}
	if !r.Digital {
		r.Closed = d.night.ClosedLanes()
	}
	for _, p := range d.night.Drivers() {
		if !p.Away {
			r.Drivers = append(r.Drivers, p)
		}
	}
	return r
}

// Rotation makes draws with race/rotation.
func Rotation(ctx context.Context, r DrawRequest) (race.Drawn, error) {
	if r.Kind == "" {
		r.Kind = "balanced"
	}
	out := race.Drawn{Draw: r.Kind, Rounds: max(r.Rounds, 1), Seed: r.Seed}
	switch {
	case r.Digital:
		out.Heats = digitalHeats(r)
		return out, nil
	case len(r.Run) > 0:
		out.Heats = rest(r)
		out.Lines = []string{"the rest of the evening: everybody gets the lanes still missing"}
		return out, nil
	}
	kind, err := rotation.ParseKind(r.Kind)
	if err != nil {
		return out, err
	}
	p := rotation.Problem{Kind: kind, Drivers: len(r.Drivers), Lanes: r.Seats, Rounds: out.Rounds, Closed: r.Closed, Heats: r.Heats, Posts: r.Posts, Seed: r.Seed,
		Wishes: wishes(r)}
	if kind == rotation.ShortKind && p.Heats == 0 {
		return out, fmt.Errorf("a short rotation needs the number of heats there is time for")
	}
	draw, err := rotation.Make(ctx, p, nil)
	if err != nil {
		return out, err
	}
	for h, row := range draw.Heats {
		plan := race.PlannedHeat{Drivers: r.numbers(row)}
		if h < len(draw.Duty) {
			plan.Marshals = r.numbers(draw.Duty[h])
		}
		out.Heats = append(out.Heats, plan)
	}
	out.Proof, out.Lines = draw.Proof, draw.Notes
	return out, nil
}

// numbers turns positions in the request (from 1) into driver numbers.
func (r DrawRequest) numbers(row []int) []int {
	out := make([]int, len(row))
	for i, k := range row {
		if k > 0 {
			out[i] = r.Drivers[k-1].Number
		}
	}
	return out
}

// position is the inverse of numbers for one driver, 0 if he is not in the draw.
func (r DrawRequest) position(driver int) int {
	for i, p := range r.Drivers {
		if p.Number == driver {
			return i + 1
		}
	}
	return 0
}

// wishes are the things about drivers that a draw must respect.
func wishes(r DrawRequest) rotation.Wishes {
	var w rotation.Wishes
	for i, p := range r.Drivers {
		if k := r.position(p.Share); k > i+1 {
			w.Share = append(w.Share, rotation.Share{A: i + 1, B: k})
		}
		if p.Comes > 1 || p.Leaves > 0 {
			w.Stay = append(w.Stay, rotation.Stay{Driver: i + 1, From: p.Comes, Until: p.Leaves})
		}
	}
	return w
}

// digitalHeats puts drivers into heats of as many as there are cars, everybody as often as there are rounds. A driver keeps the car
// number he was given; the others take what is free.
func digitalHeats(r DrawRequest) []race.PlannedHeat {
	var heats []race.PlannedHeat
	for range max(r.Rounds, 1) {
		left := r.Drivers
		for len(left) > 0 {
			row := make([]int, r.Seats)
			var later []race.Driver
			for _, p := range left {
				if p.Car > 0 && row[p.Car-1] == 0 {
					row[p.Car-1] = p.Number
				} else if p.Car > 0 {
					later = append(later, p)
				}
			}
			for _, p := range left {
				if p.Car > 0 {
					continue
				}
				free := -1
				for s, in := range row {
					if in == 0 {
						free = s
						break
					}
				}
				if free < 0 {
					later = append(later, p)
					continue
				}
				row[free] = p.Number
			}
			heats = append(heats, race.PlannedHeat{Drivers: row})
			left = later
		}
	}
	return heats
}

// rest makes the heats that are still missing after some have been run: in each, every lane goes to the driver who has most to drive
// yet and has not had it.
func rest(r DrawRequest) []race.PlannedHeat {
	rounds := max(r.Rounds, 1)
	need := make([][]int, len(r.Drivers)) // by driver and lane
	for i := range need {
		need[i] = make([]int, r.Seats)
		for l := range need[i] {
			need[i][l] = rounds
		}
		for _, l := range r.Closed {
			need[i][l-1] = 0
		}
	}
	for _, row := range r.Run {
		for l, d := range row {
			if k := r.position(d); k > 0 && need[k-1][l] > 0 {
				need[k-1][l]--
			}
		}
	}
	var heats []race.PlannedHeat
	for {
		row := make([]int, r.Seats)
		any := false
		for l := range row {
			best, most := 0, 0
			for i, lanes := range need {
				if lanes[l] == 0 || r.conflicts(row, r.Drivers[i]) {
					continue
				}
				left := 0
				for _, k := range lanes {
					left += k
				}
				if left > most {
					best, most = i+1, left
				}
			}
			if best > 0 {
				row[l] = r.Drivers[best-1].Number
				need[best-1][l]--
				any = true
			}
		}
		if !any {
			return heats
		}
		heats = append(heats, race.PlannedHeat{Drivers: row, Marshals: r.idle(row)})
	}
}

// conflicts tells whether a driver is in the heat already, or his car is.
func (r DrawRequest) conflicts(row []int, p race.Driver) bool {
	for _, d := range row {
		if d == p.Number || d != 0 && d == p.Share {
			return true
		}
	}
	return false
}

// idle returns marshals for a heat: drivers who sit out, in order of their numbers.
func (r DrawRequest) idle(row []int) []int {
	posts := make([]int, 0, r.Posts)
	for _, p := range r.Drivers {
		if len(posts) == r.Posts {
			break
		}
		if !r.conflicts(row, race.Driver{Number: p.Number}) {
			posts = append(posts, p.Number)
		}
	}
	return posts
}
