package route

import (
	"math/bits"
	"slices"
)

// Cycle is a sequence of laps that can be driven for ever.
type Cycle struct {
	Lanes    []int     `json:"lanes"`   // in which each lap starts; the last lap ends in the first of them
	LapsMM   []float64 `json:"laps_mm"` // what each of these laps measures
	MeanMM   float64   `json:"mean_mm"`
	LengthMM float64   `json:"length_mm"` // all of them together
}

// Steady gives the cycles of smallest and of largest mean length a lap, and whether there is any cycle at all. Of equal
// ones it gives one with the fewest laps, in the lowest lane.
//
// The extreme cycle mean is Karp's (R. M. Karp, A characterization of the minimum cycle mean in a digraph, 1978),
// computed in whole numbers and fractions of them.
func (g Graph) Steady() (shortest, longest Cycle, ok bool) {
	short, has := g.lapMatrix(false)
	long, _ := g.lapMatrix(true)
	for i := range long {
		for j := range long[i] {
			long[i][j] = -long[i][j]
		}
	}
	shortest, ok = g.leastMean(short, has, 1)
	if !ok {
		return Cycle{}, Cycle{}, false
	}
	longest, _ = g.leastMean(long, has, -1)
	return shortest, longest, true
}

// lapMatrix gives the extreme lap length in units from each lane to each lane, and where there is a lap at all.
func (g Graph) lapMatrix(longest bool) ([][]int64, [][]bool) {
	n := len(g.lanes)
	w, has := make([][]int64, n), make([][]bool, n)
	for i, l := range g.lanes {
		w[i], has[i] = make([]int64, n), make([]bool, n)
		c, p, ok := g.chainOf(l.Number)
		if !ok {
			continue
		}
		layers := c.kBestFrom(p, 1, longest)
		for j, to := range g.lanes {
			q := to.At.Position - 1
			if to.At.Road == c.into && q >= 0 && q < c.positions && len(layers[len(c.steps)][q]) > 0 {
				w[i][j], has[i][j] = layers[len(c.steps)][q][0].length, true
			}
		}
	}
	return w, has
}

// fraction is a mean length: units over laps, laps positive.
type fraction struct {
	num int64
	den int64
}

// less compares exactly, through 128-bit products.
func (a fraction) less(b fraction) bool {
	// a.num/a.den < b.num/b.den  <=>  a.num*b.den < b.num*a.den
	ahi, alo := mulSigned(a.num, b.den)
	bhi, blo := mulSigned(b.num, a.den)
	if ahi != bhi {
		return ahi < bhi
	}
	return alo < blo
}

// mulSigned multiplies x by a positive y into a signed 128-bit number.
func mulSigned(x, y int64) (hi int64, lo uint64) {
	if x >= 0 {
		h, l := bits.Mul64(uint64(x), uint64(y))
		return int64(h), l
	}
	h, l := bits.Mul64(uint64(-x), uint64(y))
	l, carry := bits.Add64(^l, 1, 0)
	h, _ = bits.Add64(^h, 0, carry)
	return int64(h), l
}

// leastMean finds the cycle of least mean. sign turns lengths back where w holds negated ones.
func (g Graph) leastMean(w [][]int64, has [][]bool, sign int64) (Cycle, bool) {
	mean, ok := karp(w, has)
	if !ok {
		return Cycle{}, false
	}
	cycle := tightCycle(w, has, mean)
	out := Cycle{}
	var sum int64
	for i, v := range cycle {
		lap := sign * w[v][cycle[(i+1)%len(cycle)]]
		sum += lap
		out.Lanes = append(out.Lanes, g.lanes[v].Number)
		out.LapsMM = append(out.LapsMM, g.mm(lap))
	}
	out.LengthMM = g.mm(sum)
	out.MeanMM = out.LengthMM / float64(len(cycle))
	return out, true
}

// karp gives the least cycle mean of a graph that need not be connected: a source with free edges to all nodes is
// thought in front, which adds no cycle.
func karp(w [][]int64, has [][]bool) (fraction, bool) {
	n := len(w)
	// d[k][v] is the least weight of a walk of exactly k edges that ends in v.
	d := make([][]int64, n+1)
	d[0] = make([]int64, n)
	for k := 1; k <= n; k++ {
		d[k] = make([]int64, n)
		for v := range d[k] {
			d[k][v] = none
			for u := range w {
				if has[u][v] && d[k-1][u] < none {
					d[k][v] = min(d[k][v], d[k-1][u]+w[u][v])
				}
			}
		}
	}
	var best fraction
	found := false
	for v := range n {
		if d[n][v] >= none {
			continue
		}
		worst := fraction{d[n][v] - d[0][v], int64(n)}
		for k := 1; k < n; k++ {
			if d[k][v] >= none {
				continue
			}
			if f := (fraction{d[n][v] - d[k][v], int64(n - k)}); worst.less(f) {
				worst = f
			}
		}
		if !found || worst.less(best) {
			best, found = worst, true
		}
	}
	return best, found
}

// tightCycle finds a cycle whose mean is exactly the least mean: with every weight less the mean no cycle is negative,
// the shortest distances exist, and a cycle of edges that are tight against them has weight 0.
func tightCycle(w [][]int64, has [][]bool, mean fraction) []int {
	n := len(w)
	cost := func(u, v int) int64 { return w[u][v]*mean.den - mean.num }
	dist := make([]int64, n)
	for range n {
		for u := range n {
			for v := range n {
				if has[u][v] {
					dist[v] = min(dist[v], dist[u]+cost(u, v))
				}
			}
		}
	}
	var best []int
	for start := range n {
		if c := shortestThrough(start, n, func(u, v int) bool {
			return has[u][v] && dist[u]+cost(u, v) == dist[v]
		}); c != nil && (best == nil || len(c) < len(best)) {
			best = c
		}
	}
	return best
}

// shortestThrough gives the cycle of fewest edges through start, nil for none.
func shortestThrough(start, n int, tight func(u, v int) bool) []int {
	before := make([]int, n)
	for i := range before {
		before[i] = -1
	}
	queue := []int{start}
	for len(queue) > 0 {
		u := queue[0]
		queue = queue[1:]
		for v := range n {
			if !tight(u, v) {
				continue
			}
			if v == start {
				cycle := []int{u}
				for x := u; x != start; {
					x = before[x]
					cycle = append(cycle, x)
				}
				slices.Reverse(cycle)
				return cycle
			}
			if before[v] < 0 && v != start {
				before[v] = u
				queue = append(queue, v)
			}
		}
	}
	return nil
}
