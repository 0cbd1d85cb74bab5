package analysis

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Random is a random factor: every level adds its own deviation, drawn from a
// normal distribution whose spread is to be found.
type Random struct {
	Level  []int // of each observation, 0..Levels-1
	Levels int
}

// MixedFit is y = X b + sum of Z_k u_k + e with u_k and e normal, fitted by
// restricted maximum likelihood (REML).
type MixedFit struct {
	N         int
	Fixed     []*float64 // one per column; nil for a column that earlier ones contain
	FixedSE   []*float64
	SD        []float64   // standard deviation of each random factor
	Residual  float64     // residual standard deviation
	U         [][]float64 // predicted deviation of each level
	Criterion float64     // -2 log restricted likelihood, constants included
	DF        int         // N less fixed columns used

	keep  []int
	theta []float64
	prob  *mixedProblem
	state *mixedState
}

// Mixed fits by REML. fixed are the columns of X, a constant included if wanted.
//
// It refuses data that cannot tell a factor from the error (every level seen
// once) or from the fixed columns, and data without any error left: no
// spread could be found for them.
//
// The equations are Henderson's in the form of D. Bates, M. Maechler, B. Bolker
// and S. Walker, Fitting Linear Mixed-Effects Models Using lme4, J. Stat. Softw.
// 67 (2015): with theta the ratio of a factor's spread to the error's,
// [Theta Z'Z Theta + I, Theta Z'X; X'Z Theta, X'X]. The factor with most levels
// makes a diagonal block and is eliminated first.
func Mixed(fixed [][]float64, random []Random, y []float64) (*MixedFit, error) {
	p, keep, err := newMixedProblem(fixed, random, y)
	if err != nil {
		return nil, err
	}
	theta := minimise(func(theta []float64) float64 {
		s := p.solve(theta)
		return s.criterion
	}, len(random))
	s := p.solve(theta)
	if math.IsInf(s.criterion, 0) || math.IsNaN(s.criterion) {
		return nil, fmt.Errorf("analysis: mixed model with %d values did not converge %w: use fewer factors", len(y), ErrBadInput)
	}
	f := &MixedFit{N: len(y), DF: len(y) - len(keep), Criterion: s.criterion, Residual: math.Sqrt(s.s2), keep: keep, theta: theta, prob: p, state: s,
		Fixed: make([]*float64, len(fixed)), FixedSE: make([]*float64, len(fixed))}
	for k := range random {
		f.SD = append(f.SD, math.Abs(theta[k])*f.Residual)
		u := make([]float64, random[k].Levels)
		for l := range u {
			u[l] = theta[k] * s.u(p.offset[k]+l)
		}
		f.U = append(f.U, u)
	}
	for j, c := range keep {
		v := s.rest[p.restRandom+j]
		if c == p.constant {
			v += p.base
		}
		f.Fixed[c] = known(v)
		e := make([]float64, len(fixed))
		e[c] = 1
		if _, se, ok := f.Contrast(e, nil); ok {
			f.FixedSE[c] = known(se)
		}
	}
	return f, nil
}

// Contrast returns the estimate of sum fixed_j b_j + sum random_k,l u_k,l and its
// standard error (that of prediction, for random parts). random may be nil or have nil
// parts. ok is false when it uses a fixed column that was set aside.
func (f *MixedFit) Contrast(fixed []float64, random [][]float64) (value, se float64, ok bool) {
	p, s := f.prob, f.state
	rest := make([]float64, p.restLen())
	first := make([]float64, p.firstLen)
	for c, v := range fixed {
		if v != 0 && f.Fixed[c] == nil {
			return 0, 0, false
		}
	}
	for j, c := range f.keep {
		if fixed != nil {
			rest[p.restRandom+j] = fixed[c]
			value += fixed[c] * *f.fixedValue(c, j)
		}
	}
	for k, part := range random {
		for l, v := range part {
			value += v * f.U[k][l]
			if at := p.offset[k] + l; at < p.firstLen {
				first[at] = v * f.theta[k]
			} else {
				rest[at-p.firstLen] = v * f.theta[k]
			}
		}
	}
	return value, math.Sqrt(s.s2 * s.quadratic(p, first, rest)), true
}

func (f *MixedFit) fixedValue(c, j int) *float64 {
	if f.Fixed[c] != nil {
		return f.Fixed[c]
	}
	v := f.state.rest[f.prob.restRandom+j]
	return &v
}

