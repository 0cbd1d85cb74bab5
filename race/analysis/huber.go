package analysis

import (
	"fmt"
	"math"
)

// HuberK is the usual tuning constant: 95 % efficient when errors are normal.
const HuberK = 1.345

// normalMAD turns the median of |r| into a standard deviation; the four-digit
// value is the one in use, so that results compare with other programs.
const normalMAD = 0.6745

// RegressHuber fits y = X b by Huber's M estimate: weighted least squares
// repeated with weights min(1, k s/|r|), the scale s = median|r|/0.6745 of all
// residuals about zero taken anew each time, from the least-squares start until
// the residuals change by less than 1e-12 of their size.
//
// It returns ErrBadInput when the scale falls to zero (more than half the
// residuals vanish: use least squares), or when the iteration does not settle.
//
// Standard errors: Cov = (kappa/m)^2 sum((w r)^2)/df (X'X)^-1, m the mean of
// psi', kappa = 1 + p var(psi')/(n m^2). Source: P. J. Huber, Robust Statistics
// (1981), section 7.6; the same as summary.rlm in the R package MASS.
func RegressHuber(columns [][]float64, y []float64, k float64) (*Regression, error) {
	if err := checkColumns(columns, y); err != nil {
		return nil, err
	}
	if !(k > 0) {
		return nil, fmt.Errorf("analysis: Huber constant %v %w: expected more than 0; %v is usual", k, ErrBadInput, HuberK)
	}
	plain := decompose(columns, len(y))
	start := plain.fit(y)
	if start.exact(y) {
		return nil, errNoScale
	}
	resid := start.resid
	weights := make([]float64, len(y))
	var fit solution
	scale := 0.0
	// Scale and residuals shrink together when more than half of them vanish;
	// this is far below any clock and far above rounding.
	nothing := 1e-9 * norm(start.resid) / math.Sqrt(float64(len(y)))
	const rounds = 5000
	for round := 0; ; round++ {
		if round == rounds {
			return nil, fmt.Errorf("analysis: Huber fit did not settle in %d rounds %w: use least squares", rounds, ErrBadInput)
		}
		scale = median(absolute(resid)) / normalMAD
		if scale <= nothing {
			return nil, errNoScale
		}
		for i, r := range resid {
			weights[i] = 1
			if a := math.Abs(r); a > k*scale {
				weights[i] = k * scale / a
			}
		}
		fit = weighted(columns, y, weights)
		change, size := 0.0, 1e-20
		for i := range resid {
			change += (fit.resid[i] - resid[i]) * (fit.resid[i] - resid[i])
			size += resid[i] * resid[i]
		}
		resid = fit.resid
		if math.Sqrt(change/size) < 1e-12 {
			break
		}
	}
	out := newRegression(fit)
	out.SS = nil // sequential sums of squares mean nothing here
	out.RSS = 0
	for _, r := range resid {
		out.RSS += r * r
	}
	out.Weights, out.Scale = weights, known(scale)
	if fit.df > 0 {
		out.setSE(plain, huberSpread(resid, weights, k*scale, fit))
	}
	return out, nil
}

var errNoScale = fmt.Errorf("analysis: more than half the residuals vanish, so a Huber fit has no scale %w: use least squares", ErrBadInput)

// huberSpread is the factor that takes the place of s in standard errors.
func huberSpread(resid, weights []float64, limit float64, fit solution) float64 {
	n := float64(len(resid))
	inside, sum := 0.0, 0.0
	for i, r := range resid {
		if math.Abs(r) <= limit {
			inside++
		}
		sum += weights[i] * r * weights[i] * r
	}
	m := inside / n
	variance := inside * (1 - m) / (n - 1) // of zeros and ones
	kappa := 1 + float64(fit.rank())*variance/(n*m*m)
	return math.Sqrt(sum/float64(fit.df)) * kappa / m
}

// weighted is least squares with weights; residuals are those of the unweighted
// rows.
func weighted(columns [][]float64, y, w []float64) solution {
	root := make([]float64, len(w))
	for i, x := range w {
		root[i] = math.Sqrt(x)
	}
	times := func(v []float64) []float64 {
		out := make([]float64, len(v))
		for i, x := range v {
			out[i] = x * root[i]
		}
		return out
	}
	wc := make([][]float64, len(columns))
	for c, col := range columns {
		wc[c] = times(col)
	}
	s := decompose(wc, len(y)).fit(times(y))
	for i := range s.resid {
		s.resid[i] /= root[i] // weights are never 0
	}
	return s
}
