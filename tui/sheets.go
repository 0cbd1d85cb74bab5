package tui

import (
	"sort"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
	"lanewright/tui/cell"
	"lanewright/tui/figure"
)

// sheetsScreen shows results: of a heat, of the night, of each class, the best laps, and the papers that can be made. Every
// number unfolds to its laps.
type sheetsScreen struct {
	r    *Root
	tab  int
	list list
	heat int    // heat whose results are shown, 0 the last
	open [2]int // heat and driver whose laps are unfolded; driver 0: none
	laps list
}

func newSheets(r *Root) *sheetsScreen { return &sheetsScreen{r: r} }

func (s *sheetsScreen) enter()       { s.open = [2]int{} }
func (s *sheetsScreen) choose(n int) { s.list.at = n }

// The kinds of parts of the Sheets.
const (
	partHeat = iota
	partNight
	partClass
	partBests
	partTable
	partPapers
)

// sheetPart is one part of the Sheets; at is the place of a table among its like.
type sheetPart struct {
	kind int
	name string
	at   int
}

// parts returns the parts there are now, in order.
func (s *sheetsScreen) parts() []sheetPart {
	out := []sheetPart{{kind: partHeat, name: "heat"}, {kind: partNight, name: "night"}}
	for _, c := range s.classes() {
		out = append(out, sheetPart{kind: partClass, name: c})
	}
	out = append(out, sheetPart{kind: partBests, name: "best laps"})
	for i, t := range s.r.loaded.tables {
		out = append(out, sheetPart{partTable, t.Name, i})
	}
	if len(s.r.loaded.papers) > 0 {
		out = append(out, sheetPart{kind: partPapers, name: "papers"})
	}
	return out
}

func (s *sheetsScreen) classes() []string {
	var out []string
	for c := range s.r.loaded.classes {
		out = append(out, c)
	}
	sort.Strings(out)
	return out
}

// part returns the part in front.
func (s *sheetsScreen) part() sheetPart {
	p := s.parts()
	s.tab = (s.tab%len(p) + len(p)) % len(p)
	return p[s.tab]
}

// rows returns the results in front.
func (s *sheetsScreen) rows() []race.ResultRow {
	r := s.r
	switch part := s.part(); part.kind {
	case partHeat:
		if s.heat != 0 {
			return r.loaded.heat[s.heat]
		}
		return r.snap.Last
	case partNight:
		return r.snap.Standings
	case partClass:
		return r.loaded.classes[part.name]
	}
	return nil
}

// drawTable draws a table as it is, each column as wide as it needs; columns that have no room are left out whole.
func (s *sheetsScreen) drawTable(g *cell.Grid, b cell.Box, t *Table) {
	b = heading(g, b, cell.Clean(t.Name))
	if len(t.Rows) == 0 {
		g.Put(b.X, b.Y, b.W, cell.Dim, "nothing yet")
		return
	}
	wide := make([]int, len(t.Head))
	for _, row := range append([][]string{t.Head}, t.Rows...) {
		for c := range wide {
			if c < len(row) {
				wide[c] = max(wide[c], min(cell.Width(cell.Clean(row[c])), longest))
			}
		}
	}
	put := func(y int, row []string, st cell.Style) {
		x := b.X
		for c, w := range wide {
			if x+w > b.X+b.W && c > 0 {
				return
			}
			text := "-"
			if c < len(row) && row[c] != "" {
				text = cell.Clean(row[c])
			}
			if c < len(t.Right) && t.Right[c] {
				g.Right(x, y, w, st, text)
			} else {
				g.Put(x, y, w, st, text)
			}
			x += w + 2
		}
	}
	put(b.Y, t.Head, cell.Dim)
	_, b = b.Top(1)
	s.list.fit(len(t.Rows), b.H)
	for i := 0; i < b.H && s.list.top+i < len(t.Rows); i++ {
		at := s.list.top + i
		st := cell.Normal
		if at == s.list.at {
			st = cell.Pick
		}
		g.Fill(b.Row(i), st)
		put(b.Y+i, t.Rows[at], st)
		g.Zone(b.Row(i), "row:"+itoa(at))
	}
}

// paper returns the chosen paper, nil if none is in front.
func (s *sheetsScreen) paper() *Sheet {
	p := s.r.loaded.papers
	if s.part().kind != partPapers || len(p) == 0 {
		return nil
	}
	return &p[max(0, min(s.list.at, len(p)-1))]
}

// make makes the chosen paper.
func (s *sheetsScreen) make() tea.Cmd {
	p, id := s.r.opt.Sheets, s.paper().ID
	return safely("the paper", func() tea.Msg {
		where, err := p.Make(id)
		return arrived{func(r *Root) {
			if err != nil {
				r.say(err.Error(), true)
				return
			}
			r.say("made: "+where, false)
		}}
	})
}

