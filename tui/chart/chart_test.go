package chart

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func art(cells [][]Dot) string {
	var b strings.Builder
	for _, row := range cells {
		for _, d := range row {
			if d.Text == "" {
				b.WriteByte(' ')
			} else {
				b.WriteString(d.Text)
			}
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func TestAFallingLineFalls(t *testing.T) {
	s := []Series{{1, []float64{4, 3, 2}}}
	cells, low, high := Lines(s, 4, 2, false)
	if got, want := art(cells), "▀▄  \n  ▀▄\n"; got != want || low != 2 || high != 4 {
		t.Errorf("from %g to %g:\n%swant\n%s", low, high, got, want)
	}
	cells, _, _ = Lines(s, 2, 1, true)
	if got, want := art(cells), "⠑⢄\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

// A lap with a visit to the floor does not flatten the others; a lap that is not known is a gap.
func TestOutliersAndGaps(t *testing.T) {
	_, low, high := Lines([]Series{{1, []float64{5, 5.5, 30, 5.2, 0, 5.1}}}, 20, 4, true)
	if low != 5 || high != 5.5 {
		t.Errorf("from %g to %g, want 5 to 5.5", low, high)
	}
	if cells, _, _ := Lines([]Series{{1, []float64{0, -1}}}, 5, 5, true); cells != nil {
		t.Error("something is drawn from nothing")
	}
}

func TestAnythingCanBeDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s []Series
		for i := range rapid.IntRange(0, 8).Draw(t, "series") {
			s = append(s, Series{i + 1, rapid.SliceOfN(rapid.Float64Range(-1, 1e7), 0, 50).Draw(t, "values")})
		}
		w, h := rapid.IntRange(0, 60).Draw(t, "w"), rapid.IntRange(0, 30).Draw(t, "h")
		cells, _, _ := Lines(s, w, h, rapid.Bool().Draw(t, "braille"))
		for _, row := range cells {
			if len(row) != w || len(cells) != h {
				t.Fatalf("%dx%d cells for %dx%d", len(row), len(cells), w, h)
			}
		}
		if len(s) > 0 {
			if n := len([]rune(Spark(s[0].Values, w))); n > w {
				t.Fatalf("%d bars in %d cells", n, w)
			}
		}
	})
}

func TestBarsRiseWithTheLap(t *testing.T) {
	if got := Spark([]float64{5, 5.5, 6, 0, 40}, 9); got != "▁▄█ █" {
		t.Errorf("got %q", got)
	}
}

func BenchmarkLines(b *testing.B) {
	var s []Series
	for i := range 8 {
		v := make([]float64, 40)
		for k := range v {
			v[k] = 5 + float64((k*37+i*11)%40)/100
		}
		s = append(s, Series{i + 1, v})
	}
	b.ReportAllocs()
	for b.Loop() {
		Lines(s, 110, 24, true)
	}
}
