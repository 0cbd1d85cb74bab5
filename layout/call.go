package layout

// Call is one line of the course as a builder says it.
type Call struct {
	Text    string
	Line    int    // of the plan file
	Sides   []Side // one for all roads, or one for each road or group of roads
	Beliefs []Belief
	Bridge  bool     // this stretch may run over or under another
	Apart   bool     // the roads part here on purpose
	Trouble *Finding // why the call could not be read; nil when it could
}

// Side is what a call says for some of the roads.
type Side struct {
	Roads []int // empty: all roads
	Items []Item
}

// Verb is the kind of thing an item calls for.
type Verb int

// The verbs.
const (
	VerbStraight Verb = iota
	VerbBend
	VerbHairpin
	VerbCrossing
	VerbChanger
	VerbNarrowIn
	VerbNarrowOut
	VerbShift
	VerbTiming
	VerbSensor
	VerbTrap
	VerbCrossroads
	VerbRamp
	VerbChicane // only while a call is read: it becomes a narrow-in, straights and a narrow-out
)

// Item is one piece, or one run of like pieces, within a call.
type Item struct {
	Verb   Verb
	Word   string  // a straight's name, a sensor's name, "up" or "down"
	Number float64 // as written after the verb: a count or a length, 0 where none
	UnitMM bool    // Number was written with mm
	Turn   int     // 1 left, -1 right
	Micro  int64   // total angle in millionths of a degree
	Pieces []int64 // angles of the pieces asked for one by one, empty where the engine chooses
	Ring   int     // 0 where not stated
	Radius float64 // mm, 0 where not stated
	Move   Move
	Road   int       // 0: all roads; otherwise the others lay plain pieces beside it
	Lanes  [2]int    // which lanes cross or change
	AtMM   []float64 // sensor places stated in the call, by position
	ToMM   float64   // lane spacing after a routed narrow piece
	RiseMM float64   // over the whole item, negative: falls
}

// Belief is something the builder believes of a call.
type Belief struct {
	Pieces           []int // by road, or one number for all roads together
	AngleMicro       int64 // turned, positive to the left when Signed
	HasAngle, Signed bool
	LengthMM         float64 // along the middle of a road, 0 where not stated
}
