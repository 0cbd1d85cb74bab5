package tui

import (
	"strings"

	"lanewright/race"
	"lanewright/tui/cell"
	"lanewright/tui/chart"
	"lanewright/tui/figure"
)

// deskScreen is where the race director sits: the heat, the questions, what just happened, what comes next.
type deskScreen struct{ r *Root }

func (*deskScreen) enter()      {}
func (*deskScreen) move(string) {}

func (d *deskScreen) draw(g *cell.Grid, b cell.Box) {
	r := d.r
	if p, why := r.brokenHere(); p != "" {
		g.Put(b.X, b.Y, b.W, cell.Alarm, "the screen "+string(p)+" failed: "+why)
		_, b = b.Top(1)
	}
	if b.W >= 118 && b.H >= 26 {
		var left, right cell.Box
		left, right = b.Left(b.W - 46)
		left.W -= 2
		rest := d.drawLanes(g, left, 3)
		if rest.H >= 7 {
			_, rest = rest.Top(1)
			switch {
			case r.racing():
				d.drawPace(g, rest)
			case r.snap.Phase == race.Over:
				d.drawBests(g, rest)
			case len(r.snap.Last) > 0:
				r.drawStandings(g, rest, "The last heat", r.snap.Last)
			}
		}
		d.drawStack(g, right)
		return
	}
	rest := d.drawLanes(g, b, 2)
	if rest.H >= 3 {
		_, rest = rest.Top(min(1, rest.H-3))
		d.drawPair(g, rest)
	}
}

// brokenHere returns the screen that failed and for which the Desk stands in.
func (r *Root) brokenHere() (place, string) {
	if why := r.broken[r.place]; why != "" && r.place != desk {
		return r.place, why
	}
	return "", ""
}

// columns of the table of lanes, in cells; 0 leaves one out.
type laneColumns struct{ name, laps, last, best, gap, place, median, speed int }

// fitColumns settles which columns there is room for. What drivers ask for first goes last.
func fitColumns(w int, kmh bool) laneColumns {
	c := laneColumns{laps: 6, last: 9}
	rest := w - 5 - 1 - c.laps - c.last
	take := func(to *int, n int, keep int) {
		if rest-n >= keep {
			*to = n
			rest -= n
		}
	}
	take(&c.place, 5, 6)
	take(&c.gap, 9, 8)
	take(&c.best, 9, 8)
	take(&c.median, 9, 26)
	if kmh {
		take(&c.speed, 12, 26)
	}
	c.name = max(0, rest)
	return c
}

// drawLanes draws the heat at the line, up to deep rows a lane, and returns the box below.
func (d *deskScreen) drawLanes(g *cell.Grid, b cell.Box, deep int) cell.Box {
	r := d.r
	rows := r.rows()
	if len(rows) == 0 {
		return d.drawIdle(g, b)
	}
	kmh := false
	for _, row := range rows {
		kmh = kmh || row.KmhScale > 0
	}
	c := fitColumns(b.W, kmh)
	if b.H > len(rows) {
		d.drawLaneHead(g, b.Row(0), c)
		_, b = b.Top(1)
	}
	for deep > 1 && len(rows)*deep+8 > b.H {
		deep--
	}
	for _, row := range rows {
		var band cell.Box
		band, b = b.Top(deep)
		if band.H == 0 {
			break
		}
		d.drawLane(g, band, c, row)
		g.Zone(band, "lane:"+itoa(row.n))
	}
	return b
}

func (d *deskScreen) drawLaneHead(g *cell.Grid, b cell.Box, c laneColumns) {
	x := b.X
	what := "lane"
	if d.r.snap.Digital {
		what = "car"
	}
	g.Put(x, b.Y, 5, cell.Dim, " "+what)
	g.Put(x+6, b.Y, c.name-1, cell.Dim, "driver"+d.lapRange(c.name-7))
	x += 6 + c.name
	for _, col := range []struct {
		w    int
		name string
	}{{c.place, "place"}, {c.laps, "laps"}, {c.last, "last"}, {c.best, "best"}, {c.gap, "gap"}, {c.median, "median"}, {c.speed, "scale speed"}} {
		g.Right(x, b.Y, col.w, cell.Dim, col.name)
		x += col.w
	}
}

