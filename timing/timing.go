// Package timing says when cars passed.
//
// It holds plain data only: what a counter can tell ([Message]) and the pass
// of one car over one sensor ([Pass]). The packages below it turn bytes into
// these values:
//
//	timing/wire      our own sentences, bytes to fields and back; pure
//	timing/describe  other counters' lines, as a TOML file describes them; pure
//	timing/clock     ticks to a steady time line; pure
//	timing/port      serial ports, kept open
//	timing/listen    all of the above tied into a source of messages
//	timing/tape      the capture file: raw bytes with their times
//	timing/bench     a simulated counter that speaks the real bytes
//
// Times. A counter that counts ticks has a time line of its own, a
// [time.Duration] since that counter's tick zero, unwrapped. It is cut into
// segments: a new one begins whenever the counter restarted, was swapped, or
// was silent for so long that its wraps cannot be told. Times of different
// segments, or of different sources, must never be subtracted. A counter
// without ticks is arrival-timed: its time line is the host's monotonic clock
// since the source was opened, and its times deserve fewer digits.
package timing

import "time"

// Pass is one car over one sensor at one time.
type Pass struct {
	Source string // name of the source that heard it, as configured
	Sensor int    // 1 is the timing line
	Lane   int    // counted from 1; 0 where the counter tells cars, not lanes
	Car    int    // counted from 1; 0 where the counter tells lanes, not cars

	// At is the time on the source's own unwrapped time line, cut to whole
	// nanoseconds. Only times with equal Source and Segment may be compared.
	At      time.Duration
	Segment int // counted from 1

	Ticks uint64    // the counter's own figure as sent, not unwrapped
	Timed bool      // false: the counter sends no ticks, At is the moment of receipt
	Heard time.Time // when the first byte of its line was read, wall and monotonic

	Serial uint64 // the counter's own running number; 0 where it has none
	Boot   uint64 // the counter's boot number; 0 where it has none
	Again  bool   // it came late, because it was asked for again
	Raw    string // the line as it came, without line end; hex for binary lines
}

// State says what a port is doing.
type State uint8

// The states of a port, in the order in which they usually come.
const (
	Closed  State = iota // not open and not meant to be
	Opening              // being opened for the first time or again
	Silent               // open, nothing understandable for a while
	Talking              // open, sentences come in
	Lost                 // was open, failed; will be opened again
)

// String returns the state as a lower-case word.
func (s State) String() string {
	switch s {
	case Closed:
		return "closed"
	case Opening:
		return "opening"
	case Silent:
		return "silent"
	case Talking:
		return "talking"
	case Lost:
		return "lost"
	}
	return "unknown"
}

// ParseState is the inverse of [State.String].
func ParseState(word string) (State, bool) {
	for s := Closed; s <= Lost; s++ {
		if s.String() == word {
			return s, true
		}
	}
	return Closed, false
}
