package layout

import "lanewright/layout/curve"

// Kit is a set of piece shapes with their sizes; ReadKit makes one from TOML.
type Kit struct {
	File   string
	Name   string
	Routed bool // no pieces: every call states its own lengths, radii and angles

	RoadWidthMM float64     // strip of one road, and how far the next road lies beside it
	SpacingMM   float64     // between neighbouring lanes
	EdgeMM      float64     // of routed kits: outside the outer lanes; the road is as wide as lanes and edges need
	Lanes       int         // on one road, 2..8
	Shape       curve.Shape // of sideways moves, where a piece does not state its own

	Joint  Joint
	Limits Limits
	Pieces []Piece // in the order of the file, which is the order of preference
}

// Joint says what one joint gives, on either side.
type Joint struct {
	PlayMM   float64
	AngleDeg float64
	HeightMM float64
}

// Limits are the limits a club sets itself; 0 means none.
type Limits struct {
	GradePercent float64 // steepest slope of any lane
	RadiusMM     float64 // least radius of any lane
	ClearMM      float64 // least height between a lower road and the underside of a bridge
	DeckMM       float64 // thickness of a bridge's deck
}

// Move says to which side a changer lets a car move.
type Move int

// The moves.
const (
	MoveNone Move = iota
	MoveLeft
	MoveRight
	MoveBoth
)

// String returns the move as calls write it.
func (m Move) String() string {
	switch m {
	case MoveLeft:
		return "left"
	case MoveRight:
		return "right"
	case MoveBoth:
		return "both"
	}
	return ""
}

// Piece is one kind of piece of a kit.
//
// It is a curve when RadiusMM is positive, otherwise straight with LengthMM.
type Piece struct {
	Name string // in words, as parts lists and stocks name it: "straight half", "curve 60 ring 1", "changer left"
	Line int    // of the kit file
	Kind Kind
	Word string // of straights and of pieces a kit has several of: the name within its kind, "half", "short"

	LengthMM float64
	RadiusMM float64 // of the centre line
	AngleDeg float64 // positive
	Ring     int     // 0 for hairpins
	Hairpin  bool
	Turn     int // 1 laid only to the left, -1 only to the right, 0 either way
	BankDeg  float64

	Move         Move // of changers
	Shape        curve.Shape
	ShiftMM      float64 // of sideways shifts, positive to the left
	FromMM, ToMM float64 // lane spacing before and after, 0 where a piece leaves it alone
	RiseMM       float64 // of ramps, laid upwards
	Crosses      [2]int  // the two lanes that swap in a crossing
	Sensors      [][]float64
	MeasuredMM   []float64 // by position from the left; of curves from the inside outwards; empty where not measured
	MeasuredMove float64   // length of a change, 0 where not measured
	Stock        int       // -1 where the kit does not say
}

// LaneOffsetMM returns how far position i of n lies to the left of the middle of its road.
func LaneOffsetMM(i, n int, spacingMM float64) float64 {
	return (float64(n+1)/2 - float64(i)) * spacingMM
}
