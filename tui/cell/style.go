package cell

// Ink names what a cell's foreground or background means; a [Palette] turns it into a colour, or into none.
type Ink uint8

// The inks. LaneInk and LaneOn give those of a lane.
const (
	Plain   Ink = iota // the terminal's own
	Quiet              // of less weight
	Good               // as it should be
	Warn               // to look at
	Bad                // stopped, wrong
	Accent             // headings, what is chosen
	Panel              // background of a panel over the screen
	lane1              // the colours of lanes 1..8
	onLane1 = lane1 + 8
	inks    = onLane1 + 8
)

// LaneInk is the colour of a lane's chip. Lanes past the eighth repeat.
func LaneInk(n int) Ink {
	if n < 1 {
		return Plain
	}
	return lane1 + Ink((n-1)%8)
}

// LaneOn is the ink that reads well on the colour of the lane's chip.
func LaneOn(n int) Ink {
	if n < 1 {
		return Plain
	}
	return onLane1 + Ink((n-1)%8)
}

// Attr is a set of attributes that every terminal has.
type Attr uint8

// The attributes.
const (
	Bold Attr = 1 << iota
	Faint
	Under
	Inverse
)

// Style is how a cell looks. The zero Style is plain text.
type Style struct {
	Fg, Bg Ink
	Attr   Attr
}

// Chip is the style of a lane's chip: its colour with the ink that reads on it. Without colours it is inverse.
func Chip(n int) Style { return Style{Fg: LaneOn(n), Bg: LaneInk(n), Attr: Bold} }

// Common styles, named for their use.
var (
	Normal = Style{}
	Strong = Style{Attr: Bold}
	Dim    = Style{Fg: Quiet}
	Head   = Style{Fg: Accent, Attr: Bold}
	Block  = Style{Attr: Inverse | Bold}
	Pick   = Style{Attr: Inverse}
	Alarm  = Style{Fg: Bad, Attr: Bold}
	Notice = Style{Fg: Warn, Attr: Bold}
	Fine   = Style{Fg: Good}
)
