package score

import (
	"fmt"
	"time"
)

// HeatKind says what ends a heat.
type HeatKind int

const (
	Timed   HeatKind = iota // ends after a time
	LapRace                 // ends after a number of laps
)

// Gap is how far a driver is behind another. Timed heats give laps and parts,
// never seconds; lap races seconds on the same lap and whole laps otherwise.
type Gap struct {
	Kind  HeatKind
	Parts Parts         // timed heats
	Laps  int           // lap races, when not on the same lap
	Time  time.Duration // lap races, on the same lap
}

// GapBetween returns how far behind is behind ahead. Use the leader for a gap,
// the row above for an interval.
func GapBetween(kind HeatKind, ahead, behind Row) Gap {
	if kind == Timed {
		return Gap{Kind: kind, Parts: ahead.Total - behind.Total}
	}
	if ahead.Laps != behind.Laps {
		return Gap{Kind: kind, Laps: ahead.Laps - behind.Laps}
	}
	return Gap{Kind: kind, Time: behind.LastPass - ahead.LastPass}
}

// Format writes the gap: "+1.24", "+3 laps", "+1.234 s". Times are cut to
// thousandths.
func (g Gap) Format(resolution int) string {
	switch {
	case g.Kind == Timed:
		return "+" + g.Parts.Format(resolution)
	case g.Laps == 1:
		return "+1 lap"
	case g.Laps != 0:
		return fmt.Sprintf("+%d laps", g.Laps)
	}
	ms := g.Time.Milliseconds()
	sign := "+"
	if ms < 0 {
		sign, ms = "-", -ms
	}
	return fmt.Sprintf("%s%d.%03d s", sign, ms/1000, ms%1000)
}
