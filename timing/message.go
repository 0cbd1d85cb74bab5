package timing

import "time"

// Message is anything a source has to say: a [Pass], [Beat], [Status],
// [PowerAck], [LampAck], [Missing], [Port], [Reset], [Damaged], [ClockStep],
// [Drift] or [Unanswered], always by value. The set is closed.
type Message interface{ message() }

// Beat is a counter's sign of life. When it has been received, every pass
// with a smaller time on that source has been received too, or is reported
// as missing: a source delivers in the order of the counter.
type Beat struct {
	Source  string
	Ticks   uint64 // as sent
	At      time.Duration
	Segment int
	Last    uint64 // running number of the newest pass, 0 if none
	Boot    uint64
	Heard   time.Time
	Raw     string
}

// Status is what a counter says of itself: on request and when it starts.
type Status struct {
	Source  string
	Name    string
	Boot    uint64 // differs after every restart of the counter; 0 if it cannot tell
	Lanes   int
	Sensors int
	RateNum uint64 // ticks per second are RateNum/RateDen
	RateDen uint64
	Bits    int  // ticks wrap at 2^Bits
	Ring    int  // how many passes it can say again
	Power   bool // it can switch lane power
	Lamps   int  // number of start lamps, 0 if it has none
	Heard   time.Time
	Raw     string
}

// PowerAck says which lanes have power since when. ID is that of the command
// it answers, 0 when the counter did it by itself.
type PowerAck struct {
	Source  string
	ID      uint64
	Lanes   uint32 // bit 0 is lane 1: set where power is on
	Ticks   uint64
	At      time.Duration
	Segment int
	Boot    uint64 // 0 where the counter cannot tell, or the numbers of its passes are not known yet
	Last    uint64 // where Boot is known: number of the newest pass before it; every pass up to there has been told
	Heard   time.Time
	Raw     string
}

// On tells whether lane (counted from 1) has power.
func (p PowerAck) On(lane int) bool {
	return lane >= 1 && lane <= 32 && p.Lanes>>(lane-1)&1 == 1
}

// Go says what a lamp command means for the race.
type Go uint8

// The kinds of lamp command.
const (
	Wait  Go = iota // lamps only
	Start           // the heat starts now
	Again           // the heat goes on after a track call
)

// LampAck says what the start lamps show since when. With Go == [Start] its
// time is the start of the heat.
type LampAck struct {
	Source  string
	ID      uint64
	Lit     int // number of lamps lit
	Go      Go
	Ticks   uint64
	At      time.Duration
	Segment int
	Heard   time.Time
	Raw     string
}

// Missing says that passes happened which can no longer be had: the running
// numbers First to Last inclusive, Count of them.
type Missing struct {
	Source string
	First  uint64
	Last   uint64
	Count  uint64
	Boot   uint64
	Why    string
	Heard  time.Time // when they were given up
}

// Port tells a change of a port's state.
type Port struct {
	Source string
	State  State
	Detail string // why, for people; may be empty
	Heard  time.Time
}

// Reset says that a new clock segment has begun.
type Reset struct {
	Source  string
	Segment int // the new one
	Boot    uint64
	Why     string
	Heard   time.Time
}

// Damaged reports bytes that made no sentence.
type Damaged struct {
	Source string
	Bytes  int    // how many were rejected
	Why    string // bad check, too long, ...
	Heard  time.Time
	Raw    string // the first of them, quoted as in a Go string without the quotes
}

// ClockStep says that wall clock and monotonic clock of this computer have
// moved apart by By since the message before: it was suspended (By positive,
// the monotonic clock stands still) or its clock was set.
type ClockStep struct {
	Source string
	By     time.Duration
	Heard  time.Time
}

// Drift warns that the counter's clock and the host's differ by more than
// 300 parts per million. Nothing is corrected.
type Drift struct {
	Source string
	PPM    float64 // positive: the counter runs fast
	Heard  time.Time
}

// Unanswered says that a command got no acknowledgement though it was sent
// several times, or that the counter refused it.
type Unanswered struct {
	Source string
	ID     uint64
	What   string // for people: "power 0F"
	Why    string
	Heard  time.Time
}

func (Pass) message()       {}
func (Beat) message()       {}
func (Status) message()     {}
func (PowerAck) message()   {}
func (LampAck) message()    {}
func (Missing) message()    {}
func (Port) message()       {}
func (Reset) message()      {}
func (Damaged) message()    {}
func (ClockStep) message()  {}
func (Drift) message()      {}
func (Unanswered) message() {}
