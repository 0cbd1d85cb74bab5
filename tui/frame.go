package tui

import (
	"lanewright/race"
	"lanewright/tui/action"
	"lanewright/tui/cell"
)

// The least window that gets a whole screen; a smaller one gets a line a lane.
const (
	LeastWidth  = 24
	LeastHeight = 6
)

// draw draws the whole window into the grid.
func (r *Root) draw() {
	g := r.grid
	g.Reset(min(r.w, 500), min(r.h, 200)) // no real window is larger; a wrong message must not take all memory
	b := g.Box()
	if b.W < LeastWidth || b.H < LeastHeight {
		r.drawTiny(g, b)
		return
	}
	strip, b := b.Top(1)
	b, foot := b.Bottom(r.footRows(b))
	if r.place != board {
		r.drawStrip(g, strip)
		if b.H >= 10 {
			var head cell.Box
			head, b = b.Top(1)
			r.drawHead(g, head)
		}
	} else {
		b = cell.Box{X: 0, Y: 0, W: b.W, H: b.H + 1}
	}
	body, side := b, cell.Box{}
	if r.help {
		body, side = r.makeRoom(b)
	}
	if !r.guarded(r.place, func() { r.screen().draw(g, body) }) {
		g.Fill(body, cell.Normal)
		r.drawPlainLanes(g, body)
	}
	if r.help {
		r.drawHelp(g, side)
	}
	r.drawFoot(g, foot)
	if !r.guarded(r.place, func() { r.drawOver(g, b) }) {
		r.typing, r.qr, r.quest, r.goAt = nil, false, 0, zeroTime
	}
}

// makeRoom splits the window so that the list of keys stands beside the live view.
func (r *Root) makeRoom(b cell.Box) (body, side cell.Box) {
	if b.W >= 70 {
		w := min(64, b.W*45/100)
		return cell.Box{X: b.X, Y: b.Y, W: b.W - w - 1, H: b.H}, cell.Box{X: b.X + b.W - w, Y: b.Y, W: w, H: b.H}
	}
	keep := max(0, min(len(r.rows())+1, b.H/2))
	body, side = b.Top(keep)
	return body, side
}

// drawHead draws the line with the name of the place and of the night.
func (r *Root) drawHead(g *cell.Grid, b cell.Box) {
	x := b.X + g.Put(b.X, b.Y, b.W, cell.Head, string(r.place)) + 1
	club := cell.Clean(r.snap.Club)
	if r.snap.Layout != "" {
		if club != "" {
			club += " · "
		}
		club += cell.Clean(r.snap.Layout)
	}
	w := min(cell.Width(club), b.W/2)
	line := b.X + b.W - w - 1
	if w == 0 {
		line = b.X + b.W
	}
	if line > x {
		g.Each(cell.Box{X: x, Y: b.Y, W: line - x, H: 1}, "─", cell.Dim)
	}
	if w > 0 {
		g.Right(b.X+b.W-w, b.Y, w, cell.Dim, club)
	}
}

// footRows is how many rows the foot takes: help, next step, and what was said.
func (r *Root) footRows(b cell.Box) int {
	switch {
	case r.place == board && b.H < 20:
		return 1
	case b.H >= 20 && r.place != board:
		return 3
	case b.H >= 9:
		return 2
	}
	return 1
}

// drawFoot draws what was said, the next step and the help bar.
func (r *Root) drawFoot(g *cell.Grid, b cell.Box) {
	if b.H == 0 {
		return
	}
	help := b.Row(b.H - 1)
	switch {
	case b.H == 1 && r.typing != nil && r.typing.context() != cSignText:
		r.drawTyping(g, help)
		return
	case b.H == 1 && r.said.text != "":
		r.drawSaid(g, help)
		return
	case b.H == 2:
		if r.said.text != "" && r.ask.what == nothing && r.sure == nil && r.typing == nil {
			r.drawSaid(g, b.Row(0))
		} else {
			r.drawNext(g, b.Row(0))
		}
	case b.H >= 3:
		r.drawSaid(g, b.Row(0))
		r.drawNext(g, b.Row(1))
	}
	r.drawBar(g, help, b.H == 1)
}

// drawSaid draws the answer to the last key, and what u would take back.
func (r *Root) drawSaid(g *cell.Grid, b cell.Box) {
	st, mark := cell.Fine, "✓ "
	text := r.said.text
	if r.said.bad {
		st, mark = cell.Notice, "! "
	}
	if text == "" {
		if r.snap.Undo != "" {
			g.Put(b.X, b.Y, b.W, cell.Dim, "u takes back: "+cell.Clean(r.snap.Undo))
		}
		return
	}
	n := g.Put(b.X, b.Y, b.W, st, mark+text)
	if !r.said.bad && r.said.hint != "" && b.W-n > 18 {
		g.Put(b.X+n+2, b.Y, b.W-n-2, cell.Dim, r.said.hint)
	}
}

