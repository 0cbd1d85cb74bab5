package control

import (
	"math/rand/v2"
	"strings"
	"time"

	"lanewright/race"
)

// simDirector presses keys as race directors do: looks at the screen, does what is next, stops the track, rules, takes back, and is
// sometimes in the way of himself. He waits for the answer to each key.
type simDirector struct {
	w      *simNight
	rnd    *rand.Rand
	field  int  // drivers at the beginning
	absent bool // nobody is there: heats start by themselves

	reply   <-chan race.Reply
	asked   race.Command
	entered int
	came    bool
	left    bool
	shut    bool
	voided  int
	ends    time.Time // the last moment of patience

	done map[string]int // rulings that were answered as done, by kind
}

const simName = "Dot" // who signs the rulings

func newSimDirector(w *simNight, rnd *rand.Rand, lanes int) *simDirector {
	return &simDirector{w: w, rnd: rnd, field: lanes + rnd.IntN(2), absent: rnd.IntN(4) == 0, ends: w.began.Add(40 * time.Minute), done: map[string]int{}}
}

// again comes back later.
func (d *simDirector) again(from, to time.Duration) {
	d.w.after(from+time.Duration(d.rnd.Int64N(int64(to-from))), d.act)
}

// killed forgets the key whose answer never came.
func (d *simDirector) killed() {
	if d.reply != nil {
		select {
		case r := <-d.reply:
			d.answered(r)
		default:
			d.w.stats.add("key without answer at a kill", 1)
		}
	}
	d.reply = nil
}

func (d *simDirector) press(cmd race.Command) {
	d.reply, d.asked = d.w.prog.control.Do(cmd), cmd
	d.again(20*time.Millisecond, 60*time.Millisecond)
}

func (d *simDirector) answered(r race.Reply) {
	word, _ := race.CommandArgs(d.asked)
	if r.Err != nil {
		d.w.stats.add("key refused", 1)
		if _, ok := d.asked.(race.Enter); ok && !strings.Contains(r.Err.Error(), "nothing") && !strings.Contains(r.Err.Error(), "stopped") {
			d.w.note("enter: %v", r.Err)
		}
		return
	}
	d.w.stats.add("key", 1)
	d.done[word]++
}

// act is one look at the screen.
func (d *simDirector) act() {
	now := time.Now()
	if now.After(d.ends) {
		d.w.t.Errorf("the night does not end")
		d.finish()
		return
	}
	if d.w.prog == nil {
		d.again(time.Second, 2*time.Second)
		return
	}
	if d.reply != nil {
		select {
		case r := <-d.reply:
			d.reply = nil
			d.answered(r)
			d.again(300*time.Millisecond, 3*time.Second)
		default:
			d.again(50*time.Millisecond, 100*time.Millisecond)
		}
		return
	}
	s := d.w.prog.newest()
	switch {
	case s == nil:
		d.again(100*time.Millisecond, 200*time.Millisecond)
	case s.Phase == race.Over:
		d.w.note("over")
		d.finish()
	case d.absent:
		d.alone(s)
	default:
		d.press(d.choose(s))
	}
}

// alone watches a night that runs by itself; somebody must resume where the counter has stopped the track.
func (d *simDirector) alone(s *race.Snapshot) {
	if s.Phase == race.TrackCall {
		d.press(race.Resume{})
		return
	}
	d.again(time.Second, 3*time.Second)
}

// finish lets the night come to rest: the line is made good, and whatever can still be said again has time to be.
func (d *simDirector) finish() {
	w := d.w
	w.mu.Lock()
	w.in.noise, w.out.noise, w.trouble = 0, 0, time.Now()
	w.agenda = nil
	w.mu.Unlock()
	w.plug()
	if w.prog != nil {
		w.prog.disk.mu.Lock()
		w.prog.disk.fail, w.prog.disk.stall = 0, 0
		w.prog.disk.mu.Unlock()
	}
	w.after(90*time.Second, func() { w.over = true })
}

func (d *simDirector) one(in int) bool { return d.rnd.IntN(in) == 0 }

