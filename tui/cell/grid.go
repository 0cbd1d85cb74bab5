// Package cell draws screens on a grid of cells. Whatever is drawn outside the grid is not drawn, so that no line is ever
// wider, and no screen longer, than the window; names in any script are cut at whole characters.
package cell

import (
	"strings"
	"unicode/utf8"

	"github.com/charmbracelet/x/ansi"
)

// Box is a rectangle of cells. A box of no width or height holds nothing.
type Box struct{ X, Y, W, H int }

// Inset returns the box less l, t, r, b cells at its sides.
func (b Box) Inset(l, t, r, d int) Box {
	return Box{b.X + l, b.Y + t, max(0, b.W-l-r), max(0, b.H-t-d)}
}

// Top cuts n rows off the top and returns them with the rest.
func (b Box) Top(n int) (top, rest Box) {
	n = min(max(n, 0), b.H)
	return Box{b.X, b.Y, b.W, n}, Box{b.X, b.Y + n, b.W, b.H - n}
}

// Bottom cuts n rows off the bottom and returns the rest with them.
func (b Box) Bottom(n int) (rest, bottom Box) {
	n = min(max(n, 0), b.H)
	return Box{b.X, b.Y, b.W, b.H - n}, Box{b.X, b.Y + b.H - n, b.W, n}
}

// Left cuts n columns off the left and returns them with the rest.
func (b Box) Left(n int) (left, rest Box) {
	n = min(max(n, 0), b.W)
	return Box{b.X, b.Y, n, b.H}, Box{b.X + n, b.Y, b.W - n, b.H}
}

// Row returns row n of the box, counted from 0; it is empty if the box has no such row.
func (b Box) Row(n int) Box {
	if n < 0 || n >= b.H {
		return Box{b.X, b.Y, 0, 0}
	}
	return Box{b.X, b.Y + n, b.W, 1}
}

// Has says whether the cell x, y lies in the box.
func (b Box) Has(x, y int) bool { return x >= b.X && x < b.X+b.W && y >= b.Y && y < b.Y+b.H }

// spot is one cell. text is one character as people count them; "" is a blank, and wide says that the cell is the second half
// of the character to its left.
type spot struct {
	text  string
	style Style
	wide  bool
}

// Zone is a part of the screen that can be clicked; ID names the action.
type Zone struct {
	Box
	ID string
}

// Grid is a screen being drawn.
type Grid struct {
	w, h  int
	spots []spot
	zones []Zone
	out   []byte
}

// NewGrid returns an empty grid of w columns and h rows.
func NewGrid(w, h int) *Grid {
	g := &Grid{}
	g.Reset(w, h)
	return g
}

// Reset empties the grid and gives it a size, keeping its memory.
func (g *Grid) Reset(w, h int) {
	g.w, g.h = max(w, 0), max(h, 0)
	n := g.w * g.h
	if cap(g.spots) < n {
		g.spots = make([]spot, n)
	} else {
		g.spots = g.spots[:n]
		clear(g.spots)
	}
	g.zones = g.zones[:0]
}

// Box returns the whole grid.
func (g *Grid) Box() Box { return Box{0, 0, g.w, g.h} }

// Put writes text from x, y to the right, in at most w cells, cut with an ellipsis. It returns the cells used.
func (g *Grid) Put(x, y, w int, st Style, text string) int {
	if y < 0 || y >= g.h || x >= g.w || w <= 0 {
		return 0
	}
	w = min(w, g.w-x)
	text = Cut(text, w)
	at := x
	for len(text) > 0 {
		var ch string
		n := 1
		if r, size := utf8.DecodeRuneInString(text); narrow(r) && alone(text[size:]) {
			ch, text = text[:size], text[size:]
		} else {
			ch, n = ansi.FirstGraphemeCluster(text, ansi.GraphemeWidth)
			text = text[len(ch):]
		}
		if n <= 0 || at+n > x+w {
			continue
		}
		g.set(at, y, ch, n, st)
		at += n
	}
	return at - x
}

// alone says that the text that follows a narrow character does not join it.
func alone(rest string) bool {
	if rest == "" {
		return true
	}
	r, _ := utf8.DecodeRuneInString(rest)
	return narrow(r)
}

// Dot writes one narrow character, without looking whether it is one.
func (g *Grid) Dot(x, y int, st Style, ch string) {
	if x >= 0 && x < g.w && y >= 0 && y < g.h {
		g.set(x, y, ch, 1, st)
	}
}

