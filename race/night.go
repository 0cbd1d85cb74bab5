package race

import (
	"time"
)

// Night is the state of one night: what its events add up to. Only [Night.Apply] changes it. It has no clock and does no I/O, so
// the same events always give the same night, live, after a restart, in a replay and in a test.
//
// A Night belongs to one goroutine; [Night.Snapshot] makes what others may see.
type Night struct {
	seq    uint64 // of the last event
	wall   Wall
	opened bool
	closed bool
	info   Opened
	card   Card
	phase  Phase

	drivers []driver
	lanes   []lane
	draw    DrawInfo
	rounds  int
	planned planned
	heats   []*heat
	at      *heat // at the line, live or finished and not accepted; nil between heats
	live    *run  // run of at while passes belong to it
	prev    *run  // the run accepted last: a pass from its time may come late

	practice []practiceSeat // by seat, kept after practice for the bests

	questions []*question
	rulings   []*ruling
	notes     []NoteRow
	counters  []CounterState
	lastPass  []Pass // by source, as counters
	lastWord  []word // the same

	undo []entry
	redo []entry

	speed float64 // counter seconds per second of this computer

	// Start sequence, for the screen.
	lamps     int
	lampsFrom Wall
	lampsFor  time.Duration

	weighty uint64 // events so far that were no notes

	version uint64 // moves whenever results or entries may have changed
	cache   cache
}

type driver struct {
	name, short, class, group, car, register string
	share                                    int
	comes, leaves                            int
	carNo                                    int
	away, gone                               bool
}

// planned is who and what the first draw of the night was made for.
type planned struct {
	drivers int
	closed  []int
}

type lane struct {
	closed bool
	why    string
	lit    Wall
	passes int
}

type heatState uint8

const (
	ahead heatState = iota
	atLine
	ran // finished and accepted
)

type heat struct {
	number int
	plan   PlannedHeat
	state  heatState
	run    *run
	void   []*run // earlier attempts, declared void
}

type practiceSeat struct {
	last    time.Duration
	segment int
	source  string
	any     bool
	laps    int
	best    time.Duration
	lastLap time.Duration
}

type question struct {
	Asked
	run      *run
	open     bool
	yes      bool
	answered uint64
}

type ruling struct {
	id     uint64
	wall   Wall
	heat   int
	run    *run
	seat   int
	text   string
	by     string
	why    string
	undone bool
	event  Event
}

// entry is something that can be taken back.
type entry struct {
	seq   uint64
	event Event
	back  func() error // refuses before it changes anything
	// control says that it arranges heats rather than rules on one: it can be taken back only until the next go.
	control bool
}

// NewNight returns a night without any event: only [Opened] applies to it.
func NewNight() *Night { return &Night{phase: SignOn} }

// Seq returns the journal number of the last event.
func (n *Night) Seq() uint64 { return n.seq }

// Phase returns where the night stands.
func (n *Night) Phase() Phase { return n.phase }

// Card returns the rule card in force.
func (n *Night) Card() Card { return n.card }

// Info returns the event that opened the night. Its slices must not be changed.
func (n *Night) Info() Opened { return n.info }

// IsOpen says whether the night has been opened and not been closed.
func (n *Night) IsOpen() bool { return n.opened && !n.closed }

// Closed says whether the night has been closed for good.
func (n *Night) Closed() bool { return n.closed }

// Seats returns how many seats a heat has: lanes, or cars on digital nights.
func (n *Night) Seats() int {
	if n.info.Digital {
		return n.info.Cars
	}
	return len(n.lanes)
}

func (n *Night) seatWord() string {
	if n.info.Digital {
		return "car"
	}
	return "lane"
}

// Apply folds one event into the night. seq is its journal number and must be greater than the last one. An event that does not
// apply gives an [*ApplyError] and changes nothing.
func (n *Night) Apply(seq uint64, e Event) error {
	if p, ok := e.(Passed); ok {
		return n.ApplyPassed(seq, &p)
	}
	if e == nil {
		return &ApplyError{seq, 0, n.phase, against("no event")}
	}
	if seq <= n.seq {
		return &ApplyError{seq, e.Kind(), n.phase, outOfTurn("event %d comes after event %d", seq, n.seq)}
	}
	if err := n.apply(seq, e); err != nil {
		return &ApplyError{seq, e.Kind(), n.phase, err}
	}
	n.seq, n.wall = seq, e.When()
	n.version++
	if !isNote(e) {
		n.weighty++
	}
	return nil
}

// Weighty is how many events the night has had that were not mere notes. A replay makes as many, though not always the same notes.
func (n *Night) Weighty() uint64 { return n.weighty }

// isNote tells whether an event only writes something down.
func isNote(e Event) bool {
	switch e.(type) {
	case PortNoted, PassesMissing, PowerNoted, ClockNoted, DamageNoted, Restarted, Commented:
		return true
	}
	return false
}

// ApplyPassed is [Night.Apply] for a pass, without wrapping it up as an Event. p is not kept.
func (n *Night) ApplyPassed(seq uint64, p *Passed) error {
	if seq <= n.seq {
		return &ApplyError{seq, KindPassed, n.phase, outOfTurn("event %d comes after event %d", seq, n.seq)}
	}
	if !n.IsOpen() {
		return &ApplyError{seq, KindPassed, n.phase, outOfTurn("a pass came while no night was open")}
	}
	n.pass(seq, p)
	n.weighty++
	n.seq, n.wall = seq, p.Wall
	return nil
}

