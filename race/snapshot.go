package race

import "time"

// Phase is where a night stands.
type Phase string

// The phases. A heat is live from Lamps to Finishing; nothing modal may stand in the way then.
const (
	SignOn    Phase = "SIGN-ON"    // no draw yet, or all changed since
	Idle      Phase = "READY"      // a draw stands, no heat at the line
	Practice  Phase = "PRACTICE"   // free laps
	Staged    Phase = "STAGED"     // drivers are called to the line
	Lamps     Phase = "LAMPS"      // start sequence is running
	Green     Phase = "GREEN"      // racing
	TrackCall Phase = "TRACK CALL" // power off, clock held
	Resuming  Phase = "RESUMING"   // countdown back to green
	Finishing Phase = "FINISHING"  // time is over, cars finish their lap or coast
	Finish    Phase = "FINISH"     // the heat is over and waits for part laps, rulings and acceptance
	Over      Phase = "OVER"       // every heat of the draw is accepted
)

// Live says whether a heat is being driven, so that timing is what matters.
func (p Phase) Live() bool {
	switch p {
	case Lamps, Green, TrackCall, Resuming, Finishing:
		return true
	}
	return false
}

// Snapshot is everything that a screen may show, at one moment. It shares nothing with the live state and is never changed
// after it is published; readers must not change it either.
type Snapshot struct {
	Seq     uint64    // journal number of the last event folded in
	Taken   time.Time // host time at which it was made
	Night   string    // id
	Title   string    // what people call the night
	Club    string
	Layout  string
	Scale   int // denominator, 32 for 1:32
	Digital bool
	Phase   Phase
	Next    string // what enter does now, in words; empty if nothing
	NextKey string // stable code of that step: "draw", "stage", "start", "resume", "finish", "accept", "close-night"
	Card    Card

	Clock   Clock
	Heat    int // number of the heat at the line or running, 0 if none
	Heats   int // heats in the draw
	Running []LaneRow
	Cars    []CarRow // digital nights

	Entries   []EntryRow
	Ahead     []HeatRow // the draw, run and unrun, in order
	Questions []Question
	Rulings   []RulingRow  // newest last
	JustNow   []NoteRow    // last things that happened, newest last, at most 50
	Standings []ResultRow  // of the night so far
	Last      []ResultRow  // of the last finished heat
	Bests     []BestRow    // practice and night bests
	Counter   CounterState // first source
	Counters  []CounterState
	Undo      string // what u would take back, in words; empty if nothing
	Redo      string
	Lanes     []LaneState
	Draw      DrawInfo
}

// Clock tells the screen what time to show without asking anybody: shown = Elapsed + (now - AsOf) while Ticking.
type Clock struct {
	Ticking bool
	Speed   float64       // simulated speed, 1 in real life
	AsOf    time.Time     // host time of the reading
	Elapsed time.Duration // driven time of the heat, holds left out
	Length  time.Duration // of a timed heat, 0 for a lap heat
	Laps    int           // of a lap heat, 0 for a timed one
	Lamps   int           // lamps lit while phase is Lamps or Resuming
	LampsOf int
	Until   time.Time // end of a countdown, zero if none
}

// LaneRow is one lane of the heat at the line, in lane order.
type LaneRow struct {
	Lane     int
	Driver   int // 0: nobody
	Name     string
	Short    string
	Car      string
	Closed   bool
	Laps     int // counted
	Part     int // part lap in 1/PartOf, -1 if not set
	PartOf   int
	Last     time.Duration // 0 unknown
	Best     time.Duration // 0 unknown
	Median   time.Duration // 0 unknown
	Place    int           // 0 unknown
	Shared   bool          // the place is shared
	Behind   int           // whole laps behind the leader
	Gap      time.Duration // to the leader in the same lap
	GapKnown bool
	KmhScale float64         // scale speed of the last lap, 0 unknown
	Recent   []time.Duration // lap times, oldest first, at most 40
	Passes   int             // raw passes heard
	LastPass time.Time       // host time of the last pass, for lighting up
	Timed    bool            // false: no lap time can be given (arrival timed or across a break)
	Digits   int             // digits after the decimal mark that the source deserves
	Done     bool            // finished its heat
	Open     int             // questions waiting about it
}

// CarRow is one car of a digital heat.
type CarRow struct {
	Car int
	LaneRow
	LengthFrom, LengthTo float64 // mm, shortest and longest lap when sensors do not tell the lane
}

// EntryRow is one driver of the night.
type EntryRow struct {
	Driver   int
	Name     string
	Short    string
	Class    string
	Group    string
	Car      string
	CarShare int // driver who shares the car, 0 nobody
	Away     bool
	HeatsRun int
	HeatsToo int // heats still to drive
}

// HeatRow is one heat of the draw.
type HeatRow struct {
	Heat     int
	Group    string
	Drivers  []int // by lane, index 0 is lane 1; 0 nobody
	Names    []string
	Marshals []string // by post
	State    string   // "ahead", "at the line", "run", "void"
}

// Question is a doubt of the judge with what it proposes. Accepting carries the proposal out as a ruling.
type Question struct {
	ID       uint64
	Heat     int
	Lane     int
	Driver   string
	Kind     string // "bounce", "phantom", "missed", "too quick", "wrong lane", "jump start"
	Text     string
	Proposal string // "give lane 2 a lap"
	At       time.Duration
}

// RulingRow is one ruling, answered question or penalty.
type RulingRow struct {
	ID     uint64 // journal number
	Heat   int
	Lane   int
	Driver string
	Text   string
	By     string
	Why    string
	Undone bool
	Wall   time.Time
}

// NoteRow is a line of what just happened.
type NoteRow struct {
	Seq  uint64
	Wall time.Time
	Text string
	Bad  bool // something to look at
}

// ResultRow is one line of results: of a heat, a night, a class, a group.
type ResultRow struct {
	Place   int
	Shared  bool
	Driver  int
	Name    string
	Class   string
	Laps    int
	Part    int // in 1/PartOf
	PartOf  int
	Best    time.Duration
	Last    time.Duration // of the last counted pass
	Heats   int
	Gap     string
	Reason  string // how a tie was broken, or why it stands
	ByLane  []int  // laps by lane, index 0 is lane 1; -1 not driven
	Points  string
	Penalty int // laps taken
}

// BestRow is a best lap.
type BestRow struct {
	Driver int
	Name   string
	Lane   int
	Best   time.Duration
	Laps   int
	Kmh    float64
}

// CounterState is how a counter is doing.
type CounterState struct {
	Source  int
	Name    string // device or file
	State   string // "closed", "opening", "silent", "talking", "lost"
	Passes  int
	Damaged int // lines
	Missing int // passes known to be lost
	Asked   int // passes asked for again and got
	Power   string
	Note    string
}

// LaneState is one lane of the layout.
type LaneState struct {
	Lane     int
	Name     string
	LengthMM float64
	Closed   bool
	Lit      time.Time // last pass on it, for the lane check
}

// DrawInfo says how the draw was made.
type DrawInfo struct {
	Kind  string
	Seed  uint64
	Proof string
	Stale bool // entries or lanes changed since: a re-draw is due
	Lines []string
}