// lapRange says in at most w cells how long a lap is on a digital night: cars change lanes, and no sensor tells which way they
// took.
func (d *deskScreen) lapRange(w int) string {
	for _, c := range d.r.snap.Cars {
		if d.r.snap.Digital && c.LengthTo > 0 {
			if c.LengthFrom == c.LengthTo {
				return "   lap " + d.r.form.Metres(c.LengthTo)
			}
			from, to := strings.TrimSuffix(d.r.form.Metres(c.LengthFrom), " m"), strings.TrimSuffix(d.r.form.Metres(c.LengthTo), " m")
			if long := "   lap " + from + " to " + to + " m"; len(long) <= w || len(from) < 4 || len(to) < 4 {
				return long
			}
			return "  lap " + from[:len(from)-2] + " to " + to[:len(to)-2] + " m"
		}
	}
	return ""
}

// drawLane draws one lane: figures in the first row, what stands behind them in the next.
func (d *deskScreen) drawLane(g *cell.Grid, b cell.Box, c laneColumns, row laneView) {
	r := d.r
	y := b.Y
	r.drawChip(g, b.X, y, row.n)
	for i := 1; i < min(b.H, 2); i++ {
		g.Fill(cell.Box{X: b.X, Y: y + i, W: 5, H: 1}, cell.Style{Bg: cell.LaneInk(row.n)})
	}
	if r.lane == row.n {
		g.Put(b.X+5, y, 1, cell.Notice, "◂")
	}
	name, st := r.rowName(row.LaneRow)
	x := b.X + 6
	n := g.Put(x, y, c.name-1, st, name)
	if row.Open > 0 && c.name-n > 3 {
		g.Put(x+n+1, y, c.name-n-2, cell.Notice, "?")
	}
	if row.Driver == 0 && row.Laps == 0 {
		return
	}
	x += c.name
	lapSt := cell.Strong
	if r.lit(row.LastPass) {
		lapSt = cell.Block
	}
	put := func(w int, st cell.Style, text string) {
		if w > 0 {
			g.Right(x, y, w, st, text)
			x += w
		}
	}
	put(c.place, cell.Normal, figurePlace(row.LaneRow))
	part := row.Part
	laps := r.form.Laps(row.Laps, part, row.PartOf)
	put(c.laps, lapSt, laps)
	put(c.last, cell.Normal, r.lastLap(row.LaneRow))
	put(c.best, cell.Normal, r.form.Lap(row.Best, row.Digits))
	put(c.gap, cell.Normal, r.form.Gap(row.Place, row.Behind, row.Gap, row.GapKnown))
	put(c.median, cell.Normal, r.form.Lap(row.Median, row.Digits))
	put(c.speed, cell.Normal, r.form.Speed(row.KmhScale, 0))
	if b.H > 1 {
		d.drawBehind(g, cell.Box{X: b.X + 6, Y: y + 1, W: b.W - 6, H: 1}, c, row)
	}
}

// drawBehind draws the second row of a lane: car, laps as bars, what is not settled.
func (d *deskScreen) drawBehind(g *cell.Grid, b cell.Box, c laneColumns, row laneView) {
	r := d.r
	note := cell.Clean(row.Car)
	st := cell.Dim
	switch {
	case row.Open > 0:
		note, st = "question waits: j", cell.Notice
	case row.Done:
		note, st = "finished", cell.Fine
	case row.Last > 0 && !row.Timed:
		note = "no lap time: the lap crossed a break"
	}
	n := g.Put(b.X, b.Y, max(c.name-1, 12), st, note)
	if r.set.Graph == "none" {
		return
	}
	room := b.W - max(n+1, c.name)
	values := make([]float64, 0, len(row.Recent))
	for _, t := range row.Recent {
		values = append(values, t.Seconds())
	}
	if room >= 8 {
		g.Right(b.X+b.W-room, b.Y, room, cell.Dim, chart.Spark(values, min(room, 40)))
	}
}

