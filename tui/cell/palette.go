package cell

import (
	"fmt"

	"lanewright/tui/lane"
)

// Depth is how many colours a terminal shows.
type Depth uint8

// The depths. With 16 colours or fewer the lanes have no colours at all, only inverse chips: the sixteen differ between
// terminals too much to promise that two lanes can be told apart.
const (
	TrueColour Depth = iota
	Table256
	Table16
	NoColour
)

// Palette turns inks into colours for one depth and one background.
type Palette struct {
	depth Depth
	light bool
	sgr   map[Style]string
}

// NewPalette returns the palette for a depth; light says that the terminal's background is light.
func NewPalette(d Depth, light bool) *Palette {
	return &Palette{depth: d, light: light, sgr: map[Style]string{}}
}

// Depth returns what the palette was made for.
func (p *Palette) Depth() Depth { return p.depth }

// tone is a colour in every depth; rgb is 0xRRGGBB, sixteen the SGR number of a foreground, 0 for none.
type tone struct {
	rgb     uint32
	table   uint8
	sixteen uint8
}

// tones are the inks that are no lane's, on dark and on light backgrounds.
var tones = [2][lane1]tone{
	{Quiet: {0x9A9A9A, 247, 0}, Good: {0x5FD7AF, 79, 32}, Warn: {0xFFD75F, 221, 33}, Bad: {0xFF8767, 209, 31}, Accent: {0x87AFFF, 111, 36}, Panel: {0x262A33, 235, 0}},
	{Quiet: {0x626262, 241, 0}, Good: {0x00704F, 23, 32}, Warn: {0x875F00, 94, 33}, Bad: {0xAF3A03, 130, 31}, Accent: {0x1F4FA8, 25, 34}, Panel: {0xE8E8E2, 254, 0}},
}

// RGB returns the colour of an ink, 0xRRGGBB, and false for the terminal's own.
func (p *Palette) RGB(i Ink) (uint32, bool) {
	switch {
	case i == Plain || i >= inks:
		return 0, false
	case i >= onLane1:
		if lane.Of(int(i-onLane1) + 1).Dark {
			return 0x000000, true
		}
		return 0xFFFFFF, true
	case i >= lane1:
		return lane.Of(int(i-lane1) + 1).RGB, true
	}
	return tones[p.side()][i].rgb, true
}

func (p *Palette) side() int {
	if p.light {
		return 1
	}
	return 0
}

// table returns the place of an ink in the 256 colour table.
func (p *Palette) table(i Ink) uint8 {
	switch {
	case i >= onLane1:
		if lane.Of(int(i-onLane1) + 1).Dark8 {
			return 16
		}
		return 231
	case i >= lane1:
		return lane.Of(int(i-lane1) + 1).ANSI
	}
	return tones[p.side()][i].table
}

// Start returns the escape sequence that switches from plain text to the style, "" for plain text.
func (p *Palette) Start(s Style) string {
	if s == Normal {
		return ""
	}
	if seq, ok := p.sgr[s]; ok {
		return seq
	}
	seq := p.start(s)
	p.sgr[s] = seq
	return seq
}

func (p *Palette) start(s Style) string {
	chip := s.Bg >= lane1
	if chip && p.depth >= Table16 {
		s.Attr ^= Inverse // a chip without colour; an inverse chip is plain
	}
	if s.Fg == Quiet && p.depth == Table16 {
		s.Attr |= Faint
	}
	codes := ""
	for _, a := range [...]struct {
		on   Attr
		code string
	}{{Bold, ";1"}, {Faint, ";2"}, {Under, ";4"}, {Inverse, ";7"}} {
		if s.Attr&a.on != 0 {
			codes += a.code
		}
	}
	codes += p.colour(s.Fg, 38) + p.colour(s.Bg, 48)
	if codes == "" {
		return ""
	}
	return "\x1b[" + codes[1:] + "m"
}

// colour returns the codes of one ink; layer is 38 for the foreground, 48 for the background.
func (p *Palette) colour(i Ink, layer int) string {
	if i == Plain {
		return ""
	}
	switch p.depth {
	case TrueColour:
		rgb, _ := p.RGB(i)
		return fmt.Sprintf(";%d;2;%d;%d;%d", layer, rgb>>16, rgb>>8&0xff, rgb&0xff)
	case Table256:
		return fmt.Sprintf(";%d;5;%d", layer, p.table(i))
	case Table16:
		if i < lane1 && layer == 38 {
			if n := tones[p.side()][i].sixteen; n != 0 {
				return fmt.Sprintf(";%d", n)
			}
		}
	}
	return ""
}
