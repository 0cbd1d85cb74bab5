// Package route finds the ways round a layout through its changers: the shortest and the longest lap, the next best
// ones, how many there are, what each changer is worth, and the best that can be kept up lap after lap.
//
// A lap visits every piece of its road once, so the ways round are the paths of a layered graph without loops: the
// layers are the joints, the nodes the positions on the road, the edges the strands of the pieces (the transfer-matrix
// method; R. P. Stanley, Algebraic Combinatorics, chapter 1). Shortest, longest and counting are then the same walk with
// another way of adding, and all of them are exact: nothing is sampled.
//
// Inside, lengths are whole numbers of a small unit (a picometre on any layout that fits a hall), so that two routes made
// of the same strands in another order are equal and not merely close. Turning a length into units changes it by at most
// half a unit a piece.
package route

import (
	"errors"
	"fmt"
	"math"

	"lanewright/layout"
)

// ErrNoLap reports a track on which no lap can be followed from the timing line to the timing line.
var ErrNoLap = errors.New("no lap to follow")

// Graph is the ways round one track. Make it with [New]; it is not changed afterwards.
type Graph struct {
	lanes  []layout.Lane
	laneAt map[layout.LaneRef]int // index into lanes
	chains []chain                // one per road that carries a timing line, by road number
	unitMM float64                // size of a length unit
}

// chain is the pieces of a lap that starts on one road, from that road's timing line to the next timing line.
type chain struct {
	road, into int // road where the lap starts, and where it ends
	positions  int // most positions on any of its steps
	steps      []step
	lineMM     []float64 // where the line lies on the first piece, by position from 0
	lineEndMM  []float64 // where it lies on the last one
}

// step is one piece, or the part of the timing piece that lies on this side of the line.
type step struct {
	piece *layout.Placed
	edges []edge
}

// edge is one way through a step. Positions count from 0 here.
type edge struct {
	from, to int
	length   int64 // in units
	change   bool
}

// unitFinest is the unit of length inside a graph, in mm. A lap of 4 km and a cycle of 64 laps still fit 63 bits.
const unitFinest = 1e-9

// roundMax bounds, in units, the longest lap that a graph accepts: 64 laps of it stay below 2^62 and so can be added and
// multiplied by the lap count without overflow.
const roundMax = 1 << 50

// New follows every road of t from its timing line to the next one. Roads that run into each other may share a line;
// where there is none at all, laps are counted from the first piece. It returns an error that wraps [ErrNoLap] when the
// track has no lanes or no pieces, or when a length is not a number.
//
// Optional ways on the timing piece itself are not followed: a car is in a lane when it is timed.
func New(t layout.Track) (Graph, error) {
	g := Graph{lanes: t.Lanes, laneAt: map[layout.LaneRef]int{}}
	for i, l := range t.Lanes {
		g.laneAt[l.At] = i
	}
	if len(t.Lanes) == 0 {
		return Graph{}, fmt.Errorf("route: the track has no lanes: %w", ErrNoLap)
	}
	into := intoOf(t)
	lines := linesOf(t, into)
	var raw []rawChain
	longest := 0.0
	for r := range t.Roads {
		if lines[r].piece < 0 {
			continue
		}
		c, err := followRoad(t, r, into, lines)
		if err != nil {
			return Graph{}, err
		}
		longest = max(longest, c.lengthMax()) // which is not a number if either is not
		raw = append(raw, c)
	}
	if len(raw) == 0 {
		return Graph{}, fmt.Errorf("route: no road has a piece to lay a timing line on: %w", ErrNoLap)
	}
	if math.IsNaN(longest) || math.IsInf(longest, 0) {
		return Graph{}, fmt.Errorf("route: the longest lap measures %v mm, want a number: %w", longest, ErrNoLap)
	}
	g.unitMM = unitFinest
	for longest/g.unitMM > roundMax {
		g.unitMM *= 10
	}
	for _, c := range raw {
		g.chains = append(g.chains, c.inUnits(g.unitMM))
	}
	return g, nil
}

// intoOf gives, for each road index, the index of the road that it runs into: itself unless a join says otherwise.
func intoOf(t layout.Track) []int {
	into := make([]int, len(t.Roads))
	for i := range into {
		into[i] = i
	}
	at := map[int]int{}
	for i, r := range t.Roads {
		at[r.Number] = i
	}
	for _, j := range t.Joins {
		from, ok := at[j.Road]
		to, ok2 := at[j.Into]
		if ok && ok2 {
			into[from] = to
		}
	}
	return into
}

// line is where a road carries the timing line: on which piece, -1 for none, and where on it by position.
type line struct {
	piece int
	at    []float64
}

// linesOf finds the timing line of every road. A ring of roads without any has one before the first piece of its first
// road.
func linesOf(t layout.Track, into []int) []line {
	lines := make([]line, len(t.Roads))
	for r := range t.Roads {
		lines[r] = line{piece: -1}
		for i := range t.Roads[r].Pieces {
			for _, s := range t.Roads[r].Pieces[i].Sensors {
				if s.Number == 1 && lines[r].piece < 0 {
					lines[r] = line{i, s.AtMM}
				}
			}
		}
	}
	for r := range t.Roads {
		at, timed := r, false
		for range t.Roads {
			timed = timed || lines[at].piece >= 0
			at = into[at]
		}
		if !timed && len(t.Roads[r].Pieces) > 0 {
			lines[r] = line{piece: 0}
		}
	}
	return lines
}

