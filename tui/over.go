package tui

import (
	"slices"
	"strconv"
	"strings"

	tea "charm.land/bubbletea/v2"
	"rsc.io/qr"

	"lanewright/race"
	"lanewright/tui/action"
	"lanewright/tui/cell"
	"lanewright/tui/find"
)

// drawHelp draws the list of keys of this moment, beside the live view.
func (r *Root) drawHelp(g *cell.Grid, b cell.Box) {
	if b.W < 10 || b.H < 2 {
		return
	}
	b = heading(g, b, "Keys now")
	type line struct{ key, text, id string }
	var lines []line
	now := r.acts.Now(r.open())
	slices.SortStableFunc(now, func(a, b *action.Action) int { return urgency(a) - urgency(b) })
	for _, a := range now {
		if a.ID == "close" || len(a.Keys) == 0 || strings.HasPrefix(a.ID, "move-") && a.ID != "move-up" {
			continue
		}
		if strings.HasPrefix(a.ID, "lane-") {
			if a.ID != "lane-1" {
				continue
			}
			lines = append(lines, line{"1..8", "choose that lane for five seconds; again lets go", ""})
			continue
		}
		keys := make([]string, len(a.Keys))
		for i, k := range a.Keys {
			keys[i] = action.Show(k)
		}
		text := fitting(a.Name, a.Bar(), b.W-11)
		switch a.ID {
		case "next":
			text = "next: " + cell.Clean(r.snap.Next)
		case "move-up":
			keys, text = []string{"arrows tab"}, "move what is chosen"
		}
		lines = append(lines, line{strings.Join(keys, " "), text, a.ID})
	}
	lines = append(lines, line{"esc", "close the nearest thing", "close"})
	for _, p := range places {
		lines = append(lines, line{"g " + p.key, fitting(string(p.to)+": "+p.name, string(p.to), b.W-11), "go-" + p.key})
	}
	r.helpTop = max(0, min(r.helpTop, len(lines)-b.H))
	for i, l := range lines[r.helpTop:] {
		if i >= b.H {
			break
		}
		g.Put(b.X, b.Y+i, 10, cell.Style{Fg: cell.Accent, Attr: cell.Bold}, l.key)
		g.Put(b.X+11, b.Y+i, b.W-11, cell.Normal, l.text)
		if l.id != "" {
			g.Zone(b.Row(i), "act:"+l.id)
		}
	}
	if r.helpTop+b.H < len(lines) {
		g.Right(b.X, b.Y+b.H-1, b.W, cell.Dim, " ↓ more")
	}
}

// urgency puts the track call and the next step before everything else.
func urgency(a *action.Action) int {
	switch a.ID {
	case "track-call":
		return 0
	case "next", "shown-do", "use-draw":
		return 1
	}
	return 2
}

// fitting returns a name that fits into so many cells: the whole, its part before a bracket, a colon or a comma, or its short
// form.
func fitting(name, short string, w int) string {
	if cell.Width(name) <= w {
		return name
	}
	if at := strings.Index(name, " ("); at > 0 && cell.Width(name[:at]) <= w {
		return name[:at]
	}
	if at := strings.IndexAny(name, ":,"); at > 0 && cell.Width(name[:at]) <= w {
		return name[:at]
	}
	if short != "" && cell.Width(short) <= w {
		return short
	}
	return name
}

// drawGo draws the letters of the places.
func (r *Root) drawGo(g *cell.Grid, b cell.Box) {
	h := min(len(places)+2, b.H)
	w := min(62, b.W)
	in := panel(g, cell.Box{X: b.X + (b.W-w)/2, Y: b.Y + max(0, b.H-h), W: w, H: h}, "go to")
	for i, p := range places {
		if i >= in.H {
			break
		}
		g.Put(in.X, in.Y+i, 2, on(cell.Head), p.key)
		n := g.Put(in.X+3, in.Y+i, in.W-3, on(cell.Strong), string(p.to))
		if in.W > 40 {
			g.Put(in.X+4+n, in.Y+i, in.W-4-n, on(cell.Dim), p.name)
		}
		g.Zone(in.Row(i), "act:go-"+p.key)
	}
}

