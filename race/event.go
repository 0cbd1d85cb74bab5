package race

import "time"

// Wall is a moment of the computer's wall clock in nanoseconds since 1970 UTC. It is for people; nothing is decided by it.
type Wall int64

// WallOf returns the wall clock reading of t.
func WallOf(t time.Time) Wall { return Wall(t.UnixNano()) }

// Time returns w as a time in the local zone.
func (w Wall) Time() time.Time { return time.Unix(0, int64(w)) }

// Event is one thing that happened in a night, as the journal keeps it. The set is closed: the types of this file and no others.
// Events are values and are never changed after they are made.
type Event interface {
	Kind() Kind
	When() Wall
}

// Stamp is the part that every event has.
type Stamp struct {
	Wall Wall `json:"wall"`
}

// When returns the wall clock time of the event.
func (s Stamp) When() Wall { return s.Wall }

// LaneInfo is a lane of the layout as it was when the night opened.
type LaneInfo struct {
	Name     string    `json:"name,omitempty"` // what people shout: "red"
	LengthMM float64   `json:"length_mm"`
	CallsMM  []float64 `json:"calls_mm,omitempty"` // distance from the timing line to the start of call 1, 2, ... along this lane
}

// LayoutInfo is the layout of a night, frozen.
type LayoutInfo struct {
	Name  string     `json:"name"`
	Text  string     `json:"text,omitempty"` // the whole layout file
	Lanes []LaneInfo `json:"lanes"`
}

// The events that set a night up.
type (
	// Opened begins a night and freezes what it is raced on.
	Opened struct {
		Stamp
		Night   string     `json:"night"`
		Club    string     `json:"club,omitempty"`
		Title   string     `json:"title,omitempty"`
		Layout  LayoutInfo `json:"layout"`
		Scale   int        `json:"scale"` // denominator
		Card    Card       `json:"card"`
		Seed    uint64     `json:"seed"`              // of random holds and lots
		Counter string     `json:"counter,omitempty"` // the source whose passes count; "": whichever
		Speed   float64    `json:"speed,omitempty"`   // of a simulated night: counter seconds per second of this computer; 0 is 1
		// A digital night: cars are told by number and share lanes.
		Digital    bool    `json:"digital,omitempty"`
		Cars       int     `json:"cars,omitempty"`        // highest car number, 8 if 0
		ShortestMM float64 `json:"shortest_mm,omitempty"` // shortest and longest way round a lap
		LongestMM  float64 `json:"longest_mm,omitempty"`
	}
	// DriverAdded signs a driver on. Drivers are numbered 1, 2, ... in order.
	DriverAdded struct {
		Stamp
		Driver   int    `json:"driver"`
		Name     string `json:"name"`
		Short    string `json:"short,omitempty"`
		Class    string `json:"class,omitempty"`
		Group    string `json:"group,omitempty"`
		Car      string `json:"car,omitempty"`
		Register string `json:"register,omitempty"`
		Comes    int    `json:"comes,omitempty"`  // drives from this heat on, 0 from the first
		Leaves   int    `json:"leaves,omitempty"` // drives up to this heat, 0 to the last
	}
	// DriverLeft takes a driver out of the heats not yet run.
	DriverLeft struct {
		Stamp
		Driver int `json:"driver"`
	}
	// DriverBack takes him in again.
	DriverBack struct {
		Stamp
		Driver int `json:"driver"`
	}
	// CarShared says that two drivers use one car and so cannot drive in the same heat; With 0 ends it.
	CarShared struct {
		Stamp
		Driver int `json:"driver"`
		With   int `json:"with"`
	}
	// CarAssigned gives a driver a car number on a digital night.
	CarAssigned struct {
		Stamp
		Driver int `json:"driver"`
		Car    int `json:"car"`
	}
	// CardSet replaces the rule card; only while no heat has been run.
	CardSet struct {
		Stamp
		Card Card `json:"card"`
	}
	// Drawn replaces all heats not yet run.
	Drawn struct {
		Stamp
		Draw   string        `json:"draw"` // "balanced", "rolling", "short", ...
		Rounds int           `json:"rounds,omitempty"`
		Seed   uint64        `json:"seed"`
		Proof  string        `json:"proof,omitempty"`
		Lines  []string      `json:"lines,omitempty"` // what there is to say about it
		Heats  []PlannedHeat `json:"heats"`
	}
	// LaneClosed takes a lane out of use.
	LaneClosed struct {
		Stamp
		Lane int    `json:"lane"`
		Why  string `json:"why,omitempty"`
	}
	// LaneOpened takes a closed lane into use again.
	LaneOpened struct {
		Stamp
		Lane int `json:"lane"`
	}
	// NightClosed ends a night.
	NightClosed struct{ Stamp }
)

