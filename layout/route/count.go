package route

import (
	"math/big"
	"math/bits"
)

// Count gives the number of different laps from lane start to lane end, end 0 meaning any lane. Two laps differ when
// they take another strand somewhere. The number is exact however large: 80 changers give more laps than 64 bits hold.
func (g Graph) Count(start, end int) *big.Int {
	total := new(big.Int)
	c, p, ok := g.chainOf(start)
	if !ok {
		return total
	}
	for pos, n := range c.countFrom(p) {
		if lane := g.laneEnding(c, pos); n != nil && lane != 0 && (end == 0 || lane == end) {
			total.Add(total, n)
		}
	}
	return total
}

// countFrom gives the number of ways from position p at the line to each position at the next line; nil for none.
func (c *chain) countFrom(p int) []*big.Int {
	now := make([]uint64, c.positions)
	now[p] = 1
	for i, s := range c.steps {
		next := make([]uint64, c.positions)
		for _, e := range s.edges {
			sum, carry := bits.Add64(next[e.to], now[e.from], 0)
			if carry != 0 {
				return c.countBig(i, now)
			}
			next[e.to] = sum
		}
		now = next
	}
	return large(now)
}

// countBig goes on from step i where 64 bits no longer hold the count.
func (c *chain) countBig(i int, from []uint64) []*big.Int {
	now := large(from)
	for _, s := range c.steps[i:] {
		next := make([]*big.Int, c.positions)
		for _, e := range s.edges {
			if now[e.from] == nil {
				continue
			}
			if next[e.to] == nil {
				next[e.to] = new(big.Int)
			}
			next[e.to].Add(next[e.to], now[e.from])
		}
		now = next
	}
	return now
}

func large(ns []uint64) []*big.Int {
	out := make([]*big.Int, len(ns))
	for i, n := range ns {
		if n > 0 {
			out[i] = new(big.Int).SetUint64(n)
		}
	}
	return out
}