// drawIdle draws what stands in the place of a heat when none is at the line.
func (d *deskScreen) drawIdle(g *cell.Grid, b cell.Box) cell.Box {
	r := d.r
	s := r.snap
	if len(s.Entries) == 0 && len(s.Ahead) == 0 {
		b = heading(g, b, "A race night in four steps")
		for i, line := range []string{
			"look at the set-up: layout, counter, length of a heat   g n",
			"sign the drivers on                                     a",
			"enter makes the rotation: who drives which lane when",
			"enter calls a heat to the line; enter starts it; space stops the track",
		} {
			if b.H > 0 {
				g.Put(b.X, b.Y, 2, cell.Head, itoa(i+1))
				g.Put(b.X+3, b.Y, b.W-3, cell.Normal, line)
				_, b = b.Top(1)
			}
		}
		return b
	}
	if s.Phase == race.Over || s.Phase == race.SignOn && len(s.Ahead) == 0 {
		title := "Standings"
		if s.Phase == race.SignOn {
			title = itoa(len(s.Entries)) + " drivers signed on"
		}
		part, rest := b.Top(min(b.H, 2+max(len(s.Standings), len(s.Entries))))
		if s.Phase == race.Over {
			r.drawStandings(g, part, title, s.Standings)
		} else {
			part = heading(g, part, title)
			for _, e := range s.Entries {
				g.Put(part.X, part.Y, part.W, cell.Normal, cell.Clean(e.Name))
				if _, part = part.Top(1); part.H == 0 {
					break
				}
			}
		}
		return rest
	}
	h := r.nextHeat()
	if h == nil {
		return b
	}
	part, rest := b.Top(min(b.H, len(h.Drivers)+2))
	r.drawHeat(g, part, h, "Next on the line: heat "+itoa(h.Heat))
	return rest
}

// drawHeat draws who drives on which lane in a heat, and who marshals.
func (r *Root) drawHeat(g *cell.Grid, b cell.Box, h *race.HeatRow, title string) {
	b = heading(g, b, title)
	for i := range h.Drivers {
		if b.H == 0 {
			return
		}
		r.drawChip(g, b.X, b.Y, i+1)
		name, st := "nobody", cell.Dim
		if h.Drivers[i] != 0 && i < len(h.Names) {
			name, st = cell.Clean(h.Names[i]), cell.Strong
		}
		g.Put(b.X+6, b.Y, b.W-6, st, name)
		_, b = b.Top(1)
	}
	if b.H > 0 && len(h.Marshals) > 0 {
		g.Put(b.X, b.Y, b.W, cell.Dim, "marshals: "+marshalText(h))
	}
}

// marshalText lists the marshals of a heat by post.
func marshalText(h *race.HeatRow) string {
	text := ""
	for i, m := range h.Marshals {
		if m == "" {
			m = "-"
		}
		if i > 0 {
			text += ", "
		}
		text += "post " + itoa(i+1) + " " + cell.Clean(m)
	}
	if text == "" {
		return "-"
	}
	return text
}

// drawPair draws two panels side by side below the lanes, or one if there is no room for two.
func (d *deskScreen) drawPair(g *cell.Grid, b cell.Box) {
	r := d.r
	first, second := d.drawJustNow, d.drawAhead
	if len(r.snap.Questions) > 0 && r.quest == 0 {
		first, second = d.drawQuestions, d.drawJustNow
	} else if r.practice() {
		second = d.drawBests
	} else if len(r.snap.Ahead) == 0 {
		second = d.drawCounters
	} else if !r.racing() && r.heatsRun() == 0 {
		second = d.drawFair
	} else if !r.racing() && r.snap.Phase != race.Over {
		second = func(g *cell.Grid, b cell.Box) { r.drawStandings(g, b, "Standings so far", r.snap.Standings) }
	} else if r.snap.Phase == race.Over {
		second = d.drawBests
	}
	if b.W < 70 {
		first(g, b)
		return
	}
	left, right := b.Left(b.W / 2)
	left.W--
	first(g, left)
	second(g, right)
}