// heatShown returns the number of the heat whose results are shown.
func (s *sheetsScreen) heatShown() int {
	if s.heat != 0 {
		return s.heat
	}
	for i := len(s.r.snap.Ahead) - 1; i >= 0; i-- {
		if s.r.snap.Ahead[i].State == "run" {
			return s.r.snap.Ahead[i].Heat
		}
	}
	return s.r.snap.Heat
}

func (s *sheetsScreen) move(key string) {
	if s.open[1] != 0 {
		switch key {
		case "left":
			s.open = [2]int{}
		default:
			s.laps.move(key)
		}
		return
	}
	switch key {
	case "tab":
		s.tab++
		s.list = list{}
	case "shift+tab":
		s.tab--
		s.list = list{}
	case "left":
		s.step(-1)
	case "right":
		s.unfold()
	default:
		s.list.move(key)
	}
}

// step shows the results of the heat before or after.
func (s *sheetsScreen) step(by int) {
	if s.part().kind != partHeat || s.r.opt.Unfold == nil {
		return
	}
	n := s.heatShown() + by
	if n < 1 {
		n = 0
	}
	s.heat = n
	if s.heat != 0 {
		s.r.pending = append(s.r.pending, s.r.loadHeat(s.heat))
	}
}

// unfold opens the laps behind the chosen row.
func (s *sheetsScreen) unfold() {
	rows := s.rows()
	if len(rows) == 0 || s.r.opt.Unfold == nil {
		return
	}
	row := rows[max(0, min(s.list.at, len(rows)-1))]
	heat := 0
	if s.part().kind == partHeat {
		heat = s.heatShown()
	}
	s.open = [2]int{heat, row.Driver}
	s.laps = list{}
	s.r.loaded.laps = nil
	s.r.pending = append(s.r.pending, s.r.loadLaps(heat, row.Driver))
}

func (s *sheetsScreen) draw(g *cell.Grid, b cell.Box) {
	top, rest := b.Top(1)
	part := s.part()
	x := top.X
	for i, t := range s.parts() {
		st := cell.Dim
		if i == s.tab {
			st = cell.Pick
		}
		n := g.Put(x, top.Y, top.W-(x-top.X), st, " "+cell.Clean(t.name)+" ")
		g.Zone(cell.Box{X: x, Y: top.Y, W: n, H: 1}, "tab:"+itoa(i))
		x += n + 1
	}
	if rest.H > 6 {
		_, rest = rest.Top(1)
	}
	switch {
	case s.open[1] != 0:
		s.drawLaps(g, rest)
	case part.kind == partBests:
		s.drawBests(g, rest)
	case part.kind == partPapers:
		s.drawPapers(g, rest)
	case part.kind == partTable:
		s.drawTable(g, rest, &s.r.loaded.tables[part.at])
	default:
		s.drawRows(g, rest, part)
	}
}

// drawRows draws results: place, driver, laps, and what stands behind the place.
func (s *sheetsScreen) drawRows(g *cell.Grid, b cell.Box, part sheetPart) {
	r := s.r
	title := "Standings of the night"
	switch part.kind {
	case partHeat:
		title = "Results of heat " + itoa(s.heatShown())
		if r.opt.Unfold != nil {
			title += "   ← heat before"
		}
	case partClass:
		title = "Class " + cell.Clean(part.name)
	}
	if r.opt.Unfold != nil {
		title += "   → laps"
	}
	b = heading(g, b, title)
	rows := s.rows()
	if len(rows) == 0 {
		g.Put(b.X, b.Y, b.W, cell.Dim, "no results yet")
		return
	}
	lanes := 0
	if part.kind != partHeat && b.W >= 100 {
		for _, row := range rows {
			lanes = max(lanes, len(row.ByLane))
		}
	}
	head, b := b.Top(1)
	s.drawRow(g, head, lanes, nil, cell.Dim)
	s.list.fit(len(rows), b.H)
	for i := 0; i < b.H && s.list.top+i < len(rows); i++ {
		at := s.list.top + i
		st := cell.Normal
		if at == s.list.at {
			st = cell.Pick
		}
		g.Fill(b.Row(i), st)
		s.drawRow(g, b.Row(i), lanes, &rows[at], st)
		g.Zone(b.Row(i), "row:"+itoa(at))
	}
}

