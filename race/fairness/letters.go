package fairness

import (
	"cmp"
	"slices"

	"lanewright/race/analysis"
)

// letters gives lanes letters so that two lanes share one exactly when they do not
// differ significantly. pairs are those of the fit; alpha is the level. Lanes of
// different groups, which cannot be compared, share nothing and say nothing.
//
// Insert and absorb: H.-P. Piepho, An algorithm for a letter-based representation
// of all-pairwise comparisons, J. Comput. Graph. Statist. 13 (2004).
func letters(lanes []analysis.Effect, pairs []analysis.Pair, alpha float64) []string {
	n := len(lanes)
	full := make([]bool, n)
	for i := range full {
		full[i] = true
	}
	columns := [][]bool{full}
	for _, p := range pairs {
		if p.Tukey != nil && *p.Tukey >= alpha || p.Tukey == nil && lanes[p.A].Group == lanes[p.B].Group {
			continue
		}
		var next [][]bool
		for _, c := range columns {
			if !c[p.A] || !c[p.B] {
				next = append(next, c)
				continue
			}
			for _, out := range []int{p.A, p.B} {
				less := slices.Clone(c)
				less[out] = false
				next = append(next, less)
			}
		}
		columns = absorb(next)
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(value(lanes[a]), value(lanes[b])) })
	slices.SortStableFunc(columns, func(a, b []bool) int {
		for _, i := range order {
			if a[i] != b[i] {
				if a[i] {
					return -1
				}
				return 1
			}
		}
		return 0
	})
	out := make([]string, n)
	for k, c := range columns {
		for i := range n {
			if c[i] {
				out[i] += string(rune('a' + k%26))
			}
		}
	}
	return out
}

func value(e analysis.Effect) float64 {
	if e.Value == nil {
		return 0
	}
	return *e.Value
}

// absorb drops columns that lie inside another.
func absorb(columns [][]bool) [][]bool {
	inside := func(a, b []bool) bool {
		for i := range a {
			if a[i] && !b[i] {
				return false
			}
		}
		return true
	}
	var out [][]bool
	for i, a := range columns {
		keep := true
		for j, b := range columns {
			if i != j && inside(a, b) && (!inside(b, a) || j < i) {
				keep = false
				break
			}
		}
		if keep {
			out = append(out, a)
		}
	}
	return out
}
