// Package lane says how a lane is told from the others on a screen: by number first, then by shape, by place, and by
// colour last. Every screen stays complete when the colours are gone.
//
// The colours are the eight of the Okabe-Ito palette (M. Okabe, K. Ito, Color Universal Design, 2008), with white for the
// palette's black, in an order of our own: the first two, four and six lanes differ most for people who see fewer colours.
package lane

// Mark is how one lane is drawn.
type Mark struct {
	Shape  string // one cell
	ASCII  string // the same where only ASCII can be shown
	Colour string // in words, for palette and help
	RGB    uint32 // 0xRRGGBB, background of its chip
	ANSI   uint8  // the same in the 256 colour table
	Dark   bool   // its ink on the RGB background is black
	Dark8  bool   // its ink on the 256 colour background is black
	Dots   [7]uint8
	Dots5  [5]uint8 // the same in five rows
}

// Most is the greatest number of lanes that have a mark of their own.
const Most = 8

// marks are in lane order. Dots are rows of five dots, the highest of the five bits at the left.
var marks = [Most]Mark{
	{"■", "#", "vermillion", 0xD55E00, 124, true, false, [7]uint8{0b00000, 0b11111, 0b11111, 0b11111, 0b11111, 0b11111, 0b00000}, [5]uint8{0b11111, 0b11111, 0b11111, 0b11111, 0b11111}},
	{"▲", "^", "sky", 0x56B4E9, 81, true, true, [7]uint8{0b00100, 0b00100, 0b01110, 0b01110, 0b11111, 0b11111, 0b00000}, [5]uint8{0b00100, 0b00100, 0b01110, 0b01110, 0b11111}},
	{"●", "o", "yellow", 0xF0E442, 220, true, true, [7]uint8{0b00000, 0b01110, 0b11111, 0b11111, 0b11111, 0b01110, 0b00000}, [5]uint8{0b01110, 0b11111, 0b11111, 0b11111, 0b01110}},
	{"◆", "*", "blue", 0x0072B2, 25, false, false, [7]uint8{0b00100, 0b01110, 0b11111, 0b11111, 0b11111, 0b01110, 0b00100}, [5]uint8{0b00100, 0b01110, 0b11111, 0b01110, 0b00100}},
	{"▼", "v", "purple", 0xCC79A7, 139, true, true, [7]uint8{0b00000, 0b11111, 0b11111, 0b01110, 0b01110, 0b00100, 0b00100}, [5]uint8{0b11111, 0b01110, 0b01110, 0b00100, 0b00100}},
	{"□", "=", "white", 0xFFFFFF, 231, true, true, [7]uint8{0b00000, 0b11111, 0b10001, 0b10001, 0b10001, 0b11111, 0b00000}, [5]uint8{0b11111, 0b10001, 0b10001, 0b10001, 0b11111}},
	{"△", "A", "green", 0x009E73, 71, true, true, [7]uint8{0b00100, 0b00100, 0b01010, 0b01010, 0b10001, 0b11111, 0b00000}, [5]uint8{0b00100, 0b01010, 0b01010, 0b10001, 0b11111}},
	{"○", "0", "orange", 0xE69F00, 172, true, true, [7]uint8{0b00000, 0b01110, 0b10001, 0b10001, 0b10001, 0b01110, 0b00000}, [5]uint8{0b01110, 0b10001, 0b10001, 0b10001, 0b01110}},
}

// Of returns the mark of a lane, counted from 1. Lanes past the eighth repeat the marks; the number tells them apart. A lane
// below 1 has a blank mark.
func Of(n int) Mark {
	if n < 1 {
		return Mark{Shape: " ", ASCII: " "}
	}
	return marks[(n-1)%Most]
}
