package analysis

import "math"

// aliasTol is the share of a column's length below which what earlier columns
// leave of it counts as nothing. Columns here are zeros and ones or centred
// figures; rounding leaves about 1e-14, real information far more than 1e-7
// (also the limit R's lm uses).
const aliasTol = 1e-7

// decomposition is X = QR by Householder reflections, columns taken in the order
// given; a column that earlier ones already contain is set aside (aliased).
type decomposition struct {
	n, p      int
	keep      []int       // columns used, in order
	drop      []int       // columns set aside
	inTerms   [][]float64 // for each of drop: its coefficients on keep
	r         [][]float64 // r[j]: column j of R, length j+1
	reflector []reflector // reflector[j] acts on rows j..n-1
}

// reflector is I - h h'. Dummy columns leave most of h zero; then only the
// others are kept, with their rows.
type reflector struct {
	row  []int // nil for a full h, which begins at from
	h    []float64
	from int
}

func newReflector(h []float64, from int) reflector {
	used := 0
	for _, x := range h {
		if x != 0 {
			used++
		}
	}
	if 3*used > len(h) {
		return reflector{h: h, from: from}
	}
	r := reflector{row: make([]int, 0, used), h: make([]float64, 0, used)}
	for i, x := range h {
		if x != 0 {
			r.row, r.h = append(r.row, from+i), append(r.h, x)
		}
	}
	return r
}

// decompose takes columns of equal length n. It does not alter them.
func decompose(columns [][]float64, n int) *decomposition {
	d := &decomposition{n: n, p: len(columns)}
	for c, col := range columns {
		v := append(make([]float64, 0, n), col...)
		full := norm(v)
		d.apply(v)
		k := len(d.keep)
		rest := 0.0
		if k < n {
			rest = norm(v[k:])
		}
		if full == 0 || rest <= aliasTol*full {
			d.drop = append(d.drop, c)
			d.inTerms = append(d.inTerms, d.solve(v[:k]))
			continue
		}
		// v[k:] becomes (-sign*rest, 0, 0, ...).
		h := append([]float64(nil), v[k:]...)
		alpha := -math.Copysign(rest, h[0])
		h[0] -= alpha
		scale := math.Sqrt2 / norm(h)
		for i := range h {
			h[i] *= scale // now the reflection is I - h h'
		}
		d.keep = append(d.keep, c)
		d.reflector = append(d.reflector, newReflector(h, k))
		d.r = append(d.r, append(v[:k:k], alpha))
	}
	return d
}

func (d *decomposition) rank() int { return len(d.keep) }

// apply turns v into Q'v.
func (d *decomposition) apply(v []float64) {
	for _, r := range d.reflector {
		r.reflect(v)
	}
}

// unapply turns v into Qv.
func (d *decomposition) unapply(v []float64) {
	for j := len(d.reflector) - 1; j >= 0; j-- {
		d.reflector[j].reflect(v)
	}
}

func (r reflector) reflect(v []float64) {
	dot := 0.0
	if r.row != nil {
		for i, row := range r.row {
			dot += r.h[i] * v[row]
		}
		if dot != 0 {
			for i, row := range r.row {
				v[row] -= dot * r.h[i]
			}
		}
		return
	}
	v = v[r.from:]
	for i, x := range r.h {
		dot += x * v[i]
	}
	for i, x := range r.h {
		v[i] -= dot * x
	}
}

// solve returns b with R b = top, R the leading len(top) columns.
func (d *decomposition) solve(top []float64) []float64 {
	b := append([]float64(nil), top...)
	for j := len(b) - 1; j >= 0; j-- {
		b[j] /= d.r[j][j]
		for i := range j {
			b[i] -= d.r[j][i] * b[j]
		}
	}
	return b
}

// forward returns w with R'w = c; |w|^2 is then c'(X'X)^-1 c.
func (d *decomposition) forward(c []float64) []float64 {
	w := append([]float64(nil), c...)
	for j := range w {
		for i := range j {
			w[j] -= d.r[j][i] * w[i]
		}
		w[j] /= d.r[j][j]
	}
	return w
}

// onKept expresses a contrast over all columns on the kept ones. ok is false
// when the contrast cannot be estimated: it is not in the row space of X.
func (d *decomposition) onKept(contrast []float64) (c []float64, ok bool) {
	c = make([]float64, len(d.keep))
	size := 1.0
	for j, k := range d.keep {
		c[j] = contrast[k]
		size = math.Max(size, math.Abs(c[j]))
	}
	for a, col := range d.drop {
		want := 0.0
		for j, t := range d.inTerms[a] {
			want += t * c[j]
		}
		// inTerms are found to about 1e-13; an inestimable contrast of our
		// kind misses by at least a fraction with a lane or driver count
		// below it, far above 1e-6.
		if math.Abs(want-contrast[col]) > 1e-6*size {
			return nil, false
		}
	}
	return c, true
}

// solution is least squares of one y on a decomposition.
type solution struct {
	*decomposition
	coef    []float64 // on keep
	effects []float64 // Q'y for the kept columns: their squares are sequential sums of squares
	resid   []float64
	rss     float64
	df      int
}

func (d *decomposition) fit(y []float64) solution {
	v := append([]float64(nil), y...)
	d.apply(v)
	k := d.rank()
	s := solution{decomposition: d, coef: d.solve(v[:k]), effects: append([]float64(nil), v[:k]...), df: d.n - k}
	rest := v
	for i := range k {
		rest[i] = 0
	}
	for _, x := range rest[k:] {
		s.rss += x * x
	}
	d.unapply(rest)
	s.resid = rest
	return s
}

// exact reports whether the fit leaves nothing but rounding, measured against y.
func (s solution) exact(y []float64) bool {
	size := 0.0
	for _, x := range y {
		size = math.Max(size, math.Abs(x))
	}
	return math.Sqrt(s.rss) <= 1e-12*size*math.Sqrt(float64(len(y)))
}

// s2 is the residual variance, NaN without degrees of freedom.
func (s solution) s2() float64 {
	if s.df < 1 {
		return math.NaN()
	}
	return s.rss / float64(s.df)
}

// norm is the length of v. Columns here are far from the ends of float64's range,
// so that squares neither overflow nor vanish.
func norm(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum)
}
