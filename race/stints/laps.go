package stints

import (
	"time"

	"lanewright/race"
)

// Lap is one lap that may be a best lap: clean, in a heat that is accepted, of a stint that counts. Lap 1 is among them where it was
// driven from line to line.
type Lap struct {
	Heat, Seat, Number int
	Driver, Class      string
	Time               time.Duration
	Pass               uint64 // journal number of the pass that completed it, for [Ear.ByReceipt]
}

// CleanLaps returns the laps of a night that may be best laps, by heat, seat and lap. Of the options, Class and ByCar are looked at.
func CleanLaps(n *race.Night, o Options) []Lap {
	names := namesOf(n, o.ByCar)
	var out []Lap
	for _, h := range n.Report().Heats {
		if h.State != "run" {
			continue
		}
		rows := map[int]race.ResultRow{}
		for _, r := range h.Results {
			rows[r.Driver] = r
		}
		for seat := 1; seat <= n.Seats(); seat++ {
			driver := n.DriverIn(h.Heat, seat)
			row, ok := rows[driver]
			if driver == 0 || !ok || names[driver] == "" || o.Class != "" && row.Class != o.Class || row.Reason == "not counted" || row.Reason == "not driven" {
				continue
			}
			for _, l := range n.Laps(h.Heat, seat) {
				if l.Verdict == race.Counted && l.Clean && l.Time > 0 {
					out = append(out, Lap{h.Heat, seat, l.Lap, names[driver], row.Class, l.Time, l.Pass})
				}
			}
		}
	}
	return out
}
