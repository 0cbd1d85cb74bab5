package digits

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Every row of a character is equally wide, and every character differs from every other one of its font.
func TestEveryCharacterIsWholeAndItsOwn(t *testing.T) {
	for _, f := range fonts {
		seen := map[string]rune{}
		for r, g := range f.glyph {
			if len(g) != f.high {
				t.Errorf("%q has %d rows, want %d", r, len(g), f.high)
			}
			for _, row := range g {
				if len(row) != len(g[0]) {
					t.Errorf("%q: row %q is not %d dots wide", r, row, len(g[0]))
				}
			}
			art := strings.Join(g, "\n")
			if o, twice := seen[art]; twice && !(r == 'O' && o == '0' || r == '0' && o == 'O' || r == 'S' || o == 'S') {
				t.Errorf("high %d: %q and %q look the same", f.high, r, o)
			}
			seen[art] = r
		}
	}
}

func TestFitFillsTheRoom(t *testing.T) {
	for _, c := range []struct {
		text  string
		w, h  int
		least int
		high  int
	}{
		{"123", 17, 4, 0, 4}, {"123", 17, 3, 0, 3}, {"123", 40, 7, 0, 7}, {"123", 40, 10, 0, 10}, {"123", 17, 5, 0, 5}, {"123", 17, 5, 4, 5}, {"123", 60, 11, 0, 11}, {"TRACK CALL", 40, 4, 0, 3},
		{"123", 3, 4, 0, 0}, {"123", 40, 2, 0, 0}, {"Ż", 40, 9, 0, 0},
	} {
		if got := Fit(c.text, c.w, c.h, c.least).H; got != c.high {
			t.Errorf("Fit(%q, %d, %d) is %d rows high, want %d", c.text, c.w, c.h, got, c.high)
		}
	}
}

func TestNothingIsDrawnOutsideItsSize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`[0-9:.P+\-]{1,6}`).Draw(t, "text")
		w, h := rapid.IntRange(1, 120).Draw(t, "w"), rapid.IntRange(1, 40).Draw(t, "h")
		s := Fit(text, w, h, rapid.IntRange(0, 20).Draw(t, "least"))
		if s.W > w || s.H > h {
			t.Fatalf("%dx%d does not fit into %dx%d", s.W, s.H, w, h)
		}
		s.Each(text, func(x, y int, _ string) {
			if x < 0 || y < 0 || x >= s.W || y >= s.H {
				t.Fatalf("cell %d,%d lies outside %dx%d", x, y, s.W, s.H)
			}
		})
	})
}