// drawRow draws one row, or the heads of the columns if row is nil.
func (s *sheetsScreen) drawRow(g *cell.Grid, b cell.Box, lanes int, row *race.ResultRow, st cell.Style) {
	f := s.r.form
	place, name, laps, best, gap, points := "place", "driver", "laps", "best", "behind", "points"
	why := "why"
	if row != nil {
		place, name, laps, best = placeOf(*row), cell.Clean(row.Name), f.Laps(row.Laps, row.Part, row.PartOf), f.Lap(row.Best, 3)
		gap, points, why = orDash(cell.Clean(row.Gap)), orDash(cell.Clean(row.Points)), cell.Clean(row.Reason)
		if row.Penalty > 0 {
			why = figure.Count(row.Penalty, "lap") + " penalty  " + why
		}
	}
	g.Put(b.X, b.Y, 5, st, place)
	rest := b.W - 6 - 9
	w := map[string]int{}
	for _, c := range []struct {
		name string
		n    int
	}{{"best", 9}, {"gap", 10}, {"points", 8}} {
		if rest-c.n >= 18 {
			w[c.name] = c.n
			rest -= c.n
		}
	}
	lw := 0
	if lanes > 0 && rest-6*lanes >= 34 {
		lw = 6
		rest -= lw * lanes
	}
	nameW := min(rest, max(18, rest/2))
	g.Put(b.X+6, b.Y, nameW-1, st, name)
	x := b.X + 6 + nameW
	g.Right(x, b.Y, 9, st, laps)
	x += 9
	g.Right(x, b.Y, w["best"], st, best)
	x += w["best"]
	g.Right(x, b.Y, w["gap"], st, gap)
	x += w["gap"]
	g.Right(x, b.Y, w["points"], st, points)
	x += w["points"]
	for l := range lanes * min(lw, 1) {
		text := s.r.laneMark(l + 1)
		if row != nil {
			text = "-"
			if l < len(row.ByLane) && row.ByLane[l] >= 0 {
				text = itoa(row.ByLane[l])
			}
		}
		g.Right(x, b.Y, lw, st, text)
		x += lw
	}
	g.Put(x+2, b.Y, b.X+b.W-x-2, st, why)
}

// drawLaps draws the laps behind a number.
func (s *sheetsScreen) drawLaps(g *cell.Grid, b cell.Box) {
	r := s.r
	title := "Laps of " + r.driverName(s.open[1])
	if s.open[0] != 0 {
		title += " in heat " + itoa(s.open[0])
	}
	b = heading(g, b, title+"   ← back")
	laps := r.loaded.laps
	if r.loaded.lapsFor != s.open || laps == nil {
		g.Put(b.X, b.Y, b.W, cell.Dim, "fetching the laps")
		return
	}
	s.laps.fit(len(laps), b.H)
	for i := 0; i < b.H && s.laps.top+i < len(laps); i++ {
		l := laps[s.laps.top+i]
		st := cell.Normal
		number := itoa(l.Number)
		if l.Number == 0 {
			st, number = cell.Dim, "-"
		}
		y := b.Y + i
		n := r.drawChip(g, b.X, y, l.Lane)
		g.Put(b.X+n+1, y, 8, st, "heat "+itoa(l.Heat))
		g.Right(b.X+n+9, y, 5, st, number)
		g.Right(b.X+n+14, y, 10, st, r.form.Lap(l.Time, 3))
		g.Right(b.X+n+24, y, 9, cell.Dim, r.form.Clock(l.At))
		g.Put(b.X+n+35, y, b.W-n-35, cell.Notice, cell.Clean(l.Note))
	}
}

func (s *sheetsScreen) drawBests(g *cell.Grid, b cell.Box) {
	r := s.r
	b = heading(g, b, "Best laps")
	if len(r.snap.Bests) == 0 {
		g.Put(b.X, b.Y, b.W, cell.Dim, "no laps yet")
		return
	}
	s.list.fit(len(r.snap.Bests), b.H)
	for i := 0; i < b.H && s.list.top+i < len(r.snap.Bests); i++ {
		best := r.snap.Bests[s.list.top+i]
		y := b.Y + i
		n := r.drawChip(g, b.X, y, best.Lane)
		g.Right(b.X+n+1, y, 9, cell.Strong, r.form.Lap(best.Best, 3))
		g.Put(b.X+n+12, y, 26, cell.Normal, orDash(cell.Clean(best.Name)))
		g.Put(b.X+n+39, y, 10, cell.Dim, figure.Count(best.Laps, "lap"))
		g.Put(b.X+n+50, y, b.W-n-50, cell.Dim, r.form.Speed(best.Kmh, r.snap.Scale))
	}
}

func (s *sheetsScreen) drawPapers(g *cell.Grid, b cell.Box) {
	papers := s.r.loaded.papers
	b = heading(g, b, "Papers and files   b makes the chosen one")
	s.list.fit(len(papers), b.H)
	for i := 0; i < b.H && s.list.top+i < len(papers); i++ {
		at := s.list.top + i
		st := cell.Normal
		if at == s.list.at {
			st = cell.Pick
		}
		g.Fill(b.Row(i), st)
		g.Put(b.X+1, b.Y+i, b.W-1, st, cell.Clean(papers[at].Name))
		g.Zone(b.Row(i), "row:"+itoa(at))
	}
}