// drawNext draws the next step, or what is being asked or typed.
func (r *Root) drawNext(g *cell.Grid, b cell.Box) {
	switch {
	case r.typing != nil && r.typing.context() != cSignText:
		r.drawTyping(g, b)
		return
	case r.ask.what != nothing:
		g.Put(b.X, b.Y, b.W, cell.Notice, r.askText())
		return
	case r.sure != nil:
		n := g.Put(b.X, b.Y, b.W, cell.Pick, " enter ")
		g.Put(b.X+n+1, b.Y, b.W-n-1, cell.Notice, cell.Clean(r.sure.text)+"   esc leaves it as it is")
		g.Zone(b, "act:shown-do")
		return
	}
	a := r.acts.Match(r.contexts(), "enter")
	text := ""
	if a != nil {
		text = cell.Clean(a.Bar())
	}
	if a == nil || text == "" {
		g.Put(b.X, b.Y, b.W, cell.Dim, r.waiting())
		return
	}
	n := g.Put(b.X, b.Y, b.W, cell.Pick, " enter ")
	n += 1 + g.Put(b.X+n+1, b.Y, b.W-n-1, cell.Strong, text)
	g.Zone(cell.Box{X: b.X, Y: b.Y, W: n, H: 1}, "act:"+a.ID)
}

// waiting says why enter does nothing.
func (r *Root) waiting() string {
	switch r.snap.Phase {
	case "":
		return "waiting for the night to open"
	case race.SignOn:
		return "sign drivers on first: a"
	case race.Practice:
		return "free laps: l ends them"
	case race.Green, race.Finishing:
		return "the heat is running"
	case race.Lamps:
		return "the lamps are running"
	case race.Resuming:
		return "going on in a moment"
	}
	return ""
}

func (r *Root) askText() string {
	switch r.ask.what {
	case penaltyLaps:
		if r.ask.fractions {
			return "lane " + itoa(r.ask.lane) + ": penalty of ." + r.ask.hundreds + "_ of a lap, two digits"
		}
		return "lane " + itoa(r.ask.lane) + ": penalty of how many laps?  1..9, or . and two digits for hundredths"
	case toLane:
		return "the last pass on lane " + itoa(r.ask.lane) + " belongs to which lane?  1..8"
	case carNumber:
		return "which car number?  1..8"
	}
	return ""
}

// drawTyping draws the text being typed; while a heat is live it says how to call the track.
func (r *Root) drawTyping(g *cell.Grid, b cell.Box) {
	call := "ctrl+s track call"
	if b.W <= 40 {
		call = "ctrl+s call"
	}
	if r.live() && b.W >= LeastWidth {
		g.Right(b.X+b.W-len(call), b.Y, len(call), cell.Alarm, call)
		b.W -= len(call) + 1
	}
	r.typing.draw(g, b)
}

// drawBar draws the help bar from the actions that can be done now. The end is dropped, the first entry never. alone says that there
// is no row for the next step above it.
func (r *Root) drawBar(g *cell.Grid, b cell.Box, alone bool) {
	x := b.X
	end := b.X + b.W
	if r.lane != 0 && r.typing == nil {
		x += r.drawChip(g, x, b.Y, r.lane) + 1
		if h := r.heatMeant(); h != 0 {
			x += g.Put(x, b.Y, 24, cell.Notice, "heat "+itoa(h)+" "+orDash(cell.Clean(r.driverMeant()))) + 2
		}
	}
	tail := ""
	if r.typing == nil && r.ask.what == nothing && r.goAt.IsZero() && r.lane == 0 && b.W >= 50 {
		tail = "g go  : search  ? keys"
		end -= len(tail) + 2
	}
	first := true
	for _, a := range r.barActions(alone) {
		key, text := a.Key(), cell.Clean(a.Bar())
		w := cell.Width(key) + 1 + cell.Width(text)
		if !first {
			w += 2
			if x+w > end {
				break
			}
			x += 2
		}
		at := x
		x += g.Put(x, b.Y, end-x, cell.Style{Fg: cell.Accent, Attr: cell.Bold}, key)
		x += 1 + g.Put(x+1, b.Y, end-x-1, cell.Dim, text)
		g.Zone(cell.Box{X: at, Y: b.Y, W: x - at, H: 1}, "act:"+a.ID)
		first = false
	}
	if tail != "" {
		at := b.X + b.W - len(tail)
		g.Put(at, b.Y, len(tail), cell.Dim, tail)
		g.Zone(cell.Box{X: at, Y: b.Y, W: 4, H: 1}, "act:go")
		g.Zone(cell.Box{X: at + 6, Y: b.Y, W: 8, H: 1}, "act:palette")
		g.Zone(cell.Box{X: at + 16, Y: b.Y, W: 6, H: 1}, "act:help")
	}
}

