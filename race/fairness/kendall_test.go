package fairness

import (
	"testing"

	"lanewright/race/analysis"
)

func TestKendall(t *testing.T) {
	// Source: R 4.2.2, cor(x, y, method = "kendall").
	near(t, "no ties", Kendall([]float64{1, 2, 3, 4, 5}, []float64{2, 1, 3, 5, 4}), 0.6, 1e-15)
	near(t, "ties", Kendall([]float64{1, 2, 2, 3, 4, 4}, []float64{1, 3, 2, 2, 5, 4}), 0.741249316661101, 1e-14)
	if Kendall([]float64{1, 1}, []float64{1, 2}) != nil || Kendall(nil, nil) != nil {
		t.Error("an order of equals has no correlation")
	}
}

func TestLetters(t *testing.T) {
	p := func(x float64) *float64 { return &x }
	v := func(x float64) analysis.Effect { return analysis.Effect{Group: 1, Est: analysis.Est{Value: p(x)}} }
	lanes := []analysis.Effect{v(0), v(1), v(2), v(3)}
	pair := func(a, b int, tukey float64) analysis.Pair { return analysis.Pair{A: a, B: b, Tukey: p(tukey)} }
	for _, c := range []struct {
		name  string
		pairs []analysis.Pair
		want  []string
	}{
		{"all alike", []analysis.Pair{pair(0, 1, .5), pair(0, 2, .5), pair(0, 3, .5), pair(1, 2, .5), pair(1, 3, .5), pair(2, 3, .5)}, []string{"a", "a", "a", "a"}},
		{"ends differ", []analysis.Pair{pair(0, 1, .5), pair(0, 2, .5), pair(0, 3, .01), pair(1, 2, .5), pair(1, 3, .5), pair(2, 3, .5)}, []string{"a", "ab", "ab", "b"}},
		{"neighbours alike", []analysis.Pair{pair(0, 1, .5), pair(0, 2, .01), pair(0, 3, .01), pair(1, 2, .5), pair(1, 3, .01), pair(2, 3, .5)}, []string{"a", "ab", "bc", "c"}},
		{"all differ", []analysis.Pair{pair(0, 1, .01), pair(0, 2, .01), pair(0, 3, .01), pair(1, 2, .01), pair(1, 3, .01), pair(2, 3, .01)}, []string{"a", "b", "c", "d"}},
	} {
		got := letters(lanes, c.pairs, 0.05)
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: got %v, want %v", c.name, got, c.want)
				break
			}
		}
	}
}