// mixedProblem holds the cross-products, which do not depend on theta. Random
// levels are numbered through: first those of the largest factor, then the others,
// then the fixed columns.
type mixedProblem struct {
	n, fixedLen          int
	firstLen, restRandom int
	first                int       // which factor is eliminated first
	offset               []int     // number of a factor's level 0
	count                []float64 // Z'Z of the first factor, a diagonal
	cross                []float64 // firstLen x restLen: Z1'[Z2.. X]
	inner                []float64 // restLen x restLen
	zy                   []float64 // Z1'y, then [Z2.. X]'y
	yy                   float64
	base                 float64 // taken off y
	constant             int     // column that carries base back, -1 for none
	factorOf             []int   // factor of each rest column, -1 for fixed
}

func (p *mixedProblem) restLen() int { return p.restRandom + p.fixedLen }

func newMixedProblem(fixed [][]float64, random []Random, y []float64) (*mixedProblem, []int, error) {
	if err := checkColumns(fixed, y); err != nil {
		return nil, nil, err
	}
	if len(random) == 0 {
		return nil, nil, fmt.Errorf("analysis: mixed model without a random factor %w: use Regress", ErrBadInput)
	}
	for k, r := range random {
		if len(r.Level) != len(y) || r.Levels < 1 {
			return nil, nil, fmt.Errorf("analysis: random factor %d has %d values, y has %d %w: expected the same", k+1, len(r.Level), len(y), ErrBadInput)
		}
		for i, l := range r.Level {
			if l < 0 || l >= r.Levels {
				return nil, nil, fmt.Errorf("analysis: random factor %d, row %d: level %d %w: expected 0 to %d", k+1, i+1, l, ErrBadInput, r.Levels-1)
			}
		}
	}
	d := decompose(fixed, len(y))
	if err := separable(fixed, random, y, d.rank()); err != nil {
		return nil, nil, err
	}
	p := &mixedProblem{n: len(y), fixedLen: d.rank(), constant: -1, offset: make([]int, len(random))}
	for k, r := range random {
		if r.Levels > random[p.first].Levels {
			p.first = k
		}
	}
	p.firstLen = random[p.first].Levels
	at := p.firstLen
	for k, r := range random {
		if k != p.first {
			p.offset[k] = at
			at += r.Levels
			for range r.Levels {
				p.factorOf = append(p.factorOf, k)
			}
		}
	}
	p.restRandom = at - p.firstLen
	for range p.fixedLen {
		p.factorOf = append(p.factorOf, -1)
	}
	for _, c := range d.keep {
		if constantColumn(fixed[c]) {
			p.constant, p.base = c, mean(y)
			break
		}
	}
	m := p.restLen()
	p.count, p.cross, p.inner = make([]float64, p.firstLen), make([]float64, p.firstLen*m), make([]float64, m*m)
	p.zy = make([]float64, p.firstLen+m)
	row := make([]int, 0, m)
	val := make([]float64, 0, m)
	for i := range y {
		yi := y[i] - p.base
		p.yy += yi * yi
		row, val = row[:0], val[:0]
		for k, r := range random {
			if k != p.first {
				row, val = append(row, p.offset[k]-p.firstLen+r.Level[i]), append(val, 1)
			}
		}
		for j, c := range d.keep {
			if x := fixed[c][i]; x != 0 {
				row, val = append(row, p.restRandom+j), append(val, x)
			}
		}
		a := random[p.first].Level[i]
		p.count[a]++
		p.zy[a] += yi
		for s, r := range row {
			p.cross[a*m+r] += val[s]
			p.zy[p.firstLen+r] += val[s] * yi
			for t, q := range row {
				p.inner[r*m+q] += val[s] * val[t]
			}
		}
	}
	return p, d.keep, nil
}

func constantColumn(x []float64) bool {
	for _, v := range x {
		if v != 1 {
			return false
		}
	}
	return true
}

// separable checks that each factor can be told from what stands before it and
// from the error.
func separable(fixed [][]float64, random []Random, y []float64, rank int) error {
	columns := append([][]float64{}, fixed...)
	width := len(fixed)
	for _, r := range random {
		width += r.Levels
	}
	if len(y) > 2000 && len(y) > 3*width {
		return nil // too large to decompose for a check that such data pass
	}
	for k, r := range random {
		for l := range r.Levels {
			col := make([]float64, len(y))
			for i, at := range r.Level {
				if at == l {
					col[i] = 1
				}
			}
			columns = append(columns, col)
		}
		d := decompose(columns, len(y))
		if d.rank() == rank {
			return fmt.Errorf("analysis: random factor %d cannot be told from the terms before it %w: leave it out", k+1, ErrBadInput)
		}
		rank = d.rank()
		if k == len(random)-1 {
			s := d.fit(y)
			if s.df < 1 {
				return fmt.Errorf("analysis: %d values, %d terms: the error cannot be told from random factor %d %w: expected repeated values for some of its levels", len(y), rank, k+1, ErrBadInput)
			}
			if s.exact(y) {
				return fmt.Errorf("analysis: nothing is left as error, so no spread can be compared with it %w: expected figures that vary", ErrBadInput)
			}
		}
	}
	return nil
}

