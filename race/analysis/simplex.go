package analysis

import (
	"cmp"
	"math"
	"slices"
)

// minimise finds where f, a function of the size of each coordinate, is least,
// by a downhill simplex begun at 1 and begun again where it ended until that gains
// nothing. Coordinates are returned non-negative. Source: J. A. Nelder and R.
// Mead, A simplex method for function minimization, Computer Journal 7 (1965).
func minimise(f func([]float64) float64, dims int) []float64 {
	g := func(x []float64) float64 {
		y := make([]float64, len(x))
		for i, v := range x {
			y[i] = math.Abs(v)
		}
		v := f(y)
		if math.IsNaN(v) {
			return math.Inf(1)
		}
		return v
	}
	best := make([]float64, dims)
	for i := range best {
		best[i] = 1
	}
	last := math.Inf(1)
	size := 0.5
	for range 8 {
		var v float64
		best, v = simplex(g, best, size)
		if last-v < 1e-11*math.Max(1, math.Abs(v)) {
			break
		}
		last, size = v, 0.1
	}
	for i := range best {
		best[i] = math.Abs(best[i])
	}
	return best
}

type vertex struct {
	x []float64
	v float64
}

func simplex(f func([]float64) float64, start []float64, size float64) ([]float64, float64) {
	n := len(start)
	s := []vertex{{slices.Clone(start), f(start)}}
	for i := range n {
		x := slices.Clone(start)
		x[i] += size * math.Max(0.1, math.Abs(x[i]))
		s = append(s, vertex{x, f(x)})
	}
	order := func() {
		slices.SortStableFunc(s, func(a, b vertex) int { return cmp.Compare(a.v, b.v) })
	}
	for range 400 * n {
		order()
		spread := 0.0
		for i := range n {
			spread = math.Max(spread, math.Abs(s[n].x[i]-s[0].x[i])/(1e-3+math.Abs(s[0].x[i])))
		}
		if spread < 1e-9 {
			break
		}
		centre := make([]float64, n)
		for _, p := range s[:n] {
			for i, v := range p.x {
				centre[i] += v / float64(n)
			}
		}
		along := func(t float64) vertex {
			x := make([]float64, n)
			for i := range x {
				x[i] = centre[i] + t*(s[n].x[i]-centre[i])
			}
			return vertex{x, f(x)}
		}
		r := along(-1)
		switch {
		case r.v < s[0].v:
			if e := along(-2); e.v < r.v {
				r = e
			}
			s[n] = r
		case r.v < s[n-1].v:
			s[n] = r
		default:
			t := 0.5
			if r.v < s[n].v {
				t = -0.5
			}
			if c := along(t); c.v < math.Min(r.v, s[n].v) {
				s[n] = c
				continue
			}
			for k := 1; k <= n; k++ {
				for i := range n {
					s[k].x[i] = s[0].x[i] + 0.5*(s[k].x[i]-s[0].x[i])
				}
				s[k].v = f(s[k].x)
			}
		}
	}
	order()
	return s[0].x, s[0].v
}
