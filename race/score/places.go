package score

import (
	"fmt"
	"strconv"
	"strings"
)

// PlaceStyle says which number drivers who share a place get, and how it goes
// on after them. The names count the example of four drivers whose second and
// third are level.
type PlaceStyle int

const (
	Standard   PlaceStyle = iota // 1 2 2 4: both take the better place; used for results
	Modified                     // 1 3 3 4: both take the worse place
	Dense                        // 1 2 2 3: no place is left out
	Ordinal                      // 1 2 3 4: every row its own number, level or not
	Fractional                   // 1 2.5 2.5 4: both take the middle of the places covered
)

var styleNames = [...]string{"standard", "modified", "dense", "ordinal", "fractional"}

// String returns the style as written on a rule card.
func (s PlaceStyle) String() string {
	if s < 0 || int(s) >= len(styleNames) {
		return fmt.Sprintf("place style %d", int(s))
	}
	return styleNames[s]
}

// ParsePlaceStyle is the inverse of [PlaceStyle.String].
func ParsePlaceStyle(word string) (PlaceStyle, error) {
	for i, n := range styleNames {
		if n == word {
			return PlaceStyle(i), nil
		}
	}
	return 0, fmt.Errorf("score: place style %q %w: expected one of %s", word, ErrBadInput, strings.Join(styleNames[:], ", "))
}

// MarshalText writes the style as its word.
func (s PlaceStyle) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what [PlaceStyle.MarshalText] wrote.
func (s *PlaceStyle) UnmarshalText(b []byte) error {
	v, err := ParsePlaceStyle(string(b))
	if err == nil {
		*s = v
	}
	return err
}

// Place is a place counted in halves, so that a fractional place stays exact:
// Place(2) is first, Place(5) is two and a half. Place(0) is no place.
type Place int

// WholePlace returns the place with the given number.
func WholePlace(n int) Place { return Place(2 * n) }

// Whole returns the place as a number, a half cut off; 0 for no place.
func (p Place) Whole() int { return int(p) / 2 }

// String returns "2", "2.5", or "" for no place.
func (p Place) String() string {
	if p == 0 {
		return ""
	}
	s := strconv.Itoa(int(p) / 2)
	if p%2 != 0 {
		s += ".5"
	}
	return s
}

// MarshalJSON writes a number, null for no place.
func (p Place) MarshalJSON() ([]byte, error) {
	if p == 0 {
		return []byte("null"), nil
	}
	return []byte(p.String()), nil
}

// Places numbers rows that are already in order. sizes holds how many rows are
// level in each group, best group first; the result has one place per row.
// Sizes below 1 are skipped.
func Places(sizes []int, style PlaceStyle) []Place {
	var out []Place
	before := 0
	groups := 0
	for _, n := range sizes {
		if n < 1 {
			continue
		}
		groups++
		for i := range n {
			switch style {
			case Modified:
				out = append(out, WholePlace(before+n))
			case Dense:
				out = append(out, WholePlace(groups))
			case Ordinal:
				out = append(out, WholePlace(before+i+1))
			case Fractional:
				out = append(out, Place(2*before+n+1)) // mean of before+1..before+n, doubled
			default:
				out = append(out, WholePlace(before+1))
			}
		}
		before += n
	}
	return out
}