// PlannedHeat is a heat of the draw. A seat is a lane, or on digital nights a car number.
type PlannedHeat struct {
	Group    string `json:"group,omitempty"`
	Drivers  []int  `json:"drivers"`            // by seat, index 0 is seat 1; 0 nobody
	Marshals []int  `json:"marshals,omitempty"` // by post, 0 nobody
	// A main is a final. Mains are driven from the lowest up and do not add to the sum of the night; when one is accepted its first
	// StepUp drivers take the seats that the next main has open.
	Main   string `json:"main,omitempty"` // "A" is the highest
	StepUp int    `json:"step_up,omitempty"`
}

// The events of a heat. At is always counter time of the named source and segment.
type (
	// HeatStaged calls a heat to the line.
	HeatStaged struct {
		Stamp
		Heat int `json:"heat"`
	}
	// LampsStarted begins the start sequence.
	LampsStarted struct {
		Stamp
		Lamps     int           `json:"lamps"`
		Countdown time.Duration `json:"countdown_ns"`
		Hold      time.Duration `json:"hold_ns"` // random, after the last lamp
	}
	// StartBroken takes a start back before or at go: jump start, or somebody is not ready.
	StartBroken struct {
		Stamp
		Why string `json:"why,omitempty"`
	}
	// Went is go.
	Went struct {
		Stamp
		Source  string        `json:"source"`
		Segment int           `json:"segment"`
		At      time.Duration `json:"at_ns"`
		Acked   bool          `json:"acked"` // At comes from the counter's own acknowledgement
	}
	// Passed is one pass as the counter told it.
	Passed struct {
		Stamp
		Pass
	}
	// Held is a track call: the clock of the heat stands from At on.
	Held struct {
		Stamp
		Segment int           `json:"segment"`
		At      time.Duration `json:"at_ns"`
		Acked   bool          `json:"acked"`
		Why     string        `json:"why,omitempty"`
		By      string        `json:"by,omitempty"`
	}
	// ResumeStarted begins the countdown back to green.
	ResumeStarted struct {
		Stamp
		Lamps     int           `json:"lamps"`
		Countdown time.Duration `json:"countdown_ns"`
	}
	// Resumed lets the clock of the heat run again from At on.
	Resumed struct {
		Stamp
		Segment int           `json:"segment"`
		At      time.Duration `json:"at_ns"`
		Acked   bool          `json:"acked"`
	}
	// TimeUp says when the time of a heat was over, or when the winner of a lap heat was home.
	TimeUp struct {
		Stamp
		Segment int           `json:"segment"`
		At      time.Duration `json:"at_ns"`
	}
	// Finished ends a heat: no pass after At counts.
	Finished struct {
		Stamp
		Segment int           `json:"segment"`
		At      time.Duration `json:"at_ns"`
		Early   bool          `json:"early,omitempty"` // ended by hand
	}
	// Accepted accepts a finished heat.
	Accepted struct {
		Stamp
		Heat int  `json:"heat"`
		Auto bool `json:"auto,omitempty"`
	}
	// Voided declares a heat void: what was driven does not count and the heat is to be driven again.
	Voided struct {
		Stamp
		Heat int    `json:"heat"`
		Why  string `json:"why,omitempty"`
	}
	// SegmentBroke says that counter time began anew: time New of segment To is taken to be time Old of segment From. The
	// relation comes from the host's clock, so laps across it are counted but not timed.
	SegmentBroke struct {
		Stamp
		Source string        `json:"source"`
		From   int           `json:"from"`
		To     int           `json:"to"`
		Old    time.Duration `json:"old_ns"`
		New    time.Duration `json:"new_ns"`
		Why    string        `json:"why,omitempty"`
	}
	// PracticeStarted and PracticeStopped bracket free laps.
	PracticeStarted struct{ Stamp }
	// PracticeStopped ends free laps.
	PracticeStopped struct{ Stamp }
)

