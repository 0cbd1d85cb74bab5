package tui

import (
	"strconv"
	"time"

	"lanewright/race"
	"lanewright/tui/figure"
	"lanewright/tui/lane"
)

func utoa(n uint64) string { return strconv.FormatUint(n, 10) }

func seconds(v float64) time.Duration { return time.Duration(v * float64(time.Second)) }

// orDash shows what is missing.
func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

func momentOf(t time.Time) string { return figure.Moment(t) }

func figurePlace(l race.LaneRow) string { return figure.Place(l.Place, l.Shared) }

func placeOf(row race.ResultRow) string { return figure.Place(row.Place, row.Shared) }

// laneMark is a lane's shape and number.
func laneMark(n int) string { return lane.Of(n).Shape + " " + itoa(n) }
