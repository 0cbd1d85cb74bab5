package score

import (
	"fmt"
	"slices"
	"testing"
	"time"
)

func TestRecordsFallOnlyToAQuickerLap(t *testing.T) {
	mark := func(lane int, driver, class string, msec, order int) LapMark {
		return LapMark{Layout: "Mill Lane", Class: class, Lane: lane, Driver: driver, Time: time.Duration(msec) * time.Millisecond, Order: int64(order)}
	}
	marks := []LapMark{
		mark(1, "A", "GT", 5000, 1), mark(1, "B", "GT", 5000, 2), mark(2, "C", "GT", 4990, 3),
		mark(2, "A", "GT", 4990, 4), mark(1, "D", "F1", 4000, 5), mark(1, "E", "GT", 0, 6),
	}
	want := "F1/0 D 4s; F1/1 D 4s; GT/0 C 4.99s; GT/1 A 5s; GT/2 C 4.99s; "
	for range 2 {
		got := ""
		for _, r := range Records(marks) {
			got += fmt.Sprintf("%s/%d %s %v; ", r.Class, r.Lane, r.Mark.Driver, r.Mark.Time)
		}
		if got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
		slices.Reverse(marks)
	}
}

func TestGaps(t *testing.T) {
	a := Row{Total: 3052, Laps: 30, LastPass: 180 * time.Second}
	for _, c := range []struct {
		kind   HeatKind
		behind Row
		want   string
	}{
		{Timed, Row{Total: 2928, Laps: 29}, "+1.24"},
		{Timed, Row{Total: 3052}, "+0.00"},
		{LapRace, Row{Laps: 30, LastPass: 181234999 * time.Microsecond}, "+1.234 s"}, // cut, not rounded
		{LapRace, Row{Laps: 29}, "+1 lap"},
		{LapRace, Row{Laps: 27}, "+3 laps"},
	} {
		if got := GapBetween(c.kind, a, c.behind).Format(100); got != c.want {
			t.Errorf("got %s, want %s", got, c.want)
		}
	}
}
