package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"

	"lanewright/race/speeds"
	"lanewright/race/stints"
)

// acrossRecord is a lap that was a record when it was driven, or level with one within what measurement can tell.
type acrossRecord struct {
	Layout string  `json:"layout"`
	Lane   int     `json:"lane"` // 0: of all lanes, by speed
	Night  string  `json:"night"`
	Name   string  `json:"name"`
	On     int     `json:"on_lane,omitempty"` // where it was driven
	LapUS  int64   `json:"lap_us"`
	MS     figureU `json:"real_ms"`
	Claim  string  `json:"claim"`  // "first", "new", "equal within measurement"
	Stands bool    `json:"stands"` // the record today, or level with it
}

// recordsOf goes through the nights in order: each night's quickest lap on each lane, and over all lanes, against the record before it.
// On one lane the length is the same for both, so only the times are uncertain; over all lanes the lengths are as well. On digital nights
// all cars share the lanes: there is one record, of times over an unknown route.
func recordsOf(nights []*paceNight, class string, f acrossFlags) ([]acrossRecord, error) {
	type key struct {
		layout string
		lane   int
	}
	out := []acrossRecord{}
	best := map[key]speeds.Speed{} // the record to beat: one that was only equalled stays, or records could creep
	for _, n := range nights {
		info := n.Info()
		tick, _ := f.tickOf(n)
		tonight := map[key]stints.Lap{}
		fastest := map[key]speeds.Speed{}
		var order []key
		for _, l := range stints.CleanLaps(n.Night, stints.Options{ByCar: f.by == "car"}) {
			if l.Class != class {
				continue
			}
			lanes := []int{l.Seat, 0}
			length := info.LongestMM
			if info.Digital {
				lanes = []int{0}
			} else {
				length = info.Layout.Lanes[l.Seat-1].LengthMM
			}
			if !(length > 0) {
				continue
			}
			for _, lane := range lanes {
				sd := 0.0
				if lane == 0 && !info.Digital {
					sd = f.lengthSD
				}
				v, err := speeds.ScaleSpeed(length, sd, l.Time, lapU(tick, n.ear.ByReceipt(l.Pass)), float64(max(info.Scale, 1)))
				if err != nil {
					return nil, err
				}
				k := key{info.Layout.Name, lane}
				if old, ok := fastest[k]; !ok || v.MS.Value > old.MS.Value {
					if !ok {
						order = append(order, k)
					}
					tonight[k], fastest[k] = l, v
				}
			}
		}
		for _, k := range order {
			l, v := tonight[k], fastest[k]
			claim := "first"
			if old, ok := best[k]; ok {
				c, err := speeds.RecordClaim(old, v)
				if err != nil {
					return nil, err
				}
				if c == speeds.NoRecord {
					continue
				}
				claim = c.String()
			}
			r := acrossRecord{Layout: k.layout, Lane: k.lane, Night: n.id, Name: l.Driver, On: l.Seat, LapUS: l.Time.Microseconds(), MS: figureU(v.MS), Claim: claim, Stands: true}
			if info.Digital {
				r.On = 0
			}
			if claim != speeds.Equal.String() {
				best[k] = v
				for i := range out { // what stood before stands no more
					if out[i].Layout == k.layout && out[i].Lane == k.lane {
						out[i].Stands = false
					}
				}
			}
			out = append(out, r)
		}
	}
	slices.SortStableFunc(out, func(a, b acrossRecord) int {
		return cmp.Or(cmp.Compare(a.Layout, b.Layout), cmp.Compare(a.Lane, b.Lane))
	})
	return out, nil
}

func printRecords(w io.Writer, records []acrossRecord) {
	if len(records) == 0 {
		return
	}
	fmt.Fprintln(w, "\nrecords that stand, night by night")
	for _, r := range records {
		if !r.Stands {
			continue
		}
		where := fmt.Sprintf("lane %d", r.Lane)
		if r.Lane == 0 {
			where = "all lanes"
		}
		on := ""
		if r.Lane == 0 && r.On > 0 {
			on = fmt.Sprintf(" on lane %d", r.On)
		}
		fmt.Fprintf(w, "%s  %-9s  %s  %8.3f s%s  %s  (%s)\n", pad(r.Layout, 20), where, pad(r.Name, 22), secondsCut(r.LapUS), on, r.Night, r.Claim)
	}
}
