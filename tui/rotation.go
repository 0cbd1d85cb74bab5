package tui

import (
	"cmp"
	"slices"
	"strings"

	"lanewright/race"
	"lanewright/tui/cell"
	"lanewright/tui/find"
)

// rotationScreen shows the heats: who is on which lane, who marshals, how fair it is, and a new rotation being tried.
type rotationScreen struct {
	r    *Root
	list list
	lane int  // of the chosen driver in the chosen heat, counted from 0
	one  bool // a driver was chosen last, not a heat: a small window shows his night
}

// enter chooses the heat at the line, or the next.
func (s *rotationScreen) enter() {
	for i, h := range s.r.snap.Ahead {
		if h.State == "at the line" || h.State == "ahead" {
			s.list.at = i
			return
		}
	}
}

func (s *rotationScreen) move(key string) {
	s.one = key == "left" || key == "right"
	switch key {
	case "left":
		s.lane = max(0, s.lane-1)
	case "right":
		s.lane++
	default:
		s.list.move(key)
	}
}
func (s *rotationScreen) choose(n int) { s.list.at = n }

// heats returns those that show: of the rotation being tried if there is one, by the filter.
func (s *rotationScreen) heats() []race.HeatRow {
	all := s.r.snap.Ahead
	if d := s.r.redraw; d != nil && d.best != nil {
		all = d.best.Heats
	}
	f := s.r.filter()
	if f == "" {
		return all
	}
	texts := make([]string, len(all))
	for i, h := range all {
		texts[i] = strings.Join(h.Names, " ") + " " + strings.Join(h.Marshals, " ")
	}
	var out []race.HeatRow
	keep := map[int]bool{}
	for _, i := range find.Among(texts, f) {
		keep[i] = true
	}
	for i, h := range all { // in their own order
		if keep[i] {
			out = append(out, h)
		}
	}
	return out
}

// chosen returns the chosen heat if it is still to be driven.
func (s *rotationScreen) chosen() *race.HeatRow {
	all := s.heats()
	if s.list.at < 0 || s.list.at >= len(all) || all[s.list.at].State != "ahead" || s.r.redraw != nil {
		return nil
	}
	return &all[s.list.at]
}

func (s *rotationScreen) draw(g *cell.Grid, b cell.Box) {
	r := s.r
	heats := s.heats()
	lines := r.snap.Draw.Lines
	title := "Heats"
	if r.snap.Draw.Kind != "" {
		title = "Heats, " + cell.Clean(r.snap.Draw.Kind) + " rotation"
	}
	if d := r.redraw; d != nil {
		title, lines = d.title(), nil
		if d.best != nil {
			lines = d.best.Lines
		}
	}
	if len(heats) == 0 {
		b = heading(g, b, title+r.filterNote())
		g.Put(b.X, b.Y, b.W, cell.Dim, "no rotation yet: sign drivers on, then enter makes it")
		return
	}
	side := cell.Box{}
	if b.W >= 110 {
		b, side = cell.Box{X: b.X, Y: b.Y, W: b.W - 42, H: b.H}, cell.Box{X: b.X + b.W - 40, Y: b.Y, W: 40, H: b.H}
	} else if n := max(min(len(lines), 5), 3); b.H > n+len(heats)/2+6 {
		b, side = b.Bottom(n + 1)
	}
	s.drawHeats(g, b, title+r.filterNote(), heats)
	s.drawSide(g, side, lines, heats)
}

// title says how far the search for a rotation is.
func (d *redraw) title() string {
	switch {
	case d.best == nil:
		return "New rotation: looking for a fair one"
	case d.best.Proved:
		return "New rotation: no fairer one exists"
	case d.done:
		return "New rotation: the fairest found"
	case d.best.Of > 0:
		return "New rotation: the fairest so far, " + itoa(d.best.Done*100/d.best.Of) + " % searched"
	}
	return "New rotation: the fairest so far"
}

