package race

import (
	"fmt"
	"strings"
	"time"
)

const notesMax = 50

// say adds a line to what just happened.
func (n *Night) say(seq uint64, wall Wall, text string, bad bool) {
	if len(n.notes) >= 2*notesMax {
		n.notes = append(n.notes[:0:0], n.notes[len(n.notes)-notesMax:]...)
	}
	n.notes = append(n.notes, NoteRow{Seq: seq, Wall: wall.Time(), Text: text, Bad: bad})
}

// note takes an event that changes no result.
func (n *Night) note(seq uint64, e Event) {
	switch e := e.(type) {
	case PortNoted:
		c := n.counter(e.Source)
		// Every line is silent for a moment after it is opened; it is news only of one that has talked.
		bad := e.State == "lost" || e.State == "silent" && c.State == "talking"
		c.State, c.Note = e.State, e.Text
		n.say(seq, e.Wall, n.Describe(e), bad)
	case PassesMissing:
		c := n.counter(e.Source)
		c.Missing += int(min(e.Count, 1<<30))
		n.say(seq, e.Wall, n.Describe(e), true)
	case PowerNoted:
		c := n.counter(e.Source)
		c.Power = lanesWord(e.Lanes, len(n.lanes))
		n.powerHeard(c.Source, e)
	case ClockNoted:
		if e.By != 0 {
			n.clockStepped(n.counter(e.Source).Source, e.By)
		}
		n.say(seq, e.Wall, n.Describe(e), true)
	case DamageNoted:
		n.counter(e.Source).Damaged++
	case Restarted:
		if e.Speed > 0 && speedSane(e.Speed) {
			n.setSpeed(e.Speed)
		}
		n.say(seq, e.Wall, n.Describe(e), true)
	case Commented:
		n.say(seq, e.Wall, n.Describe(e), false)
	}
}

// tell adds a line about what a person did or a heat came to, where nothing else has done so.
func (n *Night) tell(seq uint64, e Event) {
	switch e.(type) {
	case Went, Resumed, Accepted, Drawn, DriverAdded, DriverLeft, DriverBack, LapsGiven, PassStruck, PassMoved, PartSet, Penalised, StintDropped,
		PracticeStarted, PracticeStopped, TakenBack, DoneAgain:
		n.say(seq, e.When(), n.Describe(e), false)
	}
}

// atLine names the heat at the line, for the beginning of a sentence.
func (n *Night) atLine() string {
	if n.at == nil {
		return "heat "
	}
	return fmt.Sprintf("heat %d: ", n.at.number)
}

// lanesWord names the lanes of a mask: "on", "off", "1 3 4".
func lanesWord(mask uint32, lanes int) string {
	all := uint32(1)<<min(lanes, 31) - 1
	switch {
	case mask == 0:
		return "off"
	case mask&all == all:
		return "on"
	}
	var b strings.Builder
	for l := 1; l <= lanes && l <= 32; l++ {
		if mask>>(l-1)&1 == 1 {
			if b.Len() > 0 {
				b.WriteByte(' ')
			}
			fmt.Fprintf(&b, "%d", l)
		}
	}
	return b.String()
}

// DriverName returns the name of a driver, "" for nobody.
func (n *Night) DriverName(d int) string {
	if d < 1 || d > len(n.drivers) {
		return ""
	}
	return n.drivers[d-1].name
}

func (n *Night) who(heatNo, seatNo int) string {
	s := fmt.Sprintf("%s %d", n.seatWord(), seatNo)
	if h, err := n.heatNo(heatNo); err == nil && seatNo >= 1 && seatNo <= len(h.plan.Drivers) {
		if name := n.DriverName(h.plan.Drivers[seatNo-1]); name != "" {
			s += " (" + name + ")"
		}
	}
	return s
}

func because(why string) string {
	if why == "" {
		return ""
	}
	return ": " + why
}

func plural(k int, word string) string {
	if k == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", k, word)
}

