// Package find finds names and actions from a few typed letters, whatever their accents.
package find

import (
	"sort"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// others are letters that have a plain form but no decomposition in Unicode.
var others = strings.NewReplacer("ł", "l", "ø", "o", "ß", "ss", "đ", "d", "ð", "d", "þ", "th", "æ", "ae", "œ", "oe", "ħ", "h", "ı", "i")

// Fold returns a text in small letters without accents: Zoë and zoe are the same.
func Fold(s string) string {
	ascii := true
	for i := 0; i < len(s); i++ {
		ascii = ascii && s[i] < 0x80
	}
	if ascii {
		return strings.ToLower(s)
	}
	s = strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return unicode.ToLower(r)
	}, norm.NFD.String(s))
	return others.Replace(norm.NFC.String(s))
}

// together is the score of a text that has the typed letters together somewhere.
const together = 50

// Score says how well typed letters fit a text, both folded: 0 not at all, more is better. A text that begins with them is
// best, then one with a word that does, then the first letters of its words, then letters together, then letters in order.
func Score(text, typed string) int {
	if typed == "" {
		return 1
	}
	words := strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	switch {
	case text == typed:
		return 100
	case strings.HasPrefix(text, typed):
		return 90
	}
	initials := ""
	for _, w := range words {
		if strings.HasPrefix(w, typed) {
			return 80
		}
		initials += string([]rune(w)[:1])
	}
	if len([]rune(typed)) > 1 && strings.HasPrefix(initials, typed) {
		return 85
	}
	if allBegin(words, strings.Fields(typed)) {
		return 70
	}
	if at := strings.Index(text, typed); at >= 0 {
		return together
	}
	rest := []rune(typed)
	for _, r := range text {
		if len(rest) > 0 && r == rest[0] {
			rest = rest[1:]
		}
	}
	if len(rest) == 0 {
		return 20
	}
	return 0
}

// allBegin says whether every typed word begins a word of the text.
func allBegin(words, typed []string) bool {
	for _, t := range typed {
		found := false
		for _, w := range words {
			found = found || strings.HasPrefix(w, t)
		}
		if !found {
			return false
		}
	}
	return len(typed) > 0
}

// Among returns the places of the texts that fit, best first; equal ones keep their order.
func Among(texts []string, typed string) []int {
	typed = strings.TrimSpace(Fold(typed))
	var at, score []int
	best := 0
	for i, t := range texts {
		if s := Score(Fold(t), typed); s > 0 {
			at, score = append(at, i), append(score, s)
			best = max(best, s)
		}
	}
	if best >= together { // letters that merely occur in this order are no find when there is a better one
		n := 0
		for i := range at {
			if score[i] >= together {
				at[n], score[n] = at[i], score[i]
				n++
			}
		}
		at, score = at[:n], score[:n]
	}
	order := make([]int, len(at))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, j int) bool { return score[order[i]] > score[order[j]] })
	out := make([]int, len(order))
	for i, o := range order {
		out[i] = at[o]
	}
	return out
}