// The rulings. Seat is a lane, on digital nights a car. Each can be taken back by TakenBack.
type (
	// LapsGiven gives laps, or takes them where Laps is negative.
	LapsGiven struct {
		Stamp
		Heat int    `json:"heat"`
		Seat int    `json:"seat"`
		Laps int    `json:"laps"`
		Why  string `json:"why,omitempty"`
		By   string `json:"by,omitempty"`
	}
	// PassStruck strikes out the pass with this journal number.
	PassStruck struct {
		Stamp
		Heat int    `json:"heat"`
		Seat int    `json:"seat"`
		Pass uint64 `json:"pass"`
		Why  string `json:"why,omitempty"`
		By   string `json:"by,omitempty"`
	}
	// PassMoved moves a pass to another seat.
	PassMoved struct {
		Stamp
		Heat int    `json:"heat"`
		Seat int    `json:"seat"`
		To   int    `json:"to"`
		Pass uint64 `json:"pass"`
		Why  string `json:"why,omitempty"`
		By   string `json:"by,omitempty"`
	}
	// PartSet sets the part lap of a seat to Part of the card's PartOf. From tells how it was given.
	PartSet struct {
		Stamp
		Heat int    `json:"heat"`
		Seat int    `json:"seat"`
		Part int    `json:"part"`
		From string `json:"from,omitempty"` // "call 7", "8123 mm", "3/10"
		By   string `json:"by,omitempty"`
	}
	// Penalised takes laps and hundredths of a lap from a seat's result.
	Penalised struct {
		Stamp
		Heat       int    `json:"heat"`
		Seat       int    `json:"seat"`
		Laps       int    `json:"laps"`
		Hundredths int    `json:"hundredths,omitempty"`
		Why        string `json:"why,omitempty"`
		By         string `json:"by,omitempty"`
	}
	// StintDropped says that a seat's stint does not count at all.
	StintDropped struct {
		Stamp
		Heat int    `json:"heat"`
		Seat int    `json:"seat"`
		Why  string `json:"why,omitempty"`
		By   string `json:"by,omitempty"`
	}
	// Asked puts a question of the judge. ID is made of heat, seat and the count of questions about that seat.
	Asked struct {
		Stamp
		ID       uint64        `json:"id"`
		Heat     int           `json:"heat"`
		Seat     int           `json:"seat"`
		What     string        `json:"what"` // "bounce", "phantom", "missed", "too quick", "wrong lane", "jump start"
		Text     string        `json:"text"`
		At       time.Duration `json:"at_ns"` // driven time in the heat
		Pass     uint64        `json:"pass,omitempty"`
		Proposal Proposal      `json:"proposal"`
	}
	// Answered settles a question; Yes carries its proposal out.
	Answered struct {
		Stamp
		ID  uint64 `json:"id"`
		Yes bool   `json:"yes"`
		By  string `json:"by,omitempty"`
	}
	// TakenBack takes back the undoable event with this journal number.
	TakenBack struct {
		Stamp
		Of uint64 `json:"of"`
	}
	// DoneAgain does again what was taken back.
	DoneAgain struct {
		Stamp
		Of uint64 `json:"of"`
	}
)

// Proposal is what the judge would do.
type Proposal struct {
	Do   string `json:"do"`             // "strike", "give", "move", "penalise", "drop"
	Laps int    `json:"laps,omitempty"` // of "give" and "penalise"
	To   int    `json:"to,omitempty"`   // of "move"
}

// The notes: what is written down though it changes no result.
type (
	// Commented is a line somebody wrote.
	Commented struct {
		Stamp
		Lane int    `json:"lane,omitempty"`
		Text string `json:"text"`
	}
	// PortNoted tells how a counter's line is doing.
	PortNoted struct {
		Stamp
		Source string `json:"source"`
		State  string `json:"state"`
		Text   string `json:"text,omitempty"`
	}
	// PassesMissing says that passes are known to be lost.
	PassesMissing struct {
		Stamp
		Source string `json:"source"`
		First  uint64 `json:"first"`
		Last   uint64 `json:"last"`
		Count  uint64 `json:"count"`
		Why    string `json:"why,omitempty"`
	}
	// PowerNoted says which lanes have power since when.
	PowerNoted struct {
		Stamp
		Source  string        `json:"source"`
		Segment int           `json:"segment"`
		At      time.Duration `json:"at_ns"`
		Lanes   uint32        `json:"lanes"`           // bit 0 is lane 1
		Asked   bool          `json:"asked,omitempty"` // the program had asked for it
		// By these the counter's clock and passes can be taken up again when the program is started anew. 0 where it cannot tell.
		Ticks  uint64 `json:"ticks,omitempty"`
		Boot   uint64 `json:"boot,omitempty"`
		Number uint64 `json:"number,omitempty"` // of the newest pass before it
	}
	// ClockNoted tells of a wall clock that was set, a computer that slept, a drifting counter.
	ClockNoted struct {
		Stamp
		Source string        `json:"source,omitempty"`
		By     time.Duration `json:"by_ns,omitempty"`
		Text   string        `json:"text"`
	}
	// DamageNoted counts bytes that made no sentence.
	DamageNoted struct {
		Stamp
		Source string `json:"source"`
		Bytes  int    `json:"bytes"`
		Why    string `json:"why,omitempty"`
		Raw    string `json:"raw,omitempty"`
	}
	// Restarted says that the program took the night up again.
	Restarted struct {
		Stamp
		Text  string  `json:"text,omitempty"`
		Speed float64 `json:"speed,omitempty"`
	}
)

// Pass is what the counter told about one car over one sensor, kept in full so that everything can be worked out again.
type Pass struct {
	Source  string        // name of the counter
	Segment int           // of its clock; times of different segments are never subtracted
	Sensor  int           // 1 is the timing line
	Lane    int           // 0 where the counter tells cars
	Car     int           // 0 where the counter tells lanes
	At      time.Duration // on the counter's time line
	Ticks   uint64        // as sent
	Serial  uint64        // the counter's running number, 0 if none
	Boot    uint64        // the counter's boot number, 0 if none
	Untimed bool          // no ticks: At is a time of receipt
	Again   bool          // said again on request
	Heard   Wall          // time of receipt
	Raw     string        // the line as it came
}
