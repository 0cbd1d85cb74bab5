package analysis

import (
	"fmt"
	"math"
)

// Polish is a median polish: a rough, outlier-proof split of a table into an
// overall figure, rows and columns. It depends on where one begins and when one
// stops and is not unique: a cross-check, nothing more.
type Polish struct {
	Overall      float64
	Rows, Cols   []float64
	Residual     [][]float64
	AbsResiduals float64
	Settled      bool
}

// MedianPolish takes rows (drivers) by columns (lanes); NaN marks a missing
// stint. It starts with the rows and stops when the sum of absolute residuals
// falls by no more than eps of itself. Source: J. W. Tukey, Exploratory Data
// Analysis (1977).
func MedianPolish(table [][]float64, eps float64, rounds int) (*Polish, error) {
	if len(table) == 0 || len(table[0]) == 0 {
		return nil, fmt.Errorf("analysis: empty table for a median polish %w: expected drivers by lanes", ErrBadInput)
	}
	p := &Polish{Rows: make([]float64, len(table)), Cols: make([]float64, len(table[0]))}
	for r, row := range table {
		if len(row) != len(p.Cols) {
			return nil, fmt.Errorf("analysis: row %d has %d values, the first has %d %w: expected the same, NaN where a stint is missing", r+1, len(row), len(p.Cols), ErrBadInput)
		}
		p.Residual = append(p.Residual, append([]float64(nil), row...))
	}
	old := 0.0
	for range rounds {
		for r, row := range p.Residual {
			m := presentMedian(row)
			for c := range row {
				row[c] -= m
			}
			p.Rows[r] += m
		}
		p.recentre(p.Cols)
		for c := range p.Cols {
			col := make([]float64, len(p.Rows))
			for r := range col {
				col[r] = p.Residual[r][c]
			}
			m := presentMedian(col)
			for r := range col {
				p.Residual[r][c] -= m
			}
			p.Cols[c] += m
		}
		p.recentre(p.Rows)
		sum := 0.0
		for _, row := range p.Residual {
			for _, x := range row {
				if !math.IsNaN(x) {
					sum += math.Abs(x)
				}
			}
		}
		p.AbsResiduals = sum
		if sum == 0 || math.Abs(sum-old) <= eps*sum {
			p.Settled = true
			break
		}
		old = sum
	}
	return p, nil
}

// recentre moves the median of the effects into the overall figure.
func (p *Polish) recentre(effects []float64) {
	m := presentMedian(effects)
	for i := range effects {
		effects[i] -= m
	}
	p.Overall += m
}

// presentMedian is the median of what is there, 0 for nothing.
func presentMedian(x []float64) float64 {
	var there []float64
	for _, v := range x {
		if !math.IsNaN(v) {
			there = append(there, v)
		}
	}
	if len(there) == 0 {
		return 0
	}
	return median(there)
}