// choice is one line of the palette.
type choice struct {
	text string
	key  string
	do   func() tea.Cmd
	id   string
}

// choices returns what fits the typed letters: actions and screens, then drivers.
func (r *Root) choices() []choice {
	typed := ""
	if r.typing != nil {
		typed = r.typing.text
	}
	var out []choice
	for _, a := range r.acts.Find(r.open(), typed, r.last) {
		out = append(out, choice{a.Name, a.Key(), a.Do, a.ID})
	}
	if typed != "" {
		names := make([]string, len(r.snap.Entries))
		for i, e := range r.snap.Entries {
			names[i] = e.Name
		}
		var drivers []choice
		for _, i := range find.Among(names, typed) {
			n := r.snap.Entries[i].Driver
			drivers = append(drivers, choice{"driver " + cell.Clean(names[i]), "", func() tea.Cmd { return r.showDriver(n) }, ""})
		}
		if len(out) > 0 && len(drivers) > 0 && find.Score(find.Fold(names[0]), find.Fold(typed)) >= 0 && find.Score(find.Fold(out[0].text), find.Fold(typed)) < 80 {
			return append(drivers, out...)
		}
		out = append(out, drivers...)
	}
	return out
}

// showDriver goes to a driver on the sign-on screen.
func (r *Root) showDriver(n int) tea.Cmd {
	cmd := r.goTo(signOn)
	r.stopTyping()
	r.screens[signOn].(*signOnScreen).find(n)
	return cmd
}

// enterPalette does what is chosen.
func (r *Root) enterPalette() tea.Cmd {
	list := r.choices()
	r.stopTyping()
	if len(list) == 0 {
		return nil
	}
	c := list[max(0, min(r.pick.at, len(list)-1))]
	r.last = c.id
	return c.do()
}

func (r *Root) drawPalette(g *cell.Grid, b cell.Box) {
	list := r.choices()
	w := min(76, b.W)
	h := min(len(list)+3, max(6, min(b.H-2*len(r.rows())-1, 16)), b.H)
	if h < 4 {
		return
	}
	in := panel(g, cell.Box{X: b.X + (b.W-w)/2, Y: b.Y + b.H - h, W: w, H: h}, "search: what do you want to do?")
	top, in := in.Top(1)
	g.Put(top.X, top.Y, top.W, on(cell.Style{Attr: cell.Under}), r.typing.text+" ")
	if len(list) == 0 {
		g.Put(in.X, in.Y, in.W, on(cell.Dim), "nothing like that can be done now")
		return
	}
	r.pick.fit(len(list), in.H)
	for i := 0; i < in.H && r.pick.top+i < len(list); i++ {
		at := r.pick.top + i
		st := on(cell.Normal)
		if at == r.pick.at {
			st = cell.Pick
			g.Fill(in.Row(i), st)
		}
		g.Right(in.X, in.Y+i, in.W, st, list[at].key)
		g.Put(in.X, in.Y+i, in.W-cell.Width(list[at].key)-1, st, list[at].text)
		g.Zone(in.Row(i), "pick:"+itoa(at))
	}
}

// drawQuestion draws the question in front, at the foot of the window, where it hides no lane's figures if it can.
func (r *Root) drawQuestion(g *cell.Grid, b cell.Box, q *race.Question) {
	h := min(5, b.H)
	if h < 3 {
		g.Put(b.X, b.Y+b.H-1, b.W, cell.Notice, "lane "+itoa(q.Lane)+": "+cell.Clean(q.Proposal)+"? y n")
		return
	}
	w := min(b.W, 100)
	in := panel(g, cell.Box{X: b.X + (b.W-w)/2, Y: b.Y + b.H - h, W: w, H: h}, "question "+r.questionPlace(q.ID)+": "+cell.Clean(q.Kind))
	n := r.drawChip(g, in.X, in.Y, q.Lane)
	g.Put(in.X+n+1, in.Y, in.W-n-1, on(cell.Strong), strings.TrimSpace(cell.Clean(q.Driver)+"  "+cell.Clean(q.Text)))
	for i, a := range []struct{ key, text, id string }{{"y", cell.Clean(q.Proposal), "yes"}, {"n", "leave it as it is      esc later", "no"}} {
		if i+1 < in.H {
			g.Put(in.X+n-1, in.Y+i+1, 1, on(cell.Head), a.key)
			g.Put(in.X+n+1, in.Y+i+1, in.W-n-1, on(cell.Normal), a.text)
			g.Zone(in.Row(i+1), "act:"+a.id)
		}
	}
}