// drawStack draws panels one below the other, the most wanted first; what has no room is left out whole.
func (d *deskScreen) drawStack(g *cell.Grid, b cell.Box) {
	r := d.r
	s := r.snap
	type part struct {
		rows int
		draw func(*cell.Grid, cell.Box)
	}
	var parts []part
	if len(s.Questions) > 0 {
		parts = append(parts, part{1 + 2*min(len(s.Questions), 4), d.drawQuestions})
	}
	ahead := 1
	if h := r.nextHeat(); h != nil {
		ahead = 2 + len(h.Drivers)
	}
	if r.practice() {
		parts = append(parts, part{1 + max(1, min(8, len(s.Bests))), d.drawBests})
	}
	parts = append(parts, part{max(6, min(10, b.H/4)), d.drawJustNow})
	switch {
	case len(s.Ahead) == 0:
		parts = append(parts, part{1 + 2*max(1, len(s.Counters)), d.drawCounters})
	case r.racing() && !r.practice():
		parts = append(parts, part{ahead, d.drawAhead})
	case r.heatsRun() == 0:
		parts = append(parts, part{2 + len(s.Draw.Lines), d.drawFair})
	}
	if r.heatsRun() > 0 && r.snap.Phase != race.Over {
		parts = append(parts, part{2 + min(len(s.Standings), 12), func(g *cell.Grid, b cell.Box) { r.drawStandings(g, b, "Standings so far", s.Standings) }})
	}
	for _, p := range parts {
		if b.H < min(p.rows, 4) {
			return
		}
		var box cell.Box
		box, b = b.Top(p.rows)
		p.draw(g, box)
		_, b = b.Top(1)
	}
}

func (d *deskScreen) drawQuestions(g *cell.Grid, b cell.Box) {
	s := d.r.snap
	b = heading(g, b, "Questions  j answers")
	for i := len(s.Questions) - 1; i >= 0 && b.H > 0; i-- {
		q := &s.Questions[i]
		n := d.r.drawChip(g, b.X, b.Y, q.Lane)
		g.Put(b.X+n+1, b.Y, b.W-n-1, cell.Notice, cell.Clean(q.Text))
		if b.H > 1 {
			g.Put(b.X+n+1, b.Y+1, b.W-n-1, cell.Dim, cell.Clean(q.Proposal)+"?")
		}
		top, rest := b.Top(2)
		g.Zone(top, "quest:"+utoa(q.ID))
		b = rest
	}
}

func (d *deskScreen) drawJustNow(g *cell.Grid, b cell.Box) {
	s := d.r.snap
	b = heading(g, b, "Just now")
	d.r.drawNotes(g, b, s.JustNow, 0)
}

// drawNotes draws the last notes that fit, newest first, skipping so many.
func (r *Root) drawNotes(g *cell.Grid, b cell.Box, notes []race.NoteRow, skip int) {
	for i := len(notes) - 1 - skip; i >= 0 && b.H > 0; i-- {
		n := g.Put(b.X, b.Y, b.W, cell.Dim, r.moment(notes[i].Wall))
		st := cell.Normal
		if notes[i].Bad {
			st = cell.Notice
			n += 1 + g.Put(b.X+n+1, b.Y, b.W-n-1, st, "!")
		}
		g.Put(b.X+n+1, b.Y, b.W-n-1, st, cell.Clean(notes[i].Text))
		_, b = b.Top(1)
	}
}