// barActions returns what the help bar shows, in order: the track call first while cars are moving, then the next step if it is
// asked for.
func (r *Root) barActions(next bool) []*action.Action {
	var first, rest []*action.Action
	for _, a := range r.acts.Now(r.contexts()) {
		if a.Bar() == "" || len(a.Keys) == 0 {
			continue
		}
		switch a.ID {
		case "track-call", "track-call-typing":
			first = append(first, a)
		case "next", "shown-do", "use-draw", "name-done":
			if next && r.snap.Phase == race.TrackCall {
				first = append([]*action.Action{a}, first...)
			} else if next {
				first = append(first, a)
			}
		case "go", "palette", "help":
			// they have places of their own
		default:
			rest = append(rest, a)
		}
	}
	return append(first, rest...)
}

// drawOver draws what lies over the screen: places after g, search, a question away from the Desk, the page's address.
func (r *Root) drawOver(g *cell.Grid, b cell.Box) {
	switch {
	case r.typing != nil && r.typing.what == "palette":
		r.drawPalette(g, b)
	case !r.goAt.IsZero() && (r.now().Sub(r.goAt) >= goPopup || r.set.Still):
		r.drawGo(g, b)
	case r.qr && r.pageURL != "":
		r.drawQR(g, b)
	}
	if q := r.question(); q != nil {
		r.drawQuestion(g, b, q)
	}
}

// panel clears a box over the screen and frames it with a heading; it returns the inside.
func panel(g *cell.Grid, b cell.Box, title string) cell.Box {
	st := cell.Style{Bg: cell.Panel}
	g.Fill(b, st)
	if b.H < 2 || b.W < 4 {
		return b
	}
	line := cell.Style{Fg: cell.Quiet, Bg: cell.Panel}
	for _, y := range []int{b.Y, b.Y + b.H - 1} {
		g.Each(cell.Box{X: b.X, Y: y, W: b.W, H: 1}, "─", line)
	}
	for y := b.Y; y < b.Y+b.H; y++ {
		l, rr := "│", "│"
		switch y {
		case b.Y:
			l, rr = "╭", "╮"
		case b.Y + b.H - 1:
			l, rr = "╰", "╯"
		}
		g.Put(b.X, y, 1, line, l)
		g.Put(b.X+b.W-1, y, 1, line, rr)
	}
	g.Put(b.X+2, b.Y, b.W-4, cell.Style{Fg: cell.Accent, Bg: cell.Panel, Attr: cell.Bold}, " "+title+" ")
	return b.Inset(2, 1, 2, 1)
}

// on returns a style on the background of a panel.
func on(st cell.Style) cell.Style {
	if st.Bg == cell.Plain {
		st.Bg = cell.Panel
	}
	return st
}

// heading draws the heading of a part of a screen with a line behind it, and returns the box below.
func heading(g *cell.Grid, b cell.Box, title string) cell.Box {
	if b.H < 1 || b.W < 1 {
		return b
	}
	n := g.Put(b.X, b.Y, b.W, cell.Head, title)
	if b.W > n+1 {
		g.Each(cell.Box{X: b.X + n + 1, Y: b.Y, W: b.W - n - 1, H: 1}, "╌", cell.Dim)
	}
	_, rest := b.Top(1)
	return rest
}

// drawTiny draws what fits into a window too small for a screen: state and a line a lane.
func (r *Root) drawTiny(g *cell.Grid, b cell.Box) {
	if b.W < 1 || b.H < 1 {
		return
	}
	rows := r.rows()
	if b.H > len(rows) || len(rows) == 0 {
		var top cell.Box
		top, b = b.Top(1)
		if r.said.text != "" && r.said.bad && b.H == 0 {
			g.Put(top.X, top.Y, top.W, cell.Notice, r.said.text)
			return
		}
		if len(rows) == 0 {
			g.Put(top.X, top.Y, top.W, cell.Strong, r.phase()+": window too small, 24 by 6 is the least")
			return
		}
		fig, _ := r.clock()
		g.Put(top.X, top.Y, top.W, cell.Strong, r.phase()+" "+fig)
	}
	r.drawPlainLanes(g, b)
}

// drawPlainLanes draws a line a lane: number, shape, laps, last.
func (r *Root) drawPlainLanes(g *cell.Grid, b cell.Box) {
	for i, row := range r.rows() {
		if i >= b.H {
			return
		}
		x := r.drawChip(g, b.X, b.Y+i, row.n)
		if row.Driver == 0 {
			g.Put(b.X+x+1, b.Y+i, b.W-x-1, cell.Dim, "-")
			continue
		}
		g.Put(b.X+x+1, b.Y+i, b.W-x-1, cell.Strong, r.form.Laps(row.Laps, -1, 0)+" "+r.lastLap(row.LaneRow))
	}
}

// practice says whether laps are free.
func (r *Root) practice() bool { return r.snap.Phase == race.Practice }
