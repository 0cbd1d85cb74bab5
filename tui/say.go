package tui

import (
	"strconv"
	"time"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
	"lanewright/tui/cell"
)

func itoa(n int) string { return strconv.Itoa(n) }

// saying is what the screen says in answer to a key.
type saying struct {
	text  string
	bad   bool
	hint  string // how to take it back
	until time.Time
}

// sayFor is how long an answer stands; a refusal stands longer, because it has to be read.
const (
	sayFor    = 6 * time.Second
	refuseFor = 15 * time.Second
)

// say shows a sentence for a while.
func (r *Root) say(text string, bad bool) {
	d := sayFor
	if bad {
		d = refuseFor
	}
	r.said = saying{text: cell.Clean(text), bad: bad, until: r.now().Add(d)}
}

// answer is the reply to a command.
type answer struct {
	cmd   race.Command
	reply race.Reply
	lost  bool
}

// patience is how long a reply may take before the screen says that none has come.
const patience = 10 * time.Second

// do hands a command over. It never waits; the answer comes as a message.
func (r *Root) do(c race.Command) tea.Cmd {
	if r.opt.Commander == nil {
		r.say("nobody runs this night here: the screen only watches", true)
		return nil
	}
	ch := r.opt.Commander.Do(c)
	if ch == nil {
		if _, call := c.(race.CallTrack); call {
			r.owed = true
			r.say("track call not taken yet: trying again", true)
			return nil
		}
		r.say("not taken, too much is waiting to be done: press the key again", true)
		return nil
	}
	return func() tea.Msg {
		t := time.NewTimer(patience)
		defer t.Stop()
		select {
		case reply, ok := <-ch:
			return answer{c, reply, !ok}
		case <-t.C:
			return answer{c, race.Reply{}, true}
		}
	}
}

// payCall tries a track call again that was not taken because too much was waiting.
func (r *Root) payCall() tea.Cmd {
	if !r.owed {
		return nil
	}
	r.owed = false
	if !r.live() || r.snap.Phase == race.TrackCall {
		return nil
	}
	return r.do(race.CallTrack{})
}

// answered says what came of a command.
func (r *Root) answered(a answer) tea.Cmd {
	r.look()
	switch {
	case a.lost:
		r.say("no answer to that yet: look at just now before you press again", true)
	case a.reply.Err != nil:
		r.say(a.reply.Err.Error(), true)
	case a.reply.Done != "":
		r.say(a.reply.Done, false)
		_, undo := a.cmd.(race.Undo)
		switch {
		case undo && r.snap.Redo != "":
			r.said.hint = "U does it again"
		case !undo && r.snap.Undo != "":
			r.said.hint = "u takes it back"
		}
	}
	return nil
}
