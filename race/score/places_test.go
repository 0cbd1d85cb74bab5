package score

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestPlaceStylesNumberLevelRows(t *testing.T) {
	// Scores 44 42 42 41 41 41 39.
	sizes := []int{1, 2, 3, 1}
	cases := []struct {
		style PlaceStyle
		want  string
		// source: R 4.2.2, rank(-scores, ties.method = ...)
	}{
		{Standard, "[1 2 2 4 4 4 7]"},       // "min"
		{Modified, "[1 3 3 6 6 6 7]"},       // "max"
		{Dense, "[1 2 2 3 3 3 4]"},          // match(x, sort(unique(x)))
		{Ordinal, "[1 2 3 4 5 6 7]"},        // "first"
		{Fractional, "[1 2.5 2.5 5 5 5 7]"}, // "average"
	}
	for _, c := range cases {
		if got := fmt.Sprint(Places(sizes, c.style)); got != c.want {
			t.Errorf("%v: got %s, want %s", c.style, got, c.want)
		}
	}
}

func TestFractionalPlacesAddUpToTheWholeNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sizes := rapid.SliceOfN(rapid.IntRange(1, 6), 0, 12).Draw(t, "sizes")
		n, sum := 0, 0
		for _, s := range sizes {
			n += s
		}
		for _, p := range Places(sizes, Fractional) {
			sum += int(p)
		}
		if sum != n*(n+1) { // doubled sum of 1..n
			t.Fatalf("sum of places %d halves, want %d", sum, n*(n+1))
		}
		for _, style := range []PlaceStyle{Standard, Modified, Dense, Ordinal, Fractional} {
			if p := Places(sizes, style); len(p) != n || !slices.IsSorted(p) {
				t.Fatalf("%v: %v is not sorted or not %d long", style, p, n)
			}
		}
	})
}

func TestPlaceWritesAsANumber(t *testing.T) {
	b, err := json.Marshal([]Place{WholePlace(2), 5, 0})
	if err != nil || string(b) != "[2,2.5,null]" {
		t.Fatalf("got %s, %v", b, err)
	}
}
