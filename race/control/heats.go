package control

import (
	"lanewright/race"
	"lanewright/race/rotation"
)

// taken appends the heats of a draw from the from-th on, with positions turned into driver numbers.
func taken(out *race.Drawn, draw rotation.Draw, from int, drivers []race.Driver) {
	numbers := func(row []int) []int {
		n := make([]int, len(row))
		for i, k := range row {
			if k > 0 {
				n[i] = drivers[k-1].Number
			}
		}
		return n
	}
	for h := from; h < len(draw.Heats); h++ {
		plan := race.PlannedHeat{Drivers: numbers(draw.Heats[h])}
		if h < len(draw.Duty) {
			plan.Marshals = numbers(draw.Duty[h])
		}
		out.Heats = append(out.Heats, plan)
	}
	if out.Proof != "" && draw.Proof != "" {
		out.Proof += "\n"
	}
	out.Proof += draw.Proof
	out.Lines = append(out.Lines, withNames(draw.Notes, drivers)...)
}

// wishes are the things about drivers that a draw must respect. Positions in the list count from 1.
func wishes(drivers []race.Driver) rotation.Wishes {
	var w rotation.Wishes
	for i, p := range drivers {
		for k := i + 1; k < len(drivers); k++ {
			if p.Share != 0 && drivers[k].Number == p.Share {
				w.Share = append(w.Share, rotation.Share{A: i + 1, B: k + 1})
			}
		}
		if p.Comes > 1 || p.Leaves > 0 {
			w.Stay = append(w.Stay, rotation.Stay{Driver: i + 1, From: p.Comes, Until: p.Leaves})
		}
	}
	return w
}

// digitalHeats puts drivers into heats of as many as there are cars, everybody as often as there are rounds. A driver keeps the car
// number he was given; the others take what is free. Heats that have been run count for those who drove them.
func digitalHeats(r DrawRequest) []race.PlannedHeat {
	had := map[int]int{}
	for _, row := range r.Run {
		for _, d := range row {
			had[d]++
		}
	}
	var heats []race.PlannedHeat
	for round := range r.Rounds {
		var left []race.Driver
		for _, p := range r.Drivers {
			if had[p.Number] <= round {
				left = append(left, p)
			}
		}
		for len(left) > 0 {
			row := make([]int, r.Seats)
			var later []race.Driver
			for _, p := range left {
				if p.Car > 0 && (row[p.Car-1] != 0 || r.conflicts(row, p)) {
					later = append(later, p)
				} else if p.Car > 0 {
					row[p.Car-1] = p.Number
				}
			}
			for _, p := range left {
				if p.Car > 0 {
					continue
				}
				seat := 0
				for s := len(row); s > 0; s-- {
					if row[s-1] == 0 {
						seat = s
					}
				}
				if seat == 0 || r.conflicts(row, p) {
					later = append(later, p)
					continue
				}
				row[seat-1] = p.Number
			}
			heats = append(heats, race.PlannedHeat{Drivers: row, Marshals: r.idle(row)})
			left = later
		}
	}
	return heats
}

// rest makes the heats that are still missing after some have been run: in each, every lane goes to the driver who has most to drive
// yet and has not had it.
func rest(r DrawRequest) []race.PlannedHeat {
	need := make([][]int, len(r.Drivers)) // by driver and lane
	for i, p := range r.Drivers {
		need[i] = make([]int, r.Seats)
		for l := range need[i] {
			need[i][l] = r.Rounds
		}
		for _, l := range r.Closed {
			need[i][l-1] = 0
		}
		for _, row := range r.Run {
			for l, d := range row {
				if d == p.Number && need[i][l] > 0 {
					need[i][l]--
				}
			}
		}
	}
	var heats []race.PlannedHeat
	for {
		row := make([]int, r.Seats)
		found := false
		for l := range row {
			best, most := -1, 0
			for i, lanes := range need {
				if lanes[l] == 0 || r.conflicts(row, r.Drivers[i]) {
					continue
				}
				left := 0
				for _, k := range lanes {
					left += k
				}
				if left > most {
					best, most = i, left
				}
			}
			if best >= 0 {
				row[l] = r.Drivers[best].Number
				need[best][l]--
				found = true
			}
		}
		if !found {
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
