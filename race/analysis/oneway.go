package analysis

import (
	"fmt"
	"math"
	"math/big"
)

// OneWay is a one-way analysis of variance.
type OneWay struct {
	Between, Within     float64 // sums of squares
	DFBetween, DFWithin int
	F, P, R2, S         *float64
}

// OneWayTicks compares groups of readings given as whole clock ticks. Sums of
// squares are made in integers, so that large readings with small differences
// (microseconds since the counter was switched on) lose nothing; tick is the
// length of a tick in the unit wanted.
func OneWayTicks(groups [][]int64, tick float64) (*OneWay, error) {
	n, k := 0, 0
	for _, g := range groups {
		n += len(g)
		if len(g) > 0 {
			k++
		}
	}
	if k < 1 {
		return nil, fmt.Errorf("analysis: no readings %w: expected at least one group", ErrBadInput)
	}
	// Sums of squares about means, times common denominators, exactly:
	// within = sum x^2 - sum over groups of S_g^2/n_g, between likewise.
	square, all := new(big.Int), new(big.Int)
	parts := new(big.Rat)
	for _, g := range groups {
		sum := new(big.Int)
		for _, x := range g {
			v := big.NewInt(x)
			sum.Add(sum, v)
			square.Add(square, new(big.Int).Mul(v, v))
		}
		all.Add(all, sum)
		if len(g) > 0 {
			parts.Add(parts, new(big.Rat).SetFrac(new(big.Int).Mul(sum, sum), big.NewInt(int64(len(g)))))
		}
	}
	grand := new(big.Rat).SetFrac(new(big.Int).Mul(all, all), big.NewInt(int64(n)))
	between, _ := new(big.Rat).Sub(parts, grand).Float64()
	within, _ := new(big.Rat).Sub(new(big.Rat).SetInt(square), parts).Float64()
	return newOneWay(between*tick*tick, within*tick*tick, k-1, n-k), nil
}

// OneWayOf compares groups of readings. The first reading is taken off all of
// them before anything is squared.
func OneWayOf(groups [][]float64) (*OneWay, error) {
	n, k, base := 0, 0, math.NaN()
	for g, group := range groups {
		for i, x := range group {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return nil, fmt.Errorf("analysis: group %d, reading %d is %v %w: expected a finite number", g+1, i+1, x, ErrBadInput)
			}
			if n == 0 {
				base = x
			}
			n++
		}
		if len(group) > 0 {
			k++
		}
	}
	if n == 0 {
		return nil, fmt.Errorf("analysis: no readings %w: expected at least one group", ErrBadInput)
	}
	grand := 0.0
	for _, group := range groups {
		for _, x := range group {
			grand += (x - base) / float64(n)
		}
	}
	between, within := 0.0, 0.0
	for _, group := range groups {
		if len(group) == 0 {
			continue
		}
		m := 0.0
		for _, x := range group {
			m += (x - base) / float64(len(group))
		}
		between += float64(len(group)) * (m - grand) * (m - grand)
		for _, x := range group {
			within += (x - base - m) * (x - base - m)
		}
	}
	return newOneWay(between, within, k-1, n-k), nil
}

func newOneWay(between, within float64, dfb, dfw int) *OneWay {
	o := &OneWay{Between: between, Within: within, DFBetween: dfb, DFWithin: dfw}
	if between+within > 0 {
		o.R2 = known(between / (between + within))
	}
	if dfw > 0 {
		o.S = known(math.Sqrt(within / float64(dfw)))
		if dfb > 0 && within > 0 {
			o.F = known(between / float64(dfb) / (within / float64(dfw)))
			o.P = known(FUpper(*o.F, float64(dfb), float64(dfw)))
		}
	}
	return o
}
