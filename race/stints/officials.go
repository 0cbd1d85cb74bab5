package stints

import (
	"lanewright/race"
	"lanewright/race/fairness"
)

// Officials returns the standings of a night, or of one class of it, as the audit takes them: places and totals as the rule card
// made them. Drivers who have not driven are left out.
func Officials(n *race.Night, class string) []fairness.Official {
	names := namesOf(n, false)
	var out []fairness.Official
	for _, r := range n.Standings(race.Filter{Class: class}) {
		if r.Heats == 0 {
			continue
		}
		out = append(out, fairness.Official{Driver: names[r.Driver], Place: r.Place, Laps: float64(r.Laps) + float64(r.Part)/float64(max(r.PartOf, 1))})
	}
	return out
}

// Finishing returns the standings of a night as groups of level drivers, best first: what is left of a night when only places are
// kept. Drivers without a place are left out.
func Finishing(n *race.Night, class string) [][]string {
	var groups [][]string
	last := 0
	names := namesOf(n, false)
	for _, r := range n.Standings(race.Filter{Class: class}) {
		if r.Heats == 0 || r.Place < 1 || r.Reason == "not counted" || r.Reason == "not driven" {
			continue
		}
		if r.Place != last || !r.Shared {
			groups = append(groups, nil)
		}
		groups[len(groups)-1] = append(groups[len(groups)-1], names[r.Driver])
		last = r.Place
	}
	return groups
}

// Lengths returns the length of every lane in millimetres, as the night froze them; nil on digital nights, where a lap is as long
// as its route.
func Lengths(n *race.Night) map[int]float64 {
	info := n.Info()
	if info.Digital {
		return nil
	}
	out := map[int]float64{}
	for i, l := range info.Layout.Lanes {
		if l.LengthMM > 0 {
			out[i+1] = l.LengthMM
		}
	}
	return out
}
