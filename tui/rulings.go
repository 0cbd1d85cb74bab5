package tui

import (
	"lanewright/race"
	"lanewright/tui/cell"
	"lanewright/tui/find"
)

// rulingsScreen lists what the officials ruled, newest first, with the questions that wait.
type rulingsScreen struct {
	r    *Root
	list list
}

func (s *rulingsScreen) enter()          { s.list.at = 0 }
func (s *rulingsScreen) move(key string) { s.list.move(key) }
func (s *rulingsScreen) choose(n int)    { s.list.at = n }

// rows returns the rulings that show, newest first.
func (s *rulingsScreen) rows() []race.RulingRow {
	all := s.r.snap.Rulings
	f := find.Fold(s.r.filter())
	out := make([]race.RulingRow, 0, len(all))
	for i := len(all) - 1; i >= 0; i-- {
		x := &all[i]
		if f == "" || find.Score(find.Fold(x.Driver+" "+x.Text+" "+x.Why+" "+x.By), f) >= 50 {
			out = append(out, *x)
		}
	}
	return out
}

func (s *rulingsScreen) draw(g *cell.Grid, b cell.Box) {
	r := s.r
	if n := len(r.snap.Questions); n > 0 && b.H > 6 {
		var top cell.Box
		top, b = b.Top(min(1+2*min(n, 3), b.H/2))
		r.screens[desk].(*deskScreen).drawQuestions(g, top)
	}
	rows := s.rows()
	b = heading(g, b, "Rulings, newest first"+r.filterNote())
	if len(rows) == 0 {
		g.Put(b.X, b.Y, b.W, cell.Dim, "none yet: a digit chooses a lane, then + - k p f t x")
		return
	}
	s.list.fit(len(rows), b.H)
	for i := 0; i < b.H && s.list.top+i < len(rows); i++ {
		at := s.list.top + i
		x := &rows[at]
		st := cell.Normal
		if x.Undone {
			st = cell.Dim
		}
		if at == s.list.at {
			st = cell.Pick
		}
		y := b.Y + i
		g.Fill(b.Row(i), st)
		g.Put(b.X, y, 8, st, r.moment(x.Wall))
		g.Put(b.X+9, y, 8, st, "heat "+itoa(x.Heat))
		n := r.drawChip(g, b.X+17, y, x.Lane)
		text := cell.Clean(x.Text)
		if x.Driver != "" {
			text = cell.Clean(x.Driver) + ": " + text
		}
		if x.Undone {
			text = "taken back: " + text
		}
		if x.Why != "" {
			text += " (" + cell.Clean(x.Why) + ")"
		}
		if x.By != "" {
			text += ", " + cell.Clean(x.By)
		}
		g.Put(b.X+18+n, y, b.W-18-n, st, text)
		g.Zone(b.Row(i), "row:"+itoa(at))
	}
}

// tapeScreen lists what happened, newest first.
type tapeScreen struct {
	r    *Root
	list list
}

func (s *tapeScreen) enter()          { s.list.at = 0 }
func (s *tapeScreen) move(key string) { s.list.move(key) }

func (s *tapeScreen) draw(g *cell.Grid, b cell.Box) {
	notes := s.r.snap.JustNow
	if f := find.Fold(s.r.filter()); f != "" {
		var keep []race.NoteRow
		for _, n := range notes {
			if find.Score(find.Fold(n.Text), f) >= 50 {
				keep = append(keep, n)
			}
		}
		notes = keep
	}
	b = heading(g, b, "What happened, newest first"+s.r.filterNote())
	if len(notes) == 0 {
		g.Put(b.X, b.Y, b.W, cell.Dim, "nothing yet")
		return
	}
	s.list.n = len(notes)
	s.list.at = max(0, min(s.list.at, len(notes)-1))
	s.r.drawNotes(g, b, notes, s.list.at)
}
