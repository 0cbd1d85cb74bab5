package main

import (
	"strconv"
	"strings"

	"github.com/charmbracelet/x/ansi"
)

// trim writes a number with at most so many decimals and no trailing zeros; -0 is 0.
func trim(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// count writes a number of things with its word: 1 piece, 3 pieces.
func count(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return strconv.Itoa(n) + " " + word + "s"
}

// pad fills a name up to a width in terminal cells, or cuts it.
func pad(s string, width int) string {
	s = ansi.Truncate(s, width, "…")
	return s + strings.Repeat(" ", max(width-ansi.StringWidth(s), 0))
}
