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

// Width is the number of cells that a text takes.
func Width(s string) int {
	if plain(s) {
		return len(s)
	}
	return ansi.StringWidth(s)
}

// Cut shortens a text to at most w cells; what is cut ends in an ellipsis.
func Cut(s string, w int) string {
	if w <= 0 {
		return ""
	}
	if plain(s) {
		if len(s) <= w {
			return s
		}
		return s[:w-1] + "…"
	}
	return ansi.Truncate(s, w, "…")
}
