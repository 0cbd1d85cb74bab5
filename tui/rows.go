package tui

import (
	"time"

	"lanewright/race"
	"lanewright/tui/cell"
	"lanewright/tui/lane"
)

// laneView is one row of the heat at the line: a lane, or a car on a digital night.
type laneView struct {
	race.LaneRow
	n int // number of the lane or car
}

// rows returns the rows of the heat at the line in their order, which never changes on a live screen.
func (r *Root) rows() []laneView {
	if !r.racing() {
		return nil
	}
	if r.snap.Digital && len(r.snap.Cars) > 0 {
		out := make([]laneView, 0, len(r.snap.Cars))
		for _, c := range r.snap.Cars {
			out = append(out, laneView{c.LaneRow, c.Car})
		}
		return out
	}
	out := make([]laneView, 0, len(r.snap.Running))
	for _, l := range r.snap.Running {
		out = append(out, laneView{LaneRow: l, n: l.Lane})
	}
	return out
}

// racing says whether the lanes have something to show: a heat at the line, running or just over, or free laps.
func (r *Root) racing() bool {
	switch r.snap.Phase {
	case race.Staged, race.Finish, race.Practice:
		return true
	}
	return r.snap.Phase.Live()
}

// heatAtLine returns the heat at the line, nil if there is none.
func (r *Root) heatAtLine() *race.HeatRow {
	for i := range r.snap.Ahead {
		if r.snap.Ahead[i].Heat == r.snap.Heat {
			return &r.snap.Ahead[i]
		}
	}
	return nil
}

// nextHeat returns the first heat that is still to be driven and is not at the line, nil if there is none.
func (r *Root) nextHeat() *race.HeatRow {
	for i := range r.snap.Ahead {
		h := &r.snap.Ahead[i]
		if h.State == "ahead" && h.Heat != r.snap.Heat {
			return h
		}
	}
	return nil
}

// drawChip draws shape and number of a lane on its colour and returns the cells used.
func (r *Root) drawChip(g *cell.Grid, x, y, n int) int {
	text := ""
	switch {
	case r.set.ASCII:
		text = " " + r.laneMark(n) + " "
	case n >= 0 && n < len(chipText):
		text = chipText[n]
	default:
		text = chip(n)
	}
	return g.Put(x, y, 5, cell.Chip(n), text)
}

// chip is the text of a lane's chip.
func chip(n int) string { return " " + lane.Of(n).Shape + " " + itoa(n) + " " }

// chipText are those of the usual lanes.
var chipText = func() (out [lane.Most + 1]string) {
	for n := range out {
		out[n] = chip(n)
	}
	return out
}()

// lit says whether a pass was heard so shortly ago that the lane lights up.
func (r *Root) lit(t time.Time) bool {
	if r.set.Still || t.IsZero() {
		return false
	}
	d := r.now().Sub(t)
	return d >= 0 && d < 600*time.Millisecond
}

// lastLap returns the last lap as a figure.
func (r *Root) lastLap(l race.LaneRow) string {
	if l.Last > 0 && !l.Timed {
		return r.form.Lap(0, l.Digits)
	}
	return r.form.Lap(l.Last, l.Digits)
}

// rowName returns the name to show of a row, and its look.
func (r *Root) rowName(l race.LaneRow) (string, cell.Style) {
	switch {
	case r.practice() && l.Driver == 0 && !l.Closed:
		return "free laps", cell.Dim
	case l.Closed:
		return "closed", cell.Dim
	case l.Driver == 0 && l.Name == "":
		return "nobody", cell.Dim
	case l.Name == "":
		return cell.Clean(l.Short), cell.Strong
	}
	return cell.Clean(l.Name), cell.Strong
}
