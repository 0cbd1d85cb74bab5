package fit

import (
	"cmp"
	"math"
	"slices"
)

// step is a change of straights by so many mm at a heading: a piece added there, one of the opposite heading taken out,
// or one swapped for one of another length.
type step struct {
	micro int64 // heading
	mm    float64
	cost  int
	way   complex128
}

// vector is up to two steps and where they lead.
type vector struct {
	way   complex128
	steps [2]*step
}

func (v vector) cost() int {
	sum := 0
	for _, s := range v.steps {
		if s != nil {
			sum += s.cost
		}
	}
	return sum
}

func (v vector) list() []*step {
	var out []*step
	for _, s := range v.steps {
		if s != nil {
			out = append(out, s)
		}
	}
	return out
}

// straights is a table of the ways that up to two changes of straights can make, by place.
type straights struct {
	reach float64 // no way in the table goes further along either axis
	ones  []vector
	all   []vector // none, one or two steps, cheap ones first
	cells map[[2]int32][]int32
}

// cellMM is the size of a place in the table, nearMM how far sums in floating point may be off. Equal ways computed
// along different sums differ by less than 1e-8 mm on any layout that fits a hall; what is near is decided exactly.
const (
	cellMM = 0.5
	nearMM = 1e-4
)

func newStraights(c *chain, headings []int64) *straights {
	s := &straights{cells: map[[2]int32][]int32{}}
	steps := c.steps(headings)
	s.all = append(s.all, vector{})
	for i := range steps {
		s.ones = append(s.ones, vector{steps[i].way, [2]*step{&steps[i], nil}})
	}
	s.all = append(s.all, s.ones...)
	for i := range steps {
		for k := i; k < len(steps); k++ {
			if way := steps[i].way + steps[k].way; math.Hypot(real(way), imag(way)) > nearMM {
				s.all = append(s.all, vector{way, [2]*step{&steps[i], &steps[k]}})
			}
		}
	}
	slices.SortStableFunc(s.all, func(a, b vector) int { return cmp.Compare(a.cost(), b.cost()) })
	for i, v := range s.all {
		s.reach = max(s.reach, math.Abs(real(v.way)), math.Abs(imag(v.way)))
		k := cell(v.way)
		s.cells[k] = append(s.cells[k], int32(i))
	}
	s.reach += nearMM
	return s
}

// steps lists the ways that one change of a straight can make, each once: a step at a heading and its opposite at the
// opposite heading are the same way.
func (c *chain) steps(headings []int64) []step {
	costs := map[float64]int{}
	var lengths []float64
	put := func(mm float64, cost int) {
		if mm < nearMM {
			return
		}
		if old, ok := costs[mm]; !ok {
			lengths = append(lengths, mm)
			costs[mm] = cost
		} else {
			costs[mm] = min(old, cost)
		}
	}
	var pieces []float64
	for _, s := range c.symbols {
		if s.straight > 0 {
			pieces = append(pieces, s.straight)
		}
	}
	for _, l := range pieces {
		put(l, 2)
	}
	for _, a := range pieces {
		for _, b := range pieces {
			put(math.Abs(a-b), 3)
		}
	}
	slices.Sort(lengths)
	var out []step
	for _, h := range headings {
		for _, mm := range lengths {
			out = append(out, step{h, mm, costs[mm], turnBy(h) * complex(mm, 0)})
		}
	}
	return out
}

func cell(way complex128) [2]int32 {
	return [2]int32{int32(math.Floor(real(way) / cellMM)), int32(math.Floor(imag(way) / cellMM))}
}

// find visits every vector whose way is the wanted one to within nearMM.
func (s *straights) find(way complex128, visit func(vector)) {
	if math.Abs(real(way)) > s.reach || math.Abs(imag(way)) > s.reach {
		return
	}
	lo := cell(way - complex(nearMM, nearMM))
	hi := cell(way + complex(nearMM, nearMM))
	for x := lo[0]; x <= hi[0]; x++ {
		for y := lo[1]; y <= hi[1]; y++ {
			for _, i := range s.cells[[2]int32{x, y}] {
				v := s.all[i]
				if d := v.way - way; math.Abs(real(d)) <= nearMM && math.Abs(imag(d)) <= nearMM {
					visit(v)
				}
			}
		}
	}
}