func (d *deskScreen) drawAhead(g *cell.Grid, b cell.Box) {
	if h := d.r.heatAtLine(); h != nil && d.r.snap.Phase == race.Staged && len(h.Marshals) > 0 {
		b = heading(g, b, "Marshals of heat "+itoa(h.Heat))
		for i, m := range h.Marshals {
			g.Put(b.X, b.Y, 7, cell.Dim, "post "+itoa(i+1))
			g.Put(b.X+8, b.Y, b.W-8, cell.Strong, orDash(cell.Clean(m)))
			if _, b = b.Top(1); b.H == 0 {
				return
			}
		}
		return
	}
	h := d.r.nextHeat()
	if h == nil {
		b = heading(g, b, "On the line next")
		g.Put(b.X, b.Y, b.W, cell.Dim, "no further heat")
		return
	}
	d.r.drawHeat(g, b, h, "On the line next: heat "+itoa(h.Heat))
}

// drawFair says how fair the rotation is, before its first heat.
func (d *deskScreen) drawFair(g *cell.Grid, b cell.Box) {
	s := d.r.snap
	b = heading(g, b, "How fair the rotation is")
	for _, l := range append([]string{s.Draw.Proof}, s.Draw.Lines...) {
		if l != "" && b.H > 0 {
			g.Put(b.X, b.Y, b.W, cell.Normal, explain(l, b.W))
			_, b = b.Top(1)
		}
	}
}

// drawCounters says how the counters are doing, while there is nothing else to say.
func (d *deskScreen) drawCounters(g *cell.Grid, b cell.Box) {
	s := d.r.snap
	all := s.Counters
	if len(all) == 0 && s.Counter.State != "" {
		all = []race.CounterState{s.Counter}
	}
	b = heading(g, b, "Counter")
	if len(all) == 0 {
		g.Put(b.X, b.Y, b.W, cell.Dim, "none yet")
	}
	for _, c := range all {
		st := cell.Normal
		if c.State != "talking" {
			st = cell.Notice
		}
		g.Put(b.X, b.Y, b.W, st, counterName(c)+" is "+orDash(cell.Clean(c.State)))
		text := figure.Count(c.Passes, "pass")
		if c.Passes != 1 {
			text = itoa(c.Passes) + " passes"
		}
		text += ", " + figure.Count(c.Damaged, "damaged line") + ", " + itoa(c.Missing) + " missing"
		if c.Note != "" {
			text = cell.Clean(c.Note) + ", " + text
		}
		if b.H > 1 {
			g.Put(b.X, b.Y+1, b.W, cell.Dim, text)
		}
		if _, b = b.Top(2); b.H == 0 {
			return
		}
	}
}

func (d *deskScreen) drawBests(g *cell.Grid, b cell.Box) {
	r := d.r
	b = heading(g, b, "Best laps")
	for _, best := range r.snap.Bests {
		if b.H == 0 {
			return
		}
		n := r.drawChip(g, b.X, b.Y, best.Lane)
		g.Right(b.X+b.W-9, b.Y, 9, cell.Normal, r.form.Lap(best.Best, 3))
		g.Put(b.X+n+1, b.Y, b.W-n-11, cell.Strong, orDash(cell.Clean(best.Name)))
		_, b = b.Top(1)
	}
}

// drawStandings draws results in short: place, driver, laps, best lap.
func (r *Root) drawStandings(g *cell.Grid, b cell.Box, title string, rows []race.ResultRow) {
	b = heading(g, b, title)
	for _, row := range rows {
		if b.H == 0 {
			return
		}
		g.Put(b.X, b.Y, 4, cell.Head, placeOf(row))
		g.Right(b.X+b.W-9, b.Y, 9, cell.Dim, r.form.Lap(row.Best, 3))
		g.Right(b.X+b.W-19, b.Y, 9, cell.Strong, r.form.Laps(row.Laps, row.Part, row.PartOf))
		g.Put(b.X+5, b.Y, b.W-25, cell.Normal, cell.Clean(row.Name))
		_, b = b.Top(1)
	}
}