// set writes one character of n cells, and blanks the halves of wide characters it covers partly.
func (g *Grid) set(x, y int, ch string, n int, st Style) {
	if x < 0 || x+n > g.w {
		return
	}
	row := g.spots[y*g.w : (y+1)*g.w]
	if row[x].wide && x > 0 {
		row[x-1].text = ""
	}
	if x+n < g.w && row[x+n].wide {
		row[x+n].wide, row[x+n].text = false, ""
	}
	row[x] = spot{text: ch, style: st}
	for i := 1; i < n; i++ {
		row[x+i] = spot{style: st, wide: true}
	}
}

// Right writes text so that it ends at the right end of the w cells from x.
func (g *Grid) Right(x, y, w int, st Style, text string) {
	text = Cut(text, w)
	g.Put(x+max(0, w-Width(text)), y, w, st, text)
}

// Centre writes text in the middle of the w cells from x.
func (g *Grid) Centre(x, y, w int, st Style, text string) {
	text = Cut(text, w)
	g.Put(x+max(0, (w-Width(text))/2), y, w, st, text)
}

// Fill blanks a box in a style.
func (g *Grid) Fill(b Box, st Style) { g.Each(b, " ", st) }

// Each writes the same one-cell character into every cell of a box.
func (g *Grid) Each(b Box, ch string, st Style) {
	for y := max(b.Y, 0); y < min(b.Y+b.H, g.h); y++ {
		for x := max(b.X, 0); x < min(b.X+b.W, g.w); x++ {
			g.set(x, y, ch, 1, st)
		}
	}
}

// Restyle lets f change the style of every cell of a box.
func (g *Grid) Restyle(b Box, f func(Style) Style) {
	for y := max(b.Y, 0); y < min(b.Y+b.H, g.h); y++ {
		for x := max(b.X, 0); x < min(b.X+b.W, g.w); x++ {
			s := &g.spots[y*g.w+x]
			s.style = f(s.style)
		}
	}
}

// Zone makes a box clickable. A zone drawn later lies above the earlier ones.
func (g *Grid) Zone(b Box, id string) {
	if b.W > 0 && b.H > 0 {
		g.zones = append(g.zones, Zone{b, id})
	}
}

// Hit returns the id of the uppermost zone at a cell, "" if there is none.
func (g *Grid) Hit(x, y int) string {
	for i := len(g.zones) - 1; i >= 0; i-- {
		if g.zones[i].Has(x, y) {
			return g.zones[i].ID
		}
	}
	return ""
}

// Text returns the grid without styles, a line a row, blanks at the ends of lines left out.
func (g *Grid) Text() string {
	var b strings.Builder
	for y := range g.h {
		if y > 0 {
			b.WriteByte('\n')
		}
		row := g.spots[y*g.w : (y+1)*g.w]
		end := len(row)
		for end > 0 && !row[end-1].wide && (row[end-1].text == "" || row[end-1].text == " ") {
			end--
		}
		for _, s := range row[:end] {
			b.WriteString(s.shown())
		}
	}
	return b.String()
}

// shown is what a cell writes; the second half of a wide character writes nothing.
func (s spot) shown() string {
	switch {
	case s.wide:
		return ""
	case s.text == "":
		return " "
	}
	return s.text
}

// Render returns the grid as a terminal wants it.
func (g *Grid) Render(p *Palette) string {
	out := g.out[:0]
	for y := range g.h {
		if y > 0 {
			out = append(out, '\n')
		}
		row := g.spots[y*g.w : (y+1)*g.w]
		end := len(row)
		for end > 0 && row[end-1].style == Normal && !row[end-1].wide && (row[end-1].text == "" || row[end-1].text == " ") {
			end--
		}
		now, on := Normal, false
		for i := range row[:end] {
			s := &row[i]
			if s.wide {
				continue
			}
			if s.style != now {
				if on {
					out = append(out, "\x1b[m"...)
				}
				seq := p.Start(s.style)
				out = append(out, seq...)
				now, on = s.style, seq != ""
			}
			if s.text == "" {
				out = append(out, ' ')
			} else {
				out = append(out, s.text...)
			}
		}
		if on {
			out = append(out, "\x1b[m"...)
		}
	}
	g.out = out
	return string(out)
}
