package analysis

import (
	"fmt"
	"math"
)

// Regression is a least-squares fit of y on columns.
type Regression struct {
	Coef []*float64 // one per column; nil for a column that earlier ones contain
	SE   []*float64
	N    int
	Rank int
	DF   int
	RSS  float64
	S    *float64 // residual standard deviation
	// SS holds the sequential sum of squares of each column, in the order given.
	SS       []float64
	Residual []float64
	Weights  []float64 // robust weights, nil for least squares
	Scale    *float64  // robust scale, nil for least squares
}

// Regress fits y = X b by Householder QR. columns are the columns of X, a
// constant included if wanted.
func Regress(columns [][]float64, y []float64) (*Regression, error) {
	if err := checkColumns(columns, y); err != nil {
		return nil, err
	}
	d := decompose(columns, len(y))
	s := d.fit(y)
	out := newRegression(s)
	if v := s.s2(); !math.IsNaN(v) {
		out.S = known(math.Sqrt(v))
		out.setSE(d, math.Sqrt(v))
	}
	return out, nil
}

func newRegression(s solution) *Regression {
	out := &Regression{Coef: make([]*float64, s.p), SE: make([]*float64, s.p), N: s.n, Rank: s.rank(), DF: s.df, RSS: s.rss,
		SS: make([]float64, s.p), Residual: s.resid}
	for j, c := range s.keep {
		out.Coef[c] = known(s.coef[j])
		out.SS[c] = s.effects[j] * s.effects[j]
	}
	return out
}

func (r *Regression) setSE(d *decomposition, scale float64) {
	for j, c := range d.keep {
		unit := make([]float64, d.rank())
		unit[j] = 1
		r.SE[c] = known(scale * norm(d.forward(unit)))
	}
}

func checkColumns(columns [][]float64, y []float64) error {
	if len(y) == 0 || len(columns) == 0 {
		return fmt.Errorf("analysis: %d columns, %d values %w: expected at least one of each", len(columns), len(y), ErrBadInput)
	}
	for c, col := range columns {
		if len(col) != len(y) {
			return fmt.Errorf("analysis: column %d has %d values, y has %d %w: expected the same", c+1, len(col), len(y), ErrBadInput)
		}
		for i, x := range col {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return fmt.Errorf("analysis: column %d, row %d is %v %w: expected a finite number", c+1, i+1, x, ErrBadInput)
			}
		}
	}
	for i, x := range y {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("analysis: y, row %d is %v %w: expected a finite number", i+1, x, ErrBadInput)
		}
	}
	return nil
}