// Describe says in words what an event does, for lists, for undo, for the journal printed on paper.
func (n *Night) Describe(e Event) string {
	switch e := e.(type) {
	case Opened:
		return fmt.Sprintf("night %s opened", e.Night)
	case DriverAdded:
		return e.Name + " signed on"
	case DriverLeft:
		return fmt.Sprintf("%s left", n.DriverName(e.Driver))
	case DriverBack:
		return fmt.Sprintf("%s is back", n.DriverName(e.Driver))
	case CarShared:
		if e.With == 0 {
			return fmt.Sprintf("%s shares no car", n.DriverName(e.Driver))
		}
		return fmt.Sprintf("%s and %s share a car", n.DriverName(e.Driver), n.DriverName(e.With))
	case CarAssigned:
		return fmt.Sprintf("car %d for %s", e.Car, n.DriverName(e.Driver))
	case CardSet:
		return "rule card changed"
	case Drawn:
		return fmt.Sprintf("%s draw of %s", e.Draw, plural(len(e.Heats), "heat"))
	case LaneClosed:
		return fmt.Sprintf("lane %d closed%s", e.Lane, because(e.Why))
	case LaneOpened:
		return fmt.Sprintf("lane %d open again", e.Lane)
	case NightClosed:
		return "night closed"
	case HeatStaged:
		return fmt.Sprintf("heat %d called to the line", e.Heat)
	case LampsStarted:
		return "start sequence"
	case StartBroken:
		return "start taken back" + because(e.Why)
	case Went:
		return n.atLine() + "go"
	case Passed:
		return e.Pass.String()
	case Held:
		return "track call" + because(e.Why)
	case ResumeStarted:
		return "countdown back to green"
	case Resumed:
		return "green again"
	case TimeUp:
		return "time is up"
	case Finished:
		if e.Early {
			return n.atLine() + "ended by hand"
		}
		return n.atLine() + "finished"
	case Accepted:
		return fmt.Sprintf("heat %d accepted", e.Heat)
	case Voided:
		return fmt.Sprintf("heat %d declared void%s", e.Heat, because(e.Why))
	case SegmentBroke:
		return fmt.Sprintf("the clock of %s began anew%s; laps across it are not timed", CounterWords(e.Source), because(e.Why))
	case PracticeStarted:
		return "practice"
	case PracticeStopped:
		return "practice over"
	case LapsGiven:
		if e.Laps < 0 {
			return fmt.Sprintf("%s taken from %s", plural(-e.Laps, "lap"), n.who(e.Heat, e.Seat))
		}
		return fmt.Sprintf("%s given to %s", plural(e.Laps, "lap"), n.who(e.Heat, e.Seat))
	case PassStruck:
		return fmt.Sprintf("pass struck out on %s", n.who(e.Heat, e.Seat))
	case PassMoved:
		return fmt.Sprintf("pass moved from %s to %s", n.who(e.Heat, e.Seat), n.who(e.Heat, e.To))
	case PartSet:
		return fmt.Sprintf("part lap %s for %s", e.From, n.who(e.Heat, e.Seat))
	case Penalised:
		what := plural(e.Laps, "lap")
		if e.Hundredths > 0 {
			what = fmt.Sprintf("%d.%02d laps", e.Laps, e.Hundredths)
		}
		return fmt.Sprintf("penalty of %s for %s", what, n.who(e.Heat, e.Seat))
	case StintDropped:
		return fmt.Sprintf("stint of %s in heat %d not counted", n.who(e.Heat, e.Seat), e.Heat)
	case Asked:
		return e.Text
	case Answered:
		word := "no"
		if e.Yes {
			word = "yes"
		}
		if q := n.questionNo(e.ID); q != nil {
			return fmt.Sprintf("answer %s: %s", word, q.Text)
		}
		return "answer " + word
	case TakenBack:
		if k := len(n.redo) - 1; k >= 0 && n.redo[k].seq == e.Of {
			return "taken back: " + n.Describe(n.redo[k].event)
		}
		return "taken back"
	case DoneAgain:
		if k := len(n.undo) - 1; k >= 0 && n.undo[k].seq == e.Of {
			return "done again: " + n.Describe(n.undo[k].event)
		}
		return "done again"
	case Commented:
		if e.Lane > 0 {
			return fmt.Sprintf("%s %d: %s", n.seatWord(), e.Lane, e.Text)
		}
		return e.Text
	case PortNoted:
		return fmt.Sprintf("%s is %s%s", CounterWords(e.Source), e.State, because(e.Text))
	case PassesMissing:
		return fmt.Sprintf("%s: passes %d to %d are lost%s", CounterWords(e.Source), e.First, e.Last, because(e.Why))
	case PowerNoted:
		return "power " + lanesWord(e.Lanes, len(n.lanes))
	case ClockNoted:
		if e.By != 0 {
			return fmt.Sprintf("%s (%v)", e.Text, e.By.Round(time.Millisecond))
		}
		return e.Text
	case DamageNoted:
		return fmt.Sprintf("%s: %s made no sentence%s", CounterWords(e.Source), plural(e.Bytes, "byte"), because(e.Why))
	case Restarted:
		return "the program took the night up again" + because(e.Text)
	}
	return "something"
}

// CounterWords names a counter for people: a club with one counter has not given it a name of its own.
func CounterWords(source string) string {
	if source == "" || source == "counter" {
		return "the counter"
	}
	return "counter " + source
}
