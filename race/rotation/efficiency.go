package rotation

import "math"

// aEfficiency is the A-efficiency of the draw for comparing drivers after
// correcting for heats and lanes: the harmonic mean of the canonical efficiency
// factors, 1 for a design without loss, 0 when not all differences between
// drivers can be estimated. Drivers without a heat are left out.
//
// Source: the information matrix of a row-column design, C = R - N Z^- N' with
// heats and lanes as nuisance factors; John & Williams, "Cyclic and Computer
// Generated Designs", 1995 (from memory).
func aEfficiency(n int, heats [][]int) float64 {
	if len(heats) == 0 {
		return 0
	}
	lanes := len(heats[0])
	id := make([]int, n+1)
	v := 0
	for _, s := range stints(n, heats) {
		if len(s) > 0 {
			v++
		}
	}
	if v < 2 {
		return 0
	}
	k := 0
	for d, s := range stints(n, heats) {
		if len(s) > 0 {
			id[d+1] = k
			k++
		}
	}
	b := len(heats) + lanes
	zz, zd, r := square(b), make([][]float64, b), make([]float64, v)
	for i := range zd {
		zd[i] = make([]float64, v)
	}
	for h, row := range heats {
		for l, x := range row {
			if x == 0 {
				continue
			}
			d, lane := id[x], len(heats)+l
			r[d]++
			for _, z := range []int{h, lane} {
				zd[z][d]++
				zz[z][z]++
			}
			zz[h][lane]++
			zz[lane][h]++
		}
	}
	// Eliminate the nuisance factors; a pivot near zero is a factor that the
	// earlier ones already account for.
	c := square(v)
	for i := range v {
		c[i][i] = r[i]
	}
	for z := range b {
		piv := zz[z][z]
		if piv < 1e-9 {
			continue
		}
		for w := z + 1; w < b; w++ {
			g := zz[w][z] / piv
			if g == 0 {
				continue
			}
			for q := z; q < b; q++ {
				zz[w][q] -= g * zz[z][q]
			}
			for q := range v {
				zd[w][q] -= g * zd[z][q]
			}
		}
		for i := range v {
			if zd[z][i] == 0 {
				continue
			}
			for j := range v {
				c[i][j] -= zd[z][i] * zd[z][j] / piv
			}
		}
	}
	// R^-1/2 C R^-1/2 has the vector sqrt(r) in its null space; with that
	// direction filled in, the trace of the inverse is 1 + sum of 1/e.
	total := 0.0
	for _, x := range r {
		total += x
	}
	for i := range v {
		for j := range v {
			c[i][j] = c[i][j]/math.Sqrt(r[i]*r[j]) + math.Sqrt(r[i]*r[j])/total
		}
	}
	trace, ok := inverseTrace(c)
	if !ok || trace <= 1 {
		return 0
	}
	return float64(v-1) / (trace - 1)
}

func square(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// inverseTrace inverts a by Gauss-Jordan with row pivots and returns the trace,
// or false when a is singular to within rounding.
func inverseTrace(a [][]float64) (float64, bool) {
	n := len(a)
	inv := square(n)
	for i := range n {
		inv[i][i] = 1
	}
	for k := range n {
		best := k
		for i := k + 1; i < n; i++ {
			if math.Abs(a[i][k]) > math.Abs(a[best][k]) {
				best = i
			}
		}
		if math.Abs(a[best][k]) < 1e-9 {
			return 0, false
		}
		a[k], a[best] = a[best], a[k]
		inv[k], inv[best] = inv[best], inv[k]
		piv := a[k][k]
		for j := range n {
			a[k][j] /= piv
			inv[k][j] /= piv
		}
		for i := range n {
			if g := a[i][k]; i != k && g != 0 {
				for j := range n {
					a[i][j] -= g * a[k][j]
					inv[i][j] -= g * inv[k][j]
				}
			}
		}
	}
	t := 0.0
	for i := range n {
		t += inv[i][i]
	}
	return t, true
}
