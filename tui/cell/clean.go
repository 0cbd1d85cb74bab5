package cell

import (
	"strings"
	"unicode"

	"github.com/charmbracelet/x/ansi"
	"golang.org/x/text/unicode/norm"
)

// Clean makes text from outside fit to be shown: escape sequences, control characters and marks that turn the writing
// direction go, the rest is composed (NFC). Text is never longer afterwards than before in any sense that matters to a screen.
func Clean(s string) string {
	if plain(s) {
		return s
	}
	s = strings.ToValidUTF8(ansi.Strip(s), "")
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\t' || r == '\n':
			return ' '
		case unicode.IsControl(r), unicode.In(r, unicode.Cf) && r != '\u200c' && r != '\u200d', r == '\u2028', r == '\u2029':
			return -1
		}
		return r
	}, s)
	return norm.NFC.String(s)
}

// plain says that a text is printable ASCII, which most are.
func plain(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] < 0x20 || s[i] > 0x7e {
			return false
		}
	}
	return true
}

// narrow says that a character takes one cell and joins with no neighbour that is narrow too: Latin letters and the lines, blocks,
// shapes and dots that the screens are drawn with. It is the quick way; whatever it does not know goes the long one.
func narrow(r rune) bool {
	switch {
	case r >= 0x20 && r < 0x7f, r > 0xa0 && r < 0x300 && r != 0xad, r >= 0x2500 && r < 0x25a0, r >= 0x2800 && r < 0x2900:
		return true
	}
	switch r {
	case '…', '■', '▲', '●', '◆', '▼', '□', '△', '○', '▸', '◂', '←', '→', '↑', '↓':
		return true
	}
	return false
}

// narrowWidth returns the cells of a text of narrow characters, and false if it has others.
func narrowWidth(s string) (int, bool) {
	n := 0
	for _, r := range s {
		if !narrow(r) {
			return 0, false
		}
		n++
	}
	return n, true
}

// Width is the number of cells that a text takes.
func Width(s string) int {
	if n, ok := narrowWidth(s); ok {
		return n
	}
	return ansi.StringWidth(s)
}

// Cut shortens a text to at most w cells; what is cut ends in an ellipsis.
func Cut(s string, w int) string {
	if w <= 0 {
		return ""
	}
	if n, ok := narrowWidth(s); ok {
		if n <= w {
			return s
		}
		n = 0
		for at := range s {
			if n == w-1 {
				return s[:at] + "…"
			}
			n++
		}
	}
	return ansi.Truncate(s, w, "…")
}
