package wire

// Kind tells sentences apart.
type Kind uint8

// The kinds of [Sentence].
const (
	None     Kind = iota
	Damaged       // bytes that made no sentence
	Foreign       // framed and checked well, but not ours; only Raw is set
	Caps          // LWCAP
	Pass          // LWPAS
	Beat          // LWBEA
	Power         // LWPWR
	Lamps         // LWLMP
	End           // LWEND
	Refused       // LWNOT
	Noted         // LWNTD
	AskCaps       // LWQCP
	SetPower      // LWSPW
	SetLamps      // LWSLM
	SayAgain      // LWAGN
)

// Why says what was wrong with [Damaged] bytes.
type Why uint8

// The ways of being damaged.
const (
	Sound    Why = iota
	Stray        // bytes outside any sentence
	BadCheck     // framed, but the check digits disagree
	BadField     // framed and checked, but a field is missing or out of range
	BadFrame     // a byte that no sentence may hold, or an end without check digits
	TooLong      // no end within LenMax
	CutShort     // a new '$' before the end
)

// String returns a few words for people.
func (w Why) String() string {
	switch w {
	case Sound:
		return "sound"
	case Stray:
		return "stray bytes"
	case BadCheck:
		return "check digits disagree"
	case BadField:
		return "a field is missing or out of range"
	case BadFrame:
		return "not a whole sentence"
	case TooLong:
		return "line too long"
	case CutShort:
		return "cut short by a new sentence"
	}
	return "unknown damage"
}

// Sentence is one decoded sentence. Only the fields named in the list of the
// package comment for its kind are set, the others are zero.
type Sentence struct {
	Kind Kind
	Why  Why // for Damaged

	Serial uint64 // Pass
	Ticks  uint64 // Pass, Beat, Power, Lamps
	Sensor uint32 // Pass, from 1
	Lane   uint32 // Pass, 0 or 1..32
	Car    uint32 // Pass

	Mask uint32 // Power, SetPower
	Lit  uint32 // Lamps, SetLamps; Caps: number of lamps
	Go   uint32 // Lamps, SetLamps: 0, 1, 2

	ID    uint64 // Power, Lamps, Refused, Noted, SetPower, SetLamps
	At    uint64 // SetPower, SetLamps: when, if Timed
	Timed bool

	Boot  uint64 // Caps, Beat
	From  uint64 // End, SayAgain
	First uint64 // End
	Last  uint64 // End, Beat

	Version, Lanes, Sensors uint32 // Caps
	Num, Den                uint64 // Caps: ticks per second
	Bits                    uint32 // Caps, 8..63
	Ring                    uint32 // Caps
	HasPower                bool   // Caps

	// Name is the name in Caps. Raw is the sentence without line end, or the
	// damaged bytes, of which it holds at most the first LenMax. Both are
	// valid until the next call of the decoder or a change of its input.
	Name, Raw []byte

	Bytes  int    // length in the stream; for Damaged it may exceed len(Raw)
	Offset uint64 // where in the stream it began, counted from the decoder's first byte
}

// LaneMax is the highest lane that a mask can hold.
const LaneMax = 32

// Check returns the exclusive or of all bytes of body, which is what stands
// between '$' and '*'.
func Check(body []byte) byte {
	var x byte
	for _, c := range body {
		x ^= c
	}
	return x
}
