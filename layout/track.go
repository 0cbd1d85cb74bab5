package layout

import "lanewright/layout/curve"

// Kind says what a placed piece does to the cars on it.
type Kind int

// The kinds of pieces. A kind is a matter of behaviour, not of shape: a changer may be straight or curved.
const (
	KindStraight Kind = iota
	KindCurve
	KindCrossing   // the lanes of the road change sides; everybody swaps
	KindChanger    // a car may move to a neighbouring lane
	KindPinch      // the lanes come closer together, or spread again, or shift sideways
	KindTiming     // carries the timing line
	KindSensor     // carries a further sensor: a sector end, or one of the two of a speed trap
	KindCrossroads // two stretches of road cross here on the level
)

// Strand is one way through one placed piece: where a car enters, where it leaves, and the curve between.
//
// Positions count from 1 at the left edge of the road, seen in driving direction; they are positions on the
// road, not lanes: a lane may change position at a crossing.
type Strand struct {
	From, To int
	Plan     curve.Path // seen from above, in table coordinates
	RiseMM   float64    // height gained from entry to exit
	LengthMM float64    // in space; a measured length of the kit overrides the computed one
	Measured bool       // LengthMM comes from the kit's measurement
}

// Sensor is a sensing line on a placed piece.
type Sensor struct {
	Number int       // 1 is the timing line
	Name   string    // "timing", or the name the plan gives
	AtMM   []float64 // distance from the piece's start along the strand that stays, by position (index 0 is position 1)
}

// Placed is one piece of one road where it lies.
type Placed struct {
	Index   int    // 1.. in building order along its road
	Call    int    // 1.. number of the call in the plan
	Line    int    // line of the plan file, 0 where unknown
	Road    int    // 1.. from the left
	Piece   string // in words, as called: "left 60 ring 1"
	Part    string // in words, as parts lists name it, whichever way it is laid: "curve 60 ring 1"
	Kind    Kind
	TurnDeg float64    // positive to the left
	BankDeg float64    // banking, 0 where flat
	Start   curve.Pose // centre line, in table coordinates
	End     curve.Pose
	StartZ  float64    // height in mm
	EndZ    float64    // height in mm
	Centre  curve.Path // centre line from Start to End
	WidthMM float64    // of the road strip, for tables and clearance
	Stay    []Strand   // one per position: the way of a car that makes no optional change
	Change  []Strand   // optional ways; From differs from To
	Sensors []Sensor
	Bridge  bool // declared: may run over or under another stretch
}

// Road is one road of a resolved layout, piece by piece in driving order from its first call.
type Road struct {
	Number    int // 1.. from the left
	Positions int // lanes on it
	Pieces    []Placed
}

// LaneRef names a position on a road where both count from 1.
type LaneRef struct{ Road, Position int }

// Lane is one lane as a driver knows it: numbered from the left at the timing line.
type Lane struct {
	Number   int
	At       LaneRef // where it crosses the timing line
	LengthMM float64 // from the timing line once round to the timing line, without optional changes
	EndsIn   int     // the lane in which that lap ends; differs from Number where slots are joined
}

// Slot is a closed path that a car stays in without optional changes.
type Slot struct {
	Lanes    []int     // in the order in which it crosses the timing line; more than one when lanes are joined
	LapsMM   []float64 // what each lap measures, in the same order
	LengthMM float64   // all of them together
}

// Join says how one road meets its start again.
type Join struct {
	Road, Into   int     // Into is the road it runs into, normally itself
	GapMM        float64 // in plan
	ForwardMM    float64 // gap along the start's heading, positive: the end lies ahead of the start
	LeftMM       float64 // gap to the left of the start's heading
	AngleDeg     float64 // in (-180, 180]
	HeightMM     float64
	SpacingMM    float64 // lane spacing at the end less that at the start
	ShiftMM      float64 // how far to the left of their place the lanes have been shifted on the road
	NetTurnDeg   float64 // whole turning of the road
	Exact        bool    // the ends meet in exact arithmetic
	Provable     bool    // exact arithmetic applies (rational lengths, angles all multiples of one lattice angle)
	Usable       bool    // the misfit is within the joint play of the kit, and less than half its smallest piece
	WorstTurnDeg float64 // largest turn any joint would have to give
	WorstPlayMM  float64 // largest shift any joint would have to give
	Joints       int     // the misfit is shared among, one in front of each piece
}

// Track is a resolved layout: everything else (routes, tables, drawing, par laps) is computed from it.
type Track struct {
	Plan   Plan
	Kit    Kit
	Roads  []Road
	Lanes  []Lane
	Slots  []Slot
	Joins  []Join
	Closes bool // every road closes exactly or usably, and every slot is whole
}

// Level grades a finding.
type Level int

// The levels.
const (
	Note Level = iota
	Warning
	Error
)

// Finding is one thing the engine has to say about a plan, where it is, and what would help.
type Finding struct {
	Level  Level   `json:"level"`
	Code   string  `json:"code"` // stable, kebab-case: "ring-missing"
	File   string  `json:"file,omitempty"`
	Line   int     `json:"line,omitempty"`
	Call   int     `json:"call,omitempty"`
	Road   int     `json:"road,omitempty"`
	Amount float64 `json:"amount,omitempty"` // in Unit
	Unit   string  `json:"unit,omitempty"`   // "mm", "deg", "pieces"
	Text   string  `json:"text"`             // one sentence: what is wrong and by how much
	Way    string  `json:"way,omitempty"`    // a way out
}
