package even

import (
	"fmt"
	"math"

	"lanewright/layout"
)

// course is one road from its timing line round to it, as a table of how lanes run up to each joint, so that a crossing
// put in anywhere is reckoned with a few look-ups.
type course struct {
	lanes  int
	at     []float64 // of the timing line on its piece, by position
	order  []int     // piece indices in driving order from the timing piece
	joints []fork    // before each of them, and at the end
	place  []int     // where each piece index stands in order
}

func newCourse(t layout.Track, r int) (course, error) {
	road := &t.Roads[r]
	c := course{lanes: road.Positions, place: make([]int, len(road.Pieces))}
	first := 0
	c.at = make([]float64, c.lanes)
	for i := range road.Pieces {
		for _, s := range road.Pieces[i].Sensors {
			if s.Number == 1 {
				first = i
				copy(c.at, s.AtMM)
			}
		}
	}
	f := start(c.lanes)
	c.joints = append(c.joints, f)
	for k := range road.Pieces {
		i := (first + k) % len(road.Pieces)
		c.place[i] = k
		c.order = append(c.order, i)
		f = f.through(road.Pieces[i].Stay)
		for _, l := range f.length {
			if math.IsNaN(l) || math.IsInf(l, 0) {
				return c, fmt.Errorf("even: road %d piece %d (%s) has no length: %w", road.Number, i+1, road.Pieces[i].Piece, ErrCannot)
			}
		}
		c.joints = append(c.joints, f)
	}
	return c, nil
}

// laps gives, by position at the line, the lap with crossings at the given sites, which stand in driving order, and the
// position where it ends.
func (c *course) laps(sites []*site, laps []float64, ends []int) {
	// now[p] is the position at the line, in the layout as it is, of the lane that really started in p: what follows a
	// crossing happens to a car as if it had started where its new neighbour did.
	last := &c.joints[len(c.joints)-1]
	for p := range laps {
		as, length := p, 0.0
		for _, s := range sites {
			before, after := &c.joints[c.place[s.from]], &c.joints[c.place[s.from]+s.to-s.from]
			q := before.where(as)
			if q != s.pair && q != s.pair+1 {
				if len(s.swap.ways) > q {
					// A lane that does not swap goes straight on; the crossing is as long as what it replaces, or its measure.
					length += s.straightOn(q, after.length[q]-before.length[q])
				}
				continue
			}
			length += s.swap.ways[q] - s.swap.length
			// Up to here as the old lane, from here on as the other one.
			other := 2*s.pair + 1 - q
			length += before.length[q] - before.length[other]
			as = before.origin[other]
		}
		end := last.where(as)
		laps[p] = length + last.length[end] - c.at[p] + c.at[end]
		ends[p] = end
	}
}

// straightOn is what a lane beside the swapping ones is longer through the crossing than through the straights.
func (s *site) straightOn(q int, plain float64) float64 {
	if s.swap.length < plain-1e-6 { // a routed straight that is longer than the crossing
		return s.swap.ways[q] - s.swap.length
	}
	return s.swap.ways[q] - plain
}

// where finds the position at this joint of the lane that started in p.
func (f *fork) where(p int) int {
	for i, o := range f.origin {
		if o == p {
			return i
		}
	}
	return p
}