func (n *Night) apply(seq uint64, e Event) error {
	if o, ok := e.(Opened); ok {
		return n.open(o)
	}
	if !n.opened {
		return outOfTurn("the night has not been opened")
	}
	if n.closed {
		return outOfTurn("the night is closed")
	}
	switch e := e.(type) {
	case TakenBack:
		if err := n.takeBack(e); err != nil {
			return err
		}
		n.tell(seq, e)
		return nil
	case DoneAgain:
		if err := n.doAgain(e); err != nil {
			return err
		}
		n.tell(seq, e)
		return nil
	}
	if isNote(e) {
		n.note(seq, e)
		return nil
	}
	back, control, err := n.effect(seq, e)
	if err != nil {
		return err
	}
	if back != nil {
		n.undo = append(n.undo, entry{seq, e, back, control})
		n.redo = n.redo[:0]
	}
	n.tell(seq, e)
	return nil
}

// effect does what an event does. back undoes it exactly and is nil for what cannot be undone.
func (n *Night) effect(seq uint64, e Event) (back func() error, control bool, err error) {
	switch e := e.(type) {
	case DriverAdded:
		back, err = n.addDriver(e)
		return back, true, err
	case DriverLeft:
		back, err = n.setAway(e.Driver, true)
		return back, true, err
	case DriverBack:
		back, err = n.setAway(e.Driver, false)
		return back, true, err
	case CarShared:
		back, err = n.shareCar(e)
		return back, true, err
	case CarAssigned:
		back, err = n.assignCar(e)
		return back, true, err
	case CardSet:
		back, err = n.setCard(e)
		return back, true, err
	case Drawn:
		back, err = n.drawn(e)
		return back, true, err
	case LaneClosed:
		back, err = n.setClosed(seq, e, e.Lane, true, e.Why)
		return back, true, err
	case LaneOpened:
		back, err = n.setClosed(seq, e, e.Lane, false, "")
		return back, true, err
	case HeatStaged:
		back, err = n.stage(e)
		return back, true, err
	case Accepted:
		back, err = n.accept(e)
		return back, true, err
	case Voided:
		back, err = n.voidHeat(seq, e)
		return back, true, err
	case Finished:
		back, err = n.finish(seq, e)
		return back, true, err
	case LampsStarted:
		return nil, false, n.startLamps(e)
	case StartBroken:
		return nil, false, n.breakStart(seq, e)
	case Went:
		return nil, false, n.goes(e)
	case Held:
		return nil, false, n.hold(seq, e)
	case ResumeStarted:
		return nil, false, n.startResume(e)
	case Resumed:
		return nil, false, n.resume(e)
	case TimeUp:
		return nil, false, n.timeUp(e)
	case SegmentBroke:
		return nil, false, n.breakSegment(seq, e)
	case PracticeStarted:
		return nil, false, n.startPractice()
	case PracticeStopped:
		return nil, false, n.stopPractice()
	case NightClosed:
		return nil, false, n.closeNight()
	case Asked:
		return nil, false, n.ask(e)
	case Answered:
		back, err = n.answer(seq, e)
		return back, false, err
	case LapsGiven, PassStruck, PassMoved, PartSet, Penalised, StintDropped:
		back, err = n.rule(seq, e)
		return back, false, err
	}
	return nil, false, against("events of this kind cannot be applied")
}

func (n *Night) takeBack(e TakenBack) error {
	if len(n.undo) == 0 {
		return outOfTurn("there is nothing to take back")
	}
	top := n.undo[len(n.undo)-1]
	if top.seq != e.Of {
		return outOfTurn("event %d is not the last that can be taken back; that is event %d", e.Of, top.seq)
	}
	if err := top.back(); err != nil {
		return err
	}
	n.undo = n.undo[:len(n.undo)-1]
	n.redo = append(n.redo, top)
	return nil
}

func (n *Night) doAgain(e DoneAgain) error {
	if len(n.redo) == 0 {
		return outOfTurn("there is nothing to do again")
	}
	top := n.redo[len(n.redo)-1]
	if top.seq != e.Of {
		return outOfTurn("event %d is not the last that was taken back; that is event %d", e.Of, top.seq)
	}
	back, control, err := n.effect(top.seq, top.event)
	if err != nil {
		return err
	}
	n.redo = n.redo[:len(n.redo)-1]
	n.undo = append(n.undo, entry{top.seq, top.event, back, control})
	return nil
}

// settle forgets what arranged the heats: after go it cannot be taken back.
func (n *Night) settle() {
	keep := n.undo[:0:0]
	for _, u := range n.undo {
		if !u.control {
			keep = append(keep, u)
		}
	}
	n.undo, n.redo = keep, nil
}

// UndoTop returns the journal number of the event that would be taken back, 0 if none, and what it is in words.
func (n *Night) UndoTop() (uint64, string) {
	if len(n.undo) == 0 {
		return 0, ""
	}
	top := n.undo[len(n.undo)-1]
	return top.seq, n.Describe(top.event)
}

// RedoTop returns the journal number of the event that would be done again, 0 if none, and what it is in words.
func (n *Night) RedoTop() (uint64, string) {
	if len(n.redo) == 0 {
		return 0, ""
	}
	top := n.redo[len(n.redo)-1]
	return top.seq, n.Describe(top.event)
}
