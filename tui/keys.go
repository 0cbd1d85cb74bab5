package tui

import (
	"time"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
	"lanewright/tui/action"
)

// The contexts in which keys work, beside one for every place.
const (
	cAlways   action.Context = "always"        // whatever is open, text fields too
	cSafe     action.Context = "unless typing" // whatever is open, but not in a text field
	cAny      action.Context = "everywhere"    // on every screen
	cGo       action.Context = "after g"       // the letter of a place
	cLane     action.Context = "lane chosen"   // for some seconds after a digit
	cAsk      action.Context = "amount"        // a digit is asked for
	cSure     action.Context = "shown first"   // what enter would do has been shown
	cQuestion action.Context = "question"      // a question of the judge is in front
	cHelp     action.Context = "list of keys"  // the list of keys is open
	cText     action.Context = "typing"        // text is being typed
	cPalette  action.Context = "palette"       // actions are being searched
	cSignText action.Context = "typing a name" // the sign-on field
	cRedraw   action.Context = "draw in sight" // a rotation is being tried
	laneFor                  = 5 * time.Second // how long a lane stays chosen
	goPopup                  = 300 * time.Millisecond
	goFor                    = 5 * time.Second
	quitFor                  = 2 * time.Second
)

// asked is what a digit is asked for.
type asked int

const (
	nothing asked = iota
	penaltyLaps
	toLane
	carNumber
)

// asking is a digit that is waited for.
type asking struct {
	what      asked
	lane      int // lane or driver that it is about
	heat      int
	hundreds  string // digits typed after a decimal point
	fractions bool
	until     time.Time
}

// sure is something that is shown before enter does it.
type sure struct {
	text  string
	do    func() tea.Cmd
	until time.Time
}

// contexts returns those in force, nearest first.
func (r *Root) contexts() []action.Context {
	switch {
	case r.typing != nil:
		return []action.Context{r.typing.context(), cText, cAlways}
	case !r.goAt.IsZero():
		return []action.Context{cGo, cSafe, cAlways}
	case r.ask.what != nothing:
		return []action.Context{cAsk, cSafe, cAlways}
	}
	return r.open()
}

// open returns the contexts in force when nothing is being typed.
func (r *Root) open() []action.Context {
	in := make([]action.Context, 0, 8)
	if r.sure != nil {
		in = append(in, cSure)
	}
	if r.quest != 0 {
		in = append(in, cQuestion)
	}
	if r.help {
		in = append(in, cHelp)
	}
	if r.lane != 0 {
		in = append(in, cLane)
	}
	if r.redraw != nil && r.place == rotation {
		in = append(in, cRedraw)
	}
	return append(in, action.Context(r.place), cAny, cSafe, cAlways)
}

// key does what a key means now.
func (r *Root) key(msg tea.KeyPressMsg) tea.Cmd {
	r.expire()
	key := msg.String()
	if r.held(msg, key) {
		return nil
	}
	waiting := !r.goAt.IsZero()
	a := r.acts.Match(r.contexts(), key)
	if waiting {
		r.goAt = time.Time{} // one letter only
	}
	if a == nil && r.ask.what != nothing {
		r.ask = asking{} // a key that is no answer is a key like any other
		a = r.acts.Match(r.contexts(), key)
	}
	if a != nil {
		return a.Do()
	}
	if r.typing != nil && r.typing.take(msg) {
		r.typed()
	}
	return nil
}

// holdGap is the time within which the same key again comes from holding it down, not from a finger: keyboards repeat twelve to
// thirty times a second, fingers do not reach eight.
const holdGap = 100 * time.Millisecond

// held says that a key is being held down and must not do its work again. Typing, moving and the track call may repeat.
func (r *Root) held(msg tea.KeyPressMsg, key string) bool {
	now := r.now()
	again := key == r.keyWas && now.Sub(r.keyAt) < holdGap && now.Sub(r.keyAt) >= 0 || msg.IsRepeat
	r.keyWas, r.keyAt = key, now
	switch key {
	case "space", "ctrl+s", "backspace", "up", "down", "left", "right", "pgup", "pgdown":
		return false
	}
	if r.typing != nil && msg.Text != "" {
		return false
	}
	return again
}

// click does what lies under a cell.
func (r *Root) click(x, y int) tea.Cmd {
	r.draw()
	return r.hit(r.grid.Hit(x, y))
}

// expire lets go of what lasts only for a while.
func (r *Root) expire() {
	now := r.now()
	if r.lane != 0 && now.After(r.laneTil) {
		r.lane = 0
	}
	if r.lane > 0 && r.lane > len(r.snap.Lanes) && r.row(r.lane) == nil {
		r.lane = 0
	}
	if !r.goAt.IsZero() && now.Sub(r.goAt) > goFor {
		r.goAt = time.Time{}
	}
	if r.ask.what != nothing && now.After(r.ask.until) {
		r.ask = asking{}
	}
	if r.sure != nil && now.After(r.sure.until) {
		r.sure = nil
	}
	if !r.said.until.IsZero() && now.After(r.said.until) {
		r.said = saying{}
	}
	if !r.quitAt.IsZero() && now.Sub(r.quitAt) > quitFor {
		r.quitAt = time.Time{}
	}
	if r.quest != 0 && r.question() == nil {
		r.quest = 0
	}
	r.newsOfRedraw()
}

// question returns the question in front, nil if it has been settled meanwhile.
func (r *Root) question() *race.Question {
	for i := range r.snap.Questions {
		if r.snap.Questions[i].ID == r.quest {
			return &r.snap.Questions[i]
		}
	}
	return nil
}

// row returns the row of a lane of the heat at the line, nil if there is none. On a digital night lanes are cars.
func (r *Root) row(n int) *race.LaneRow {
	if r.snap.Digital {
		for i := range r.snap.Cars {
			if r.snap.Cars[i].Car == n {
				return &r.snap.Cars[i].LaneRow
			}
		}
		return nil
	}
	for i := range r.snap.Running {
		if r.snap.Running[i].Lane == n {
			return &r.snap.Running[i]
		}
	}
	return nil
}

// move moves what is chosen on the screen in front.
func (r *Root) move(key string) {
	switch {
	case r.typing != nil && r.typing.context() == cPalette:
		r.pick.move(key)
	case r.help:
		switch key {
		case "up":
			r.helpTop--
		case "down":
			r.helpTop++
		case "pgup":
			r.helpTop -= 10
		case "pgdown":
			r.helpTop += 10
		case "home":
			r.helpTop = 0
		}
		r.helpTop = max(0, min(r.helpTop, 200))
	default:
		r.screen().move(key)
	}
}

// goTo opens a place. What was typed on the one before is kept.
func (r *Root) goTo(p place) tea.Cmd {
	r.stopTyping()
	r.place = p
	delete(r.broken, p)
	r.sure, r.ask, r.goAt = nil, asking{}, time.Time{}
	r.screens[p].enter()
	return r.load(p)
}
