package tui

import (
	tea "charm.land/bubbletea/v2"

	"lanewright/tui/cell"
	"lanewright/tui/speedview"
)

// speedsScreen compares: was the night fair, what does each lane cost, how do drivers go on other layouts. None of it is a result.
type speedsScreen struct {
	r    *Root
	from int // first driver of the lower table
}

func (s *speedsScreen) enter() { s.from = 0 }

func (s *speedsScreen) move(key string) {
	last := 0
	if p := s.r.loaded.speeds; p != nil {
		last = max(len(p.Drivers)-1, 0)
	}
	switch key {
	case "up":
		s.from--
	case "down":
		s.from++
	case "pgup":
		s.from -= 10
	case "pgdown":
		s.from += 10
	case "home":
		s.from = 0
	case "end":
		s.from = last
	}
	s.from = max(0, min(s.from, last))
}

func (s *speedsScreen) draw(g *cell.Grid, b cell.Box) {
	r := s.r
	switch {
	case r.opt.Speeds == nil:
		g.Put(b.X, b.Y, b.W, cell.Dim, "nothing is compared here")
		return
	case r.loaded.speeds == nil:
		g.Put(b.X, b.Y, b.W, cell.Dim, "comparing")
		return
	}
	for i, line := range speedview.View(*r.loaded.speeds, b.W, b.H, speedview.Look{Form: r.form, From: s.from}) {
		if i < b.H {
			g.Put(b.X, b.Y+i, b.W, cell.Normal, line)
		}
	}
}

// loadSpeeds works the page out beside the screens: a long season may take a second.
func (r *Root) loadSpeeds() tea.Cmd {
	source := r.opt.Speeds
	if source == nil {
		return nil
	}
	return safely("the comparison", func() tea.Msg {
		page, err := source.Speeds()
		return arrived{func(r *Root) {
			if err != nil {
				r.say(err.Error(), true)
				return
			}
			r.loaded.speeds = &page
		}}
	})
}