// questionPlace says which of how many a question is, newest first.
func (r *Root) questionPlace(id uint64) string {
	n := len(r.snap.Questions)
	for i, q := range r.snap.Questions {
		if q.ID == id {
			return itoa(n-i) + " of " + itoa(n)
		}
	}
	return "-"
}

// turnPage switches the page for other screens on or off.
func (r *Root) turnPage() tea.Cmd {
	page := r.opt.Page
	if r.pageURL != "" {
		r.qr = false
		return safely("the page", func() tea.Msg {
			err := page.Stop()
			return arrived{func(r *Root) {
				r.pageURL = ""
				if err != nil {
					r.say(err.Error(), true)
					return
				}
				r.say("the page is off", false)
			}}
		})
	}
	return safely("the page", func() tea.Msg {
		url, err := page.Start()
		return arrived{func(r *Root) {
			if err != nil {
				r.say(err.Error(), true)
				return
			}
			r.pageURL, r.qr = url, true
			r.say("the page is on: "+url, false)
		}}
	})
}

// drawQR draws the address of the page as a code for phones, two rows of it in a row of cells, dark on light whatever the
// terminal's colours are.
func (r *Root) drawQR(g *cell.Grid, b cell.Box) {
	code, err := qr.Encode(r.pageURL, qr.M)
	if err != nil {
		return
	}
	const quiet = 4
	n := code.Size + 2*quiet
	if n > b.W || (n+1)/2+1 > b.H {
		in := panel(g, cell.Box{X: b.X, Y: b.Y, W: b.W, H: min(3, b.H)}, "page for phones")
		g.Put(in.X, in.Y, in.W, on(cell.Strong), r.pageURL)
		return
	}
	x0, y0 := b.X+(b.W-n)/2, b.Y
	st := cell.Style{Fg: cell.LaneOn(6), Bg: cell.LaneInk(6)} // black on white
	dark := func(x, y int) bool { return y < n && code.Black(x-quiet, y-quiet) }
	for y := 0; y < n; y += 2 {
		for x := range n {
			ch := " "
			switch up, down := dark(x, y), dark(x, y+1); {
			case up && down:
				ch = "█"
			case up:
				ch = "▀"
			case down:
				ch = "▄"
			}
			g.Dot(x0+x, y0+y/2, st, ch)
		}
	}
	g.Centre(b.X, y0+(n+1)/2, b.W, cell.Strong, r.pageURL+"   esc closes")
}

// hit does what a click on a zone means.
func (r *Root) hit(id string) tea.Cmd {
	kind, arg, _ := strings.Cut(id, ":")
	n, _ := strconv.Atoi(arg)
	switch kind {
	case "act":
		if a := r.acts.ByID(arg); a != nil && a.Enabled() {
			if r.typing != nil && a.In != cText && a.In != cAlways && a.In != cSignText && a.In != cPalette {
				r.stopTyping()
			}
			r.goAt = zeroTime
			return a.Do()
		}
	case "lane":
		r.chooseLane(n)
	case "row":
		if c, ok := r.screen().(interface{ choose(n int) }); ok {
			c.choose(n)
		}
	case "tab":
		if s, ok := r.screen().(*sheetsScreen); ok {
			s.tab, s.list, s.open = n, list{}, [2]int{}
		}
	case "pick":
		if r.typing != nil && r.typing.what == "palette" {
			r.pick.at = n
			return r.enterPalette()
		}
	case "name":
		if r.place == signOn {
			return r.screens[signOn].(*signOnScreen).clickName(n)
		}
	case "quest":
		id, _ := strconv.ParseUint(arg, 10, 64)
		r.quest = id
	}
	return nil
}
