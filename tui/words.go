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

// moment writes a time of day as the hall's clock shows it.
func (r *Root) moment(t time.Time) string {
	if t.IsZero() {
		return figure.Moment(t)
	}
	return figure.Moment(t.In(r.opt.Zone))
}

func figurePlace(l race.LaneRow) string { return figure.Place(l.Place, l.Shared) }

func placeOf(row race.ResultRow) string { return figure.Place(row.Place, row.Shared) }

// shape is a lane's shape in one cell.
func (r *Root) shape(n int) string {
	if r.set.ASCII {
		return lane.Of(n).ASCII
	}
	return lane.Of(n).Shape
}

// laneMark is a lane's shape and number.
func (r *Root) laneMark(n int) string { return r.shape(n) + " " + itoa(n) }
