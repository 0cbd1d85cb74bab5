package route

import "math"

// Gain is what one optional change is worth to a car that comes to it.
type Gain struct {
	Turn
	// HereMM is how much longer the change itself is than staying; it is positive for a shift beside a straight.
	HereMM float64 `json:"here_mm"`
	// ToLineMM is the length saved up to the timing line when the car makes no other change after this one, and none
	// when it stays. Negative: the change costs length. The two cars end the lap in different lanes.
	ToLineMM float64 `json:"to_line_mm"`
	// BestMM is the same when both cars make the best of every later changer.
	BestMM float64 `json:"best_mm"`
	// Reachable says whether a car from some lane can come to this change at all.
	Reachable bool `json:"reachable"`
}

// none marks a position from which, or at which, nothing can be reached. It stays far from overflow when lengths are
// added to it.
const none = math.MaxInt64 / 4

// Gains lists every optional change of the layout in driving order, road by road.
func (g Graph) Gains() []Gain {
	var out []Gain
	for i := range g.chains {
		out = append(out, g.gainsOf(&g.chains[i])...)
	}
	return out
}

func (g Graph) gainsOf(c *chain) []Gain {
	reach := c.reachable()
	// rest[i][p] is the length from joint i, position p, to the line: with stays only, and at best.
	stay, best := c.rest(false), c.rest(true)
	var out []Gain
	for i, s := range c.steps {
		for _, e := range s.edges {
			if !e.change {
				continue
			}
			gain := Gain{Turn: turnOf(s, e), Reachable: reach[i][e.from]}
			if length, ok := s.stayFrom(e.from); ok {
				gain.HereMM = g.mm(e.length - length.length)
				gain.ToLineMM = g.saved(length.length+stay[i+1][length.to], e.length+stay[i+1][e.to])
				gain.BestMM = g.saved(length.length+best[i+1][length.to], e.length+best[i+1][e.to])
			}
			out = append(out, gain)
		}
	}
	return out
}

// saved is the difference in mm, 0 where one of the two ways leads nowhere.
func (g Graph) saved(without, with int64) float64 {
	if without >= none || with >= none {
		return 0
	}
	return g.mm(without - with)
}

func (s step) stayFrom(p int) (edge, bool) {
	for _, e := range s.edges {
		if e.from == p && !e.change {
			return e, true
		}
	}
	return edge{}, false
}

func (c *chain) reachable() [][]bool {
	reach := make([][]bool, len(c.steps)+1)
	reach[0] = make([]bool, c.positions)
	if len(c.steps) > 0 {
		for _, e := range c.steps[0].edges {
			reach[0][e.from] = true
		}
	}
	for i, s := range c.steps {
		reach[i+1] = make([]bool, c.positions)
		for _, e := range s.edges {
			if reach[i][e.from] {
				reach[i+1][e.to] = true
			}
		}
	}
	return reach
}

func (c *chain) rest(changes bool) [][]int64 {
	rest := make([][]int64, len(c.steps)+1)
	rest[len(c.steps)] = make([]int64, c.positions)
	for i := len(c.steps) - 1; i >= 0; i-- {
		rest[i] = make([]int64, c.positions)
		for p := range rest[i] {
			rest[i][p] = none
		}
		for _, e := range c.steps[i].edges {
			if e.change && !changes {
				continue
			}
			if rest[i+1][e.to] < none {
				rest[i][e.from] = min(rest[i][e.from], e.length+rest[i+1][e.to])
			}
		}
	}
	return rest
}
