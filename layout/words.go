package layout

import (
	"strconv"
	"strings"
)

// token is one word, number or sign of a call.
type token struct {
	text  string
	num   float64
	isNum bool
}

// reserved lists the words of the calls; pieces cannot be named so.
var reserved = wordSet("straight left right ring radius hairpin crossing changer both double narrow narrow-in narrow-out in out " +
	"shift chicane by timing sensor trap crossroads ramp up down rise fall over road roads lanes lane at to x mm deg degrees piece pieces bridge apart and with")

func wordSet(list string) map[string]bool {
	set := map[string]bool{}
	for _, w := range strings.Fields(list) {
		set[w] = true
	}
	return set
}

// split takes a call apart into words, numbers and signs; "3x30" is a number, a word and a number.
func split(s string) []token {
	var out []token
	s = strings.ToLower(s)
	for i := 0; i < len(s); {
		c := s[i]
		switch {
		case c == ' ' || c == '\t' || c == '\r':
			i++
		case c >= '0' && c <= '9' || c == '.':
			j := i
			for j < len(s) && (s[j] >= '0' && s[j] <= '9' || s[j] == '.') {
				j++
			}
			x, err := strconv.ParseFloat(s[i:j], 64)
			out = append(out, token{s[i:j], x, err == nil})
			i = j
		case c >= 'a' && c <= 'z':
			j := i
			for j < len(s) && (s[j] >= 'a' && s[j] <= 'z' || s[j] == '-' || (s[j] >= '0' && s[j] <= '9' && !(j == i+1 && c == 'x'))) {
				j++
			}
			out = append(out, token{text: s[i:j]})
			i = j
		default:
			j := i + 1
			if c >= 0x80 { // one letter beyond ASCII, such as a degree sign
				for j < len(s) && s[j] >= 0x80 && s[j] < 0xc0 {
					j++
				}
			}
			out = append(out, token{text: s[i:j]})
			i = j
		}
	}
	return out
}
