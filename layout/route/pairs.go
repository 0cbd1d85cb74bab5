package route

import "math/big"

// Pair sums up the laps from one lane to one lane.
type Pair struct {
	Start    int      `json:"start"`
	End      int      `json:"end"`
	Laps     *big.Int `json:"laps"` // how many different ones
	Shortest Lap      `json:"shortest"`
	Longest  Lap      `json:"longest"`
}

// Pairs gives every pair of lanes that a lap can join, by start and then by end. A lap that ends in another lane than it
// began in is a lap like any other; only what follows it differs.
func (g Graph) Pairs() []Pair {
	var out []Pair
	for _, from := range g.lanes {
		c, p, ok := g.chainOf(from.Number)
		if !ok {
			continue
		}
		counts := c.countFrom(p)
		short, long := c.kBestFrom(p, 1, false), c.kBestFrom(p, 1, true)
		for _, to := range g.lanes {
			if to.At.Road != c.into {
				continue
			}
			pos := to.At.Position - 1
			if pos < 0 || pos >= c.positions || counts[pos] == nil {
				continue
			}
			pair := Pair{Start: from.Number, End: to.Number, Laps: counts[pos],
				Shortest: g.trace(c, short, pos, 0), Longest: g.trace(c, long, pos, 0)}
			pair.Shortest.Start, pair.Longest.Start = from.Number, from.Number
			out = append(out, pair)
		}
	}
	return out
}