// rawChain is a chain whose lengths are still in mm.
type rawChain struct {
	road, into int
	positions  int
	pieces     []*layout.Placed
	edges      [][]rawEdge
	at, endAt  []float64
}

type rawEdge struct {
	from, to int
	mm       float64
	change   bool
}

// followRoad walks from the timing line of road index r to the next timing line.
func followRoad(t layout.Track, r int, into []int, lines []line) (rawChain, error) {
	from := lines[r]
	c := rawChain{road: t.Roads[r].Number, at: from.at}
	c.add(&t.Roads[r].Pieces[from.piece], func(s layout.Strand) float64 { return s.LengthMM - lineAt(from.at, s.From) }, false)
	for i := from.piece + 1; i < len(t.Roads[r].Pieces); i++ {
		c.add(&t.Roads[r].Pieces[i], nil, true)
	}
	for hops := 0; hops <= len(t.Roads); hops++ {
		r = into[r]
		to := lines[r]
		end := to.piece
		if end < 0 {
			end = len(t.Roads[r].Pieces)
		}
		for i := 0; i < end; i++ {
			c.add(&t.Roads[r].Pieces[i], nil, true)
		}
		if to.piece >= 0 {
			// Only the part before the line: the strand keeps its entry position there.
			c.addUpToLine(&t.Roads[r].Pieces[to.piece], to.at)
			c.into, c.endAt = t.Roads[r].Number, to.at
			return c, nil
		}
	}
	return c, fmt.Errorf("route: road %d never comes back to a timing line; every road needs one or must run into a road that has one: %w",
		c.road, ErrNoLap)
}

func lineAt(at []float64, position int) float64 {
	if position >= 1 && position <= len(at) {
		return at[position-1]
	}
	return 0
}

// add appends a piece. lengthOf, where given, replaces the strand's own length.
func (c *rawChain) add(p *layout.Placed, lengthOf func(layout.Strand) float64, changes bool) {
	es := make([]rawEdge, 0, len(p.Stay)+len(p.Change))
	put := func(ss []layout.Strand, change bool) {
		for _, s := range ss {
			mm := s.LengthMM
			if lengthOf != nil {
				mm = lengthOf(s)
			}
			es = append(es, rawEdge{s.From - 1, s.To - 1, mm, change})
			c.positions = max(c.positions, s.From, s.To)
		}
	}
	put(p.Stay, false)
	if changes {
		put(p.Change, true)
	}
	c.pieces = append(c.pieces, p)
	c.edges = append(c.edges, es)
}

func (c *rawChain) addUpToLine(p *layout.Placed, at []float64) {
	es := make([]rawEdge, 0, len(p.Stay))
	for _, s := range p.Stay {
		es = append(es, rawEdge{s.From - 1, s.From - 1, lineAt(at, s.From), false})
	}
	c.pieces = append(c.pieces, p)
	c.edges = append(c.edges, es)
}

// lengthMax bounds the length of any lap of the chain, in mm. It is not a number when a strand's length is not one.
func (c *rawChain) lengthMax() float64 {
	total := 0.0
	for _, es := range c.edges {
		most := 0.0
		for _, e := range es {
			if math.IsNaN(e.mm) || math.IsInf(e.mm, 0) {
				return math.NaN()
			}
			most = max(most, math.Abs(e.mm))
		}
		total += most
	}
	return total
}

func (c *rawChain) inUnits(unitMM float64) chain {
	out := chain{road: c.road, into: c.into, positions: c.positions, steps: make([]step, len(c.edges)),
		lineMM: c.at, lineEndMM: c.endAt}
	for i, es := range c.edges {
		out.steps[i] = step{piece: c.pieces[i], edges: make([]edge, 0, len(es))}
		for _, e := range es {
			if e.from < 0 || e.to < 0 {
				continue // a strand without a position is on no road
			}
			out.steps[i].edges = append(out.steps[i].edges,
				edge{e.from, e.to, int64(math.Round(e.mm / unitMM)), e.change})
		}
	}
	return out
}

// chainOf finds the chain and the position on which the lap of lane number n starts.
func (g Graph) chainOf(n int) (*chain, int, bool) {
	for _, l := range g.lanes {
		if l.Number != n {
			continue
		}
		for i := range g.chains {
			if g.chains[i].road == l.At.Road && l.At.Position >= 1 && l.At.Position <= g.chains[i].positions {
				return &g.chains[i], l.At.Position - 1, true
			}
		}
	}
	return nil, 0, false
}

// laneEnding gives the number of the lane in which a lap of chain c ends at position p (from 0), 0 for none.
func (g Graph) laneEnding(c *chain, p int) int {
	if i, ok := g.laneAt[layout.LaneRef{Road: c.into, Position: p + 1}]; ok {
		return g.lanes[i].Number
	}
	return 0
}
