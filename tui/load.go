package tui

import (
	"context"
	"time"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
	"lanewright/tui/speedview"
)

var zeroTime time.Time

// loaded is what was fetched off the event loop.
type loaded struct {
	known     []Known
	lastNight []Known
	picture   []string
	picW      int
	picH      int
	fields    []Field
	papers    []Sheet
	tables    []Table
	classes   map[string][]race.ResultRow
	heat      map[int][]race.ResultRow
	laps      []Lap
	lapsFor   [2]int // heat, driver
	speeds    *speedview.Page
}

// load fetches what a place shows.
func (r *Root) load(p place) tea.Cmd {
	switch p {
	case signOn:
		return r.loadKnown()
	case plan:
		return r.loadPicture()
	case setUp:
		return r.loadFields()
	case sheets:
		return r.loadSheets()
	case speeds:
		return r.loadSpeeds()
	}
	return nil
}

func (r *Root) loadKnown() tea.Cmd {
	reg := r.opt.Register
	if reg == nil {
		return nil
	}
	return safely("the register", func() tea.Msg {
		known, err := reg.Known()
		last, err2 := reg.LastNight()
		if err == nil {
			err = err2
		}
		return arrived{func(r *Root) {
			r.loaded.known, r.loaded.lastNight = known, last
			if err != nil {
				r.say(err.Error(), true)
			}
		}}
	})
}

// loadPicture fetches the picture of the layout for the room that the Plan has.
func (r *Root) loadPicture() tea.Cmd {
	draw := r.opt.Picture
	if draw == nil || r.place != plan {
		return nil
	}
	w, h := pictureSize(r.w, r.h)
	return safely("the picture of the layout", func() tea.Msg {
		pic := draw(w, h)
		return arrived{func(r *Root) { r.loaded.picture, r.loaded.picW, r.loaded.picH = pic, w, h }}
	})
}

func (r *Root) loadFields() tea.Cmd {
	s := r.opt.SetUp
	if s == nil {
		return nil
	}
	return safely("the set-up", func() tea.Msg {
		fields, err := s.Fields()
		return arrived{func(r *Root) {
			if err != nil {
				r.say(err.Error(), true)
				return
			}
			r.loaded.fields = fields
		}}
	})
}

func (r *Root) loadSheets() tea.Cmd {
	papers, unfold, more := r.opt.Sheets, r.opt.Unfold, r.opt.Tables
	return safely("the results", func() tea.Msg {
		var list []Sheet
		var classes map[string][]race.ResultRow
		var err error
		if papers != nil {
			list = papers.Sheets()
		}
		if unfold != nil {
			classes, err = unfold.Classes()
		}
		var tables []Table
		if more != nil {
			var err2 error
			if tables, err2 = more(); err == nil {
				err = err2
			}
		}
		return arrived{func(r *Root) {
			r.loaded.papers, r.loaded.classes, r.loaded.tables = list, classes, tables
			if err != nil {
				r.say(err.Error(), true)
			}
		}}
	})
}

// loadHeat fetches the results of a heat that is not the last.
func (r *Root) loadHeat(heat int) tea.Cmd {
	u := r.opt.Unfold
	if u == nil {
		return nil
	}
	return safely("the results of heat "+itoa(heat), func() tea.Msg {
		rows, err := u.Heat(heat)
		return arrived{func(r *Root) {
			if err != nil {
				r.say(err.Error(), true)
				return
			}
			if r.loaded.heat == nil {
				r.loaded.heat = map[int][]race.ResultRow{}
			}
			r.loaded.heat[heat] = rows
		}}
	})
}

// loadLaps fetches the laps behind a number.
func (r *Root) loadLaps(heat, driver int) tea.Cmd {
	u := r.opt.Unfold
	if u == nil {
		return nil
	}
	return safely("the laps", func() tea.Msg {
		laps, err := u.Laps(heat, driver)
		return arrived{func(r *Root) {
			if err != nil {
				r.say(err.Error(), true)
				return
			}
			r.loaded.laps, r.loaded.lapsFor = laps, [2]int{heat, driver}
		}}
	})
}

// redraw is a rotation being tried.
type redraw struct {
	stop context.CancelFunc
	news chan DrawPreview
	best *DrawPreview
	done bool
	err  error
}

// startRedraw looks for a new rotation of the heats ahead. Without a previewer it is made at once.
func (r *Root) startRedraw() tea.Cmd {
	want := race.MakeDraw{Kind: r.screens[setUp].(*setUpScreen).kind, Rounds: 1, Seed: r.snap.Draw.Seed}
	if want.Kind == "" {
		want.Kind = r.snap.Draw.Kind
	}
	if want.Kind == "" {
		want.Kind = "balanced"
	}
	p := r.opt.Preview
	if p == nil {
		r.shown("the heats ahead are drawn anew ("+want.Kind+")", func() tea.Cmd { return r.do(want) })
		return nil
	}
	r.dropRedraw()
	ctx, stop := context.WithCancel(r.ctx)
	d := &redraw{stop: stop, news: make(chan DrawPreview, 1)}
	r.redraw = d
	push := func(n DrawPreview) { // the newest wins; nothing waits for the screen
		for {
			select {
			case d.news <- n:
				return
			default:
			}
			select {
			case <-d.news:
			default:
			}
		}
	}
	work := safely("the rotation", func() tea.Msg {
		got, err := p.Preview(ctx, want, push)
		return arrived{func(r *Root) {
			d.done, d.err = true, err
			if r.redraw != d {
				return
			}
			if err != nil {
				r.say(err.Error(), true)
				if d.best == nil {
					r.dropRedraw()
				}
				return
			}
			d.best = &got
		}}
	})
	return work
}

// newsOfRedraw takes the newest progress, if there is any.
func (r *Root) newsOfRedraw() {
	if d := r.redraw; d != nil && !d.done {
		select {
		case n := <-d.news:
			d.best = &n
		default:
		}
	}
}

// useRedraw takes the best rotation found so far.
func (r *Root) useRedraw() tea.Cmd {
	best := r.redraw.best
	r.dropRedraw()
	return r.do(best.Draw)
}

func (r *Root) dropRedraw() {
	if r.redraw != nil {
		r.redraw.stop()
		r.redraw = nil
	}
}