// mixedState is the solution for one theta.
type mixedState struct {
	criterion, s2 float64
	diag          []float64 // theta^2 n + 1 of the first factor
	scale         []float64 // theta of each column of rest, 1 for fixed ones
	t1            float64   // theta of the first factor
	chol          mat.Cholesky
	first, rest   []float64 // spherical random effects, and fixed effects at the end of rest
}

func (s *mixedState) u(at int) float64 {
	if at < len(s.first) {
		return s.first[at]
	}
	return s.rest[at-len(s.first)]
}

// coupling is the scaled cross-product of a level of the first factor and a column
// of rest.
func (s *mixedState) coupling(p *mixedProblem, a, j int) float64 {
	return s.t1 * s.scale[j] * p.cross[a*len(s.scale)+j]
}

func (p *mixedProblem) scaleOf(theta []float64, rest int) float64 {
	if k := p.factorOf[rest]; k >= 0 {
		return theta[k]
	}
	return 1
}

func (p *mixedProblem) solve(theta []float64) *mixedState {
	m := p.restLen()
	s := &mixedState{criterion: math.Inf(1), diag: make([]float64, p.firstLen), t1: theta[p.first]}
	t1 := s.t1
	scale := make([]float64, m)
	for j := range scale {
		scale[j] = p.scaleOf(theta, j)
	}
	s.scale = scale
	schur := make([]float64, m*m)
	rhs := make([]float64, m)
	for i := range m {
		rhs[i] = scale[i] * p.zy[p.firstLen+i]
		for j := range m {
			schur[i*m+j] = scale[i] * scale[j] * p.inner[i*m+j]
		}
		if i < p.restRandom {
			schur[i*m+i]++
		}
	}
	logDet := 0.0
	at := make([]int, 0, m)
	for a := range p.firstLen {
		s.diag[a] = t1*t1*p.count[a] + 1
		logDet += math.Log(s.diag[a])
		at = at[:0]
		for j := range m {
			if v := p.cross[a*m+j]; v != 0 {
				at = append(at, j)
			}
		}
		for _, i := range at {
			f := s.coupling(p, a, i) / s.diag[a]
			rhs[i] -= f * t1 * p.zy[a]
			for _, j := range at {
				schur[i*m+j] -= f * s.coupling(p, a, j)
			}
		}
	}
	if !s.chol.Factorize(mat.NewSymDense(m, schur)) {
		return s
	}
	var x mat.VecDense
	if s.chol.SolveVecTo(&x, mat.NewVecDense(m, rhs)) != nil {
		return s
	}
	s.rest = x.RawVector().Data
	s.first = make([]float64, p.firstLen)
	fitted := 0.0
	for a := range s.first {
		v := t1 * p.zy[a]
		for j := range m {
			v -= s.coupling(p, a, j) * s.rest[j]
		}
		s.first[a] = v / s.diag[a]
		fitted += s.first[a] * t1 * p.zy[a]
	}
	for j := range m {
		fitted += s.rest[j] * scale[j] * p.zy[p.firstLen+j]
	}
	rss := p.yy - fitted
	if rss <= 0 {
		return s
	}
	logDet += s.chol.LogDet()
	df := float64(p.n - p.fixedLen)
	s.s2 = rss / df
	s.criterion = logDet + df*(1+math.Log(2*math.Pi*s.s2))
	return s
}

// quadratic returns c' A^-1 c for c = (first, rest).
func (s *mixedState) quadratic(p *mixedProblem, first, rest []float64) float64 {
	m := p.restLen()
	sum := 0.0
	c := append([]float64(nil), rest...)
	for a, v := range first {
		if v == 0 {
			continue
		}
		sum += v * v / s.diag[a]
		for j := range m {
			c[j] -= s.coupling(p, a, j) * v / s.diag[a]
		}
	}
	var x mat.VecDense
	if s.chol.SolveVecTo(&x, mat.NewVecDense(m, c)) != nil {
		return math.NaN()
	}
	for j, v := range x.RawVector().Data {
		sum += v * c[j]
	}
	return sum
}
