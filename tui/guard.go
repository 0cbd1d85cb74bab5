package tui

import (
	"fmt"

	tea "charm.land/bubbletea/v2"

	"lanewright/tui/cell"
)

// fail notes that a screen failed. It is not shown again before it is gone to again; the Desk stands in for it, with a line
// that says so.
func (r *Root) fail(p place, e any) {
	why := cell.Clean(fmt.Sprint(e))
	r.broken[p] = why
	r.say("the screen "+string(p)+" failed and is closed: "+why+"; the night goes on", true)
}

// guarded draws a part of the screen; if that fails the part stays as it is, and the failure is noted.
func (r *Root) guarded(p place, f func()) (ok bool) {
	defer func() {
		if e := recover(); e != nil {
			r.fail(p, e)
		}
	}()
	f()
	return true
}

// safely runs work off the event loop so that a mistake in it is a sentence and not the end of the program.
func safely(what string, f func() tea.Msg) tea.Cmd {
	return func() (msg tea.Msg) {
		defer func() {
			if e := recover(); e != nil {
				msg = arrived{func(r *Root) { r.say(fmt.Sprintf("%s failed: %v", what, e), true) }}
			}
		}()
		return f()
	}
}

// arrived is the result of work that was done off the event loop; take puts it where it belongs.
type arrived struct{ take func(r *Root) }
