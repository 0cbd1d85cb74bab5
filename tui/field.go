package tui

import (
	"strings"
	"unicode/utf8"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/x/ansi"

	"lanewright/tui/cell"
)

// longest is how many columns a typed text may have; names are at most as long.
const longest = 40

// field is one line of typed text. The cursor is always at the end: what is typed here is short.
type field struct {
	label string
	text  string
	most  int  // columns, 0: longest
	ripe  bool // the text is the value as it was: the first character typed replaces it
}

// take types a key; it says whether the key was one for a text.
func (f *field) take(msg tea.KeyPressMsg) bool {
	switch msg.String() {
	case "backspace", "ctrl+h":
		f.text, f.ripe = lessOne(f.text), false
		return true
	case "ctrl+u":
		f.text, f.ripe = "", false
		return true
	}
	if msg.Text == "" || msg.Mod&(tea.ModCtrl|tea.ModAlt|tea.ModMeta|tea.ModSuper) != 0 {
		return false
	}
	f.add(msg.Text)
	return true
}

// add types text, as far as there is room.
func (f *field) add(text string) {
	if f.ripe {
		f.text, f.ripe = "", false
	}
	most := f.most
	if most == 0 {
		most = longest
	}
	text = strings.TrimLeft(f.text+cell.Clean(text), " ")
	for utf8.RuneCountInString(text) > 4*most { // a mark takes no column, but there is an end to everything
		text = lessOne(text)
	}
	if cell.Width(text) > most {
		text = ansi.Truncate(text, most, "")
	}
	f.text = text
}

// lessOne takes the last character, as people count them, off a text.
func lessOne(s string) string {
	last := 0
	for at := 0; at < len(s); {
		last = at
		ch, _ := ansi.FirstGraphemeCluster(s[at:], ansi.GraphemeWidth)
		if ch == "" {
			break
		}
		at += len(ch)
	}
	return s[:last]
}

// draw writes label, text and cursor into one row.
func (f *field) draw(g *cell.Grid, b cell.Box) {
	if b.W < 1 || b.H < 1 {
		return
	}
	n := 0
	if f.label != "" {
		n = g.Put(b.X, b.Y, b.W/2, cell.Head, f.label) + 1
	}
	room := b.W - n - 1
	text := f.text
	if over := cell.Width(text) - room; over > 0 {
		text = "…" + ansi.TruncateLeft(text, over+1, "")
	}
	st := cell.Style{Attr: cell.Under}
	if f.ripe {
		st = cell.Pick
	}
	n += g.Put(b.X+n, b.Y, room, st, text)
	g.Put(b.X+n, b.Y, 1, cell.Pick, " ")
}