func (d *simDirector) lane() int { return 1 + d.rnd.IntN(d.w.counter.c.Lanes) }

// choose picks a key for what the screen shows.
func (d *simDirector) choose(s *race.Snapshot) race.Command {
	switch s.Phase {
	case race.SignOn:
		if d.entered < 1 && d.one(3) {
			d.entered++
			return race.AddDriver{Name: "Guest"}
		}
	case race.Idle:
		switch {
		case !d.came && s.Heat == 0 && d.one(8):
			d.came = true
			return race.AddDriver{Name: "Latecomer"}
		case !d.left && d.one(10):
			d.left = true
			return race.DropDriver{Driver: 1 + d.rnd.IntN(d.field)}
		case !d.shut && d.one(12) && len(s.Lanes) > 2:
			d.shut = true
			return race.CloseLane{Lane: 1 + d.rnd.IntN(len(s.Lanes)), Why: "a braid is loose"}
		case d.one(12):
			return d.ruling()
		}
	case race.Lamps:
		if d.one(15) {
			return race.CallTrack{Why: "somebody is not ready"}
		}
		return race.Comment{Text: "lamps"}
	case race.Green, race.Finishing:
		switch d.rnd.IntN(24) {
		case 0, 1:
			return race.CallTrack{Why: "crash"}
		case 2:
			return d.ruling()
		case 3:
			if d.one(8) {
				return race.FinishHeat{}
			}
		case 4:
			if s.Undo != "" && d.undoable(s) {
				return race.Undo{}
			}
		case 5:
			if len(s.Questions) > 0 {
				return race.Answer{Question: s.Questions[0].ID, Yes: d.one(2), By: simName}
			}
		}
		return race.Comment{Text: "racing"}
	case race.TrackCall:
		if d.one(4) {
			return d.ruling()
		}
		return race.Resume{}
	case race.Resuming:
		return race.Comment{Text: "soon"}
	case race.Finish:
		switch {
		case len(s.Questions) > 0 && d.one(2):
			return race.Answer{Question: s.Questions[0].ID, Yes: d.one(2), By: simName}
		case d.one(5):
			return d.ruling()
		case d.one(8) && s.Undo != "" && d.undoable(s):
			return race.Undo{}
		case d.one(8) && s.Redo != "":
			return race.Redo{}
		case d.voided < 1 && d.one(14):
			d.voided++
			return race.VoidHeat{Why: "wrong car"}
		case d.one(4) && s.Card.PartOf > 0:
			return race.SetPart{Lane: d.lane(), Num: d.rnd.IntN(100), Den: 100, By: simName}
		}
	}
	return race.Enter{}
}

// undoable leaves the end of a heat by hand alone: taking it back makes a track call of its own.
func (d *simDirector) undoable(s *race.Snapshot) bool {
	return !strings.Contains(s.Undo, "by hand") && !strings.Contains(s.Undo, "void")
}

func (d *simDirector) ruling() race.Command {
	lane := d.lane()
	switch d.rnd.IntN(5) {
	case 0:
		return race.GiveLaps{Lane: lane, Laps: 1 - 2*d.rnd.IntN(2), Why: "counted by eye", By: simName}
	case 1:
		return race.StrikePass{Lane: lane, Why: "hand over the line", By: simName}
	case 2:
		return race.MovePass{Lane: lane, To: 1 + lane%d.w.counter.c.Lanes, Why: "swapped", By: simName}
	case 3:
		return race.Penalise{Lane: lane, Laps: 1, Hundredths: d.rnd.IntN(100), Why: "rough driving", By: simName}
	}
	if d.one(4) {
		return race.DropStint{Lane: lane, Why: "wrong class", By: simName}
	}
	return race.Comment{Text: "all well"}
}

// did tells whether the counter did something of a kind at a tick.
func (k *simCounter) did(boot uint64, at func(tick uint64) bool, kind func(simAct) bool) bool {
	for _, a := range k.acts {
		if a.boot == boot && kind(a) && at(a.tick) {
			return true
		}
	}
	return false
}
