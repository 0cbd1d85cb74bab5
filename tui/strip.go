package tui

import (
	"strings"
	"time"

	"lanewright/race"
	"lanewright/tui/cell"
	"lanewright/tui/figure"
)

// elapsed returns the driven time of the heat at this moment.
func (r *Root) elapsed() time.Duration {
	c := &r.snap.Clock
	if !c.Ticking || c.AsOf.IsZero() {
		return c.Elapsed
	}
	run := max(r.now().Sub(c.AsOf), 0)
	if c.Speed > 0 && c.Speed != 1 {
		run = time.Duration(float64(run) * c.Speed)
	}
	return c.Elapsed + run
}

// clock returns the figure of the clock and what it means: time left of a timed heat, time driven of a lap heat.
func (r *Root) clock() (figure, word string) {
	c := &r.snap.Clock
	s := r.snap
	switch {
	case (s.Phase == race.Lamps || s.Phase == race.Resuming) && !c.Until.IsZero():
		left := c.Until.Sub(r.now())
		if c.Speed > 0 && c.Speed != 1 {
			left = time.Duration(float64(left) * c.Speed)
		}
		return r.form.Left(left), "to go"
	case !r.racing():
		return "", ""
	case s.Phase == race.Practice:
		return "", ""
	case c.Length > 0:
		return r.form.Left(c.Length - r.elapsed()), "left"
	case c.Laps > 0:
		return r.form.Clock(r.elapsed()), "of " + itoa(c.Laps) + " laps"
	}
	return "", ""
}

// stateStyle is the look of the word of state.
func stateStyle(p race.Phase) cell.Style {
	st := cell.Block
	switch p {
	case race.Green, race.Finishing, race.Practice:
		st.Fg = cell.Good
	case race.TrackCall:
		st.Fg = cell.Bad
	case race.Lamps, race.Resuming, race.Staged:
		st.Fg = cell.Warn
	}
	return st
}

// lamps returns the start lamps as text, "" when they are not in use.
func (r *Root) lamps() string {
	c := &r.snap.Clock
	if r.snap.Phase != race.Lamps && r.snap.Phase != race.Resuming || c.LampsOf < 1 || c.LampsOf > 12 {
		return ""
	}
	lit := r.lampsLit()
	return strings.Repeat("●", lit) + strings.Repeat("○", c.LampsOf-lit)
}

// lampsLit returns how many lamps are lit. Snapshots come when something happens; between them the lamps go on by the clock.
func (r *Root) lampsLit() int {
	c := &r.snap.Clock
	lit := c.Lamps
	whole := r.snap.Card.Countdown
	if r.snap.Phase == race.Resuming {
		whole = r.snap.Card.ResumeIn
	}
	if !c.Until.IsZero() && whole > 0 {
		left := c.Until.Sub(r.now())
		if c.Speed > 0 && c.Speed != 1 {
			left = time.Duration(float64(left) * c.Speed)
		}
		if left <= whole {
			lit = max(lit, int(int64(whole-max(left, 0))*int64(c.LampsOf)/int64(whole)))
		}
	}
	return max(0, min(lit, c.LampsOf))
}

// phase is the word of state; a night that has not been opened has none.
func (r *Root) phase() string {
	if r.snap.Phase == "" {
		return "WAITING"
	}
	return cell.Clean(string(r.snap.Phase))
}

// drawStrip draws the live strip: state, heat, clock, and what wants looking at. It is on every screen.
func (r *Root) drawStrip(g *cell.Grid, b cell.Box) {
	s := r.snap
	x := b.X + g.Put(b.X, b.Y, b.W, stateStyle(s.Phase), " "+r.phase()+" ")
	end := b.X + b.W
	put := func(st cell.Style, text string) {
		if text != "" && x+1+cell.Width(text) <= end {
			x += 1 + g.Put(x+1, b.Y, end-x-1, st, text)
		}
	}
	put(cell.Notice, r.lamps())
	fig, word := r.clock()
	put(cell.Strong, fig)
	put(cell.Dim, word)
	if s.Heat > 0 {
		x++
		put(cell.Normal, "heat "+itoa(s.Heat)+" of "+itoa(max(s.Heats, s.Heat)))
	} else if run := r.heatsRun(); s.Heats > 0 {
		put(cell.Normal, itoa(run)+" of "+figure.Count(s.Heats, "heat")+" driven")
	}
	right, st := r.trouble()
	if right == "" {
		right, st = cell.Clean(s.Title), cell.Dim
	}
	if room := end - x - 2; room >= 8 {
		g.Right(end-room, b.Y, room, st, right)
		if len(s.Questions) > 0 {
			g.Zone(cell.Box{X: end - min(room, cell.Width(right)), Y: b.Y, W: min(room, cell.Width(right)), H: 1}, "act:questions")
		}
	}
}

// counterName is what a counter is called on the screens.
func counterName(c race.CounterState) string {
	if name := cell.Clean(c.Name); name != "" && name != "counter" {
		return "counter " + name
	}
	return "counter"
}

// heatsRun counts the heats that have been driven.
func (r *Root) heatsRun() int {
	n := 0
	for i := range r.snap.Ahead {
		if r.snap.Ahead[i].State == "run" {
			n++
		}
	}
	return n
}

// trouble is what wants looking at first: a counter that does not talk, questions that wait.
func (r *Root) trouble() (string, cell.Style) {
	s := r.snap
	for _, c := range append([]race.CounterState{s.Counter}, s.Counters...) {
		if c.State == "lost" {
			return counterName(c) + " is lost", cell.Alarm
		}
	}
	if n := len(s.Questions); n > 0 {
		if n == 1 {
			return "1 question: j", cell.Notice
		}
		return itoa(n) + " questions: j", cell.Notice
	}
	if s.Counter.State != "" && s.Counter.State != "talking" {
		return "counter " + cell.Clean(s.Counter.State), cell.Notice
	}
	return "", cell.Normal
}