// drawHeats draws a row a heat: number, the drivers by lane, the marshals.
func (s *rotationScreen) drawHeats(g *cell.Grid, b cell.Box, title string, heats []race.HeatRow) {
	r := s.r
	b = heading(g, b, title)
	lanes := 0
	for _, h := range heats {
		lanes = max(lanes, len(h.Drivers))
	}
	s.lane = max(0, min(s.lane, lanes-1))
	if lanes == 0 || b.H < 1 {
		return
	}
	marshalW := 0
	if b.W >= 64 {
		marshalW = min(30, b.W/4)
	}
	const first = 7
	w := max(4, (b.W-first-marshalW)/lanes)
	head, b := b.Top(1)
	g.Put(head.X, head.Y, first, cell.Dim, "  heat")
	for i := range lanes {
		r.drawChip(g, head.X+first+i*w, head.Y, i+1)
	}
	if marshalW > 0 {
		g.Put(head.X+b.W-marshalW+1, head.Y, marshalW-1, cell.Dim, "marshals")
	}
	s.list.fit(len(heats), b.H)
	for i := 0; i < b.H && s.list.top+i < len(heats); i++ {
		at := s.list.top + i
		h := &heats[at]
		y := b.Y + i
		st := cell.Normal
		mark := " "
		switch h.State {
		case "run":
			st, mark = cell.Dim, "✓"
		case "void":
			st, mark = cell.Dim, "x"
		case "at the line":
			st, mark = cell.Strong, "▸"
		}
		if at == s.list.at {
			st = cell.Pick
		}
		g.Fill(b.Row(i), st)
		g.Put(b.X, y, 1, st, mark)
		g.Right(b.X+1, y, 4, st, itoa(h.Heat))
		for l := range h.Drivers {
			name := "-"
			if h.Drivers[l] != 0 && l < len(h.Names) {
				name = cell.Clean(h.Names[l])
			}
			one := st
			if at == s.list.at && l == s.lane {
				one.Attr |= cell.Under | cell.Bold
			}
			g.Put(b.X+first+l*w, y, w-1, one, name)
		}
		if marshalW > 0 {
			g.Put(b.X+b.W-marshalW+1, y, marshalW-1, st, cell.Clean(strings.Join(h.Marshals, ", ")))
		}
		g.Zone(b.Row(i), "row:"+itoa(at))
	}
}

// drawSide draws how fair the rotation is, and the chosen heat in full.
func (s *rotationScreen) drawSide(g *cell.Grid, b cell.Box, lines []string, heats []race.HeatRow) {
	if b.H == 0 {
		return
	}
	d := &s.r.snap.Draw
	if s.one && b.W < 110 && b.W > 45 && s.list.at < len(heats) {
		if h := &heats[s.list.at]; s.lane < len(h.Drivers) && s.lane < len(h.Names) && h.Drivers[s.lane] != 0 {
			s.drawDriver(g, b, h.Names[s.lane], heats)
			return
		}
	}
	in := heading(g, b, "How fair it is")
	if s.r.redraw == nil && d.Stale {
		g.Put(in.X, in.Y, in.W, cell.Notice, "drivers or lanes have changed: R makes a new one")
		_, in = in.Top(1)
	}
	if s.r.redraw == nil && d.Proof != "" {
		g.Put(in.X, in.Y, in.W, cell.Normal, explain(d.Proof, in.W))
		_, in = in.Top(1)
	}
	for _, l := range lines {
		g.Put(in.X, in.Y, in.W, cell.Normal, explain(l, in.W))
		if _, in = in.Top(1); in.H == 0 {
			return
		}
	}
	if s.list.at < len(heats) && in.H > 4 {
		_, in = in.Top(1)
		h := &heats[s.list.at]
		part, rest := in.Top(min(in.H, len(h.Drivers)+3))
		s.r.drawHeat(g, part, h, "Heat "+itoa(h.Heat))
		if s.lane < len(h.Drivers) && s.lane < len(h.Names) && h.Drivers[s.lane] != 0 && rest.H > 3 {
			s.drawDriver(g, rest, h.Names[s.lane], heats)
		}
	}
}

// explain returns a line without what stands in brackets if it does not fit with it.
func explain(line string, w int) string {
	line = cell.Clean(line)
	if at := strings.Index(line, " ("); at > 0 && cell.Width(line) > w {
		return line[:at]
	}
	return line
}

// drawDriver draws the night of one driver: when and on which lane, whom he meets how often, when he marshals.
func (s *rotationScreen) drawDriver(g *cell.Grid, b cell.Box, name string, heats []race.HeatRow) {
	b = heading(g, b, cell.Clean(name)+" tonight  ← →")
	meets := map[string]int{}
	duty := ""
	x := b.X
	for i := range heats {
		h := &heats[i]
		for p, m := range h.Marshals {
			if m == name {
				duty += ", heat " + itoa(h.Heat) + " post " + itoa(p+1)
			}
		}
		at := slices.Index(h.Names, name)
		if at < 0 || b.H == 0 {
			continue
		}
		for l, other := range h.Names {
			if l != at && other != "" {
				meets[other]++
			}
		}
		text := "heat " + itoa(h.Heat) + " on " + s.r.laneMark(at+1)
		if x > b.X && x+cell.Width(text) > b.X+b.W {
			_, b = b.Top(1)
			x = b.X
		}
		x += g.Put(x, b.Y, b.X+b.W-x, cell.Normal, text) + 3
	}
	_, b = b.Top(1)
	names := make([]string, 0, len(meets))
	for n := range meets {
		names = append(names, n)
	}
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(meets[b]-meets[a], strings.Compare(a, b)) })
	for i, n := range names {
		names[i] = cell.Clean(n) + " " + itoa(meets[n])
	}
	if b.H > 0 {
		g.Put(b.X, b.Y, b.W, cell.Dim, "meets "+orDash(strings.Join(names, ", ")))
	}
	if b.H > 1 {
		g.Put(b.X, b.Y+1, b.W, cell.Dim, "marshals "+orDash(strings.TrimPrefix(duty, ", ")))
	}
}
