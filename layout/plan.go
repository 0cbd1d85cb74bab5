package layout

import "lanewright/layout/curve"

// Plan is a layout as a builder writes it down; ReadPlan makes one from TOML.
type Plan struct {
	File      string
	Name      string
	Kit       string  // name of a built-in kit, or a path to a kit file as written
	KitLine   int     // of the plan file
	Roads     int     // side by side, 1..4
	Lanes     int     // on one road of a routed track, 0: as the kit says
	SpacingMM float64 // of a routed track's lanes, 0: as the kit says
	Start     Start
	Tables    []Table
	Border    Border
	Stock     []StockLine // sorted by piece; what the club owns, overriding the kit's
	Calls     []Call
}

// Start says where the centre line of road 1 begins; the other roads begin beside it, to its right.
type Start struct {
	XMM, YMM, HeadingDeg, HeightMM float64
}

// Pose returns the start as a pose, in radians.
func (s Start) Pose() curve.Pose {
	return curve.Pose{X: s.XMM, Y: s.YMM, Heading: curve.Radians(s.HeadingDeg)}
}

// Table is one rectangle to build on. Before it is turned it reaches WidthMM along X and DepthMM along Y from its corner (XMM, YMM);
// it is then turned about that corner.
type Table struct {
	Name             string
	Line             int
	XMM, YMM         float64
	WidthMM, DepthMM float64
	TurnedDeg        float64
	Find             bool // the plan leaves its place open
}

// Border is the room wanted beside the road.
type Border struct {
	StraightMM float64 // beside straights and on the inside of bends
	OutsideMM  float64 // outside bends, where tails slide
}

// StockLine says how many of a piece a club owns.
type StockLine struct {
	Piece string
	Count int
	Line  int
}
