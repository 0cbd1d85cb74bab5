package fairness

import (
	"cmp"
	"slices"

	"lanewright/race/analysis"
)

// Cell is a driver and a lane.
type Cell struct {
	Driver string
	Lane   int
}

// Rotation says what was driven, whatever the figures were.
type Rotation struct {
	Heats    int
	Complete bool   // every driver ran every lane equally often
	Missing  []Cell // driver and lane that never met; sorted
	// MeetMin and MeetMax are how often the two drivers who met least, and most,
	// were in one heat.
	MeetMin, MeetMax int
	Drivers          []Attendance // sorted by id
}

// Attendance is one driver's evening.
type Attendance struct {
	Driver  string
	Stints  int
	SitOuts int // heats of the night without him
	Wait    int // most heats sat out in a row between two of his own
}

func rotationOf(stints []analysis.Stint) Rotation {
	var drivers []string
	var lanes, heats []int
	for _, s := range stints {
		drivers, lanes, heats = append(drivers, s.Driver), append(lanes, s.Lane), append(heats, s.Heat)
	}
	drivers, lanes, heats = unique(drivers), unique(lanes), unique(heats)
	r := Rotation{Heats: len(heats), Complete: true, Drivers: make([]Attendance, len(drivers))}
	count := make([][]int, len(drivers))
	in := make([][]bool, len(drivers)) // driver, heat
	for d := range drivers {
		count[d] = make([]int, len(lanes))
		in[d] = make([]bool, len(heats))
		r.Drivers[d].Driver = drivers[d]
	}
	for _, s := range stints {
		d, _ := slices.BinarySearch(drivers, s.Driver)
		l, _ := slices.BinarySearch(lanes, s.Lane)
		h, _ := slices.BinarySearch(heats, s.Heat)
		count[d][l]++
		in[d][h] = true
		r.Drivers[d].Stints++
	}
	for d := range drivers {
		for l := range lanes {
			if count[d][l] == 0 {
				r.Missing = append(r.Missing, Cell{drivers[d], lanes[l]})
			}
			if count[d][l] != count[0][0] {
				r.Complete = false
			}
		}
		last := -1
		for h := range heats {
			switch {
			case !in[d][h]:
				r.Drivers[d].SitOuts++
			case last >= 0:
				r.Drivers[d].Wait = max(r.Drivers[d].Wait, h-last-1)
				last = h
			default:
				last = h
			}
		}
	}
	first := true
	for a := range drivers {
		for b := range a {
			n := 0
			for h := range heats {
				if in[a][h] && in[b][h] {
					n++
				}
			}
			if first {
				r.MeetMin, r.MeetMax, first = n, n, false
			}
			r.MeetMin, r.MeetMax = min(r.MeetMin, n), max(r.MeetMax, n)
		}
	}
	return r
}

func unique[T cmp.Ordered](x []T) []T {
	slices.Sort(x)
	return slices.Compact(x)
}
