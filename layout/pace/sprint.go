package pace

import (
	"fmt"
	"math"
	"slices"

	"lanewright/layout"
	"lanewright/layout/route"
)

// sprint is the search for fastest routes on one track with one car.
type sprint struct {
	graph  route.Graph
	car    Car
	levels int
	short  int             // how many of the shortest laps are driven as well
	low    float64         // squared speed below which nobody needs to go: the lowest limit of all bends
	loops  map[int]*loop   // by road
	lanes  map[int]lineRef // by lane number
}

// lineRef is where a lane crosses the line.
type lineRef struct{ road, position int }

// loop is all that can be driven over from one road's timing line to the next line.
type loop struct {
	layers [][]way
	nodes  [][]node // by joint and position (from 1)
	lane   int      // some lane that starts here, for asking the graph
}

// way is one leg with the times through it.
type way struct {
	leg     route.Leg
	steps   []step
	limits  []float64   // at the joints of steps
	times   [][]float64 // [entry level][exit level], infinite where it cannot be
	reach   []float64   // squared speed at the exit under full drive, by entry level; 0 where it cannot be
	reachIn []float64   // time for that
}

// node is a position at a joint with its grid of speeds.
type node struct {
	top    float64 // highest squared speed from which the car can go on
	value  []float64
	pick   []int // best way out, index into the layer, by level
	out    []int // exit level, levels for the reach
	usable bool
}

// tableMost bounds the times kept, 8 bytes each: on larger layouts the grid of speeds is coarser.
const (
	tableMost   = 5_000_000
	levelsLeast = 8
)

// Steps longer than those of a par lap do for choosing a route, which is driven exactly afterwards.
const sprintStepMM = 25

func (s *sprint) prepare(lanes []layout.Lane) error {
	if s.loops != nil {
		return nil
	}
	s.loops, s.lanes, s.low = map[int]*loop{}, map[int]lineRef{}, math.Inf(1)
	var made []*loop
	for _, l := range lanes {
		s.lanes[l.Number] = lineRef{l.At.Road, l.At.Position}
		if s.loops[l.At.Road] != nil {
			continue
		}
		lp, err := s.newLoop(l.Number)
		if err != nil {
			return err
		}
		s.loops[l.At.Road] = lp
		made = append(made, lp)
	}
	ways := 0
	for _, lp := range made {
		for _, layer := range lp.layers {
			ways += len(layer)
		}
	}
	for s.levels > levelsLeast && ways*s.levels*s.levels > tableMost {
		s.levels--
	}
	if ways*s.levels*s.levels > tableMost {
		return fmt.Errorf("pace: the layout has %d ways through pieces, too many to search for the fastest route: %w", ways, ErrNoRoute)
	}
	s.low = min(s.low, s.car.Top*s.car.Top)
	s.low *= 0.98 // the grid's lowest speed lies under the lowest limit
	// Highest speeds, twice round so that the line's own are right, over all loops.
	for range 3 {
		for _, lp := range made {
			s.tops(lp)
		}
	}
	for _, lp := range made {
		for i := range lp.layers {
			for k := range lp.layers[i] {
				w := &lp.layers[i][k]
				s.fill(w, &lp.nodes[i][w.leg.Way.From], &lp.nodes[i+1][w.leg.Way.To])
			}
		}
	}
	return nil
}

func (s *sprint) newLoop(lane int) (*loop, error) {
	legs := s.graph.Layers(lane)
	if len(legs) == 0 {
		return nil, fmt.Errorf("pace: lane %d is not on this track: %w", lane, ErrNoRoute)
	}
	lp := &loop{lane: lane}
	positions, count := 0, 0
	for _, layer := range legs {
		count += len(layer)
	}
	if count*levelsLeast*levelsLeast > tableMost {
		return nil, fmt.Errorf("pace: the layout has %d ways through pieces, too many to search for the fastest route: %w", count, ErrNoRoute)
	}
	for _, layer := range legs {
		var ways []way
		for _, leg := range layer {
			var b builder
			b.ribbon.at = []float64{0}
			if err := b.leg(leg, sprintStepMM); err != nil {
				return nil, err
			}
			positions = max(positions, leg.Way.From, leg.Way.To)
			w := way{leg: leg, steps: b.ribbon.steps}
			w.limits = make([]float64, len(w.steps)+1)
			for i := range w.limits {
				w.limits[i] = 16 * s.car.Top * s.car.Top
			}
			for i := range w.steps {
				st := &w.steps[i]
				w.limits[i] = min(w.limits[i], st.limit(&s.car, st.k[0]))
				w.limits[i+1] = min(w.limits[i+1], st.limit(&s.car, st.k[2]))
			}
			s.low = min(s.low, slices.Min(w.limits))
			ways = append(ways, w)
		}
		lp.layers = append(lp.layers, ways)
	}
	for range len(legs) + 1 {
		nodes := make([]node, positions+1)
		for p := range nodes {
			nodes[p].top = 16 * s.car.Top * s.car.Top
		}
		lp.nodes = append(lp.nodes, nodes)
	}
	return lp, nil
}

// lineNode is where a lap that comes to the line in a position goes on.
func (s *sprint) lineNode(lp *loop, position int) *node {
	lane := s.graph.Ending(lp.lane, position)
	ref, ok := s.lanes[lane]
	if !ok || s.loops[ref.road] == nil {
		return nil
	}
	return &s.loops[ref.road].nodes[0][ref.position]
}

// tops finds backwards the highest speed at each joint and position from which the car can go on somewhere.
func (s *sprint) tops(lp *loop) {
	last := len(lp.layers)
	for p := range lp.nodes[last] {
		n := &lp.nodes[last][p]
		n.usable = false
		if next := s.lineNode(lp, p); next != nil {
			n.top, n.usable = next.top, true
		}
	}
	for i := last - 1; i >= 0; i-- {
		for p := range lp.nodes[i] {
			lp.nodes[i][p].top, lp.nodes[i][p].usable = 0, false
		}
		for k := range lp.layers[i] {
			w := &lp.layers[i][k]
			next := &lp.nodes[i+1][w.leg.Way.To]
			if !next.usable {
				continue
			}
			n := &lp.nodes[i][w.leg.Way.From]
			b := min(next.top, w.limits[len(w.steps)])
			for j := len(w.steps) - 1; j >= 0; j-- {
				b = min(w.steps[j].backward(&s.car, b), w.limits[j])
			}
			n.top, n.usable = max(n.top, b), true
		}
	}
}

// speed is the squared speed of a level at a node: speeds are spaced evenly from the lowest one to the node's highest.
func (s *sprint) speed(n *node, level int) float64 {
	lo, hi := math.Sqrt(min(s.low, n.top)), math.Sqrt(n.top)
	v := lo + (hi-lo)*float64(level)/float64(s.levels-1)
	return v * v
}

// at gives the value of a squared speed at a node, linear between levels; infinite above the highest.
func (s *sprint) at(n *node, w float64) float64 {
	lo, hi := math.Sqrt(min(s.low, n.top)), math.Sqrt(n.top)
	v := math.Sqrt(w)
	if v > hi*(1+1e-9) {
		return math.Inf(1)
	}
	if hi-lo < 1e-12 {
		return n.value[len(n.value)-1]
	}
	x := clampFloat((v-lo)/(hi-lo), 0, 1) * float64(s.levels-1)
	i := min(int(x), s.levels-2)
	a, b := n.value[i], n.value[i+1]
	if u := x - float64(i); u > 0 && !math.IsInf(b, 0) {
		return a + u*(b-a)
	}
	return a
}

func clampFloat(v, lo, hi float64) float64 { return max(lo, min(hi, v)) }

// fill computes the times through a way from every level of its entry to every level of its exit.
func (s *sprint) fill(w *way, in, out *node) {
	m, n := s.levels, len(w.steps)
	w.times, w.reach, w.reachIn = make([][]float64, m), make([]float64, m), make([]float64, m)
	if !in.usable || !out.usable {
		return
	}
	back := make([][]float64, m) // speeds, not squared, by exit level
	entry := make([]float64, m)  // highest squared speed at the entry for that exit
	for o := range m {
		b := s.speed(out, o)
		if b > w.limits[n]*(1+1e-9) {
			continue
		}
		b = min(b, w.limits[n])
		vs := make([]float64, n+1)
		vs[n] = math.Sqrt(b)
		for j := n - 1; j >= 0; j-- {
			b = min(w.steps[j].backward(&s.car, b), w.limits[j])
			vs[j] = math.Sqrt(b)
		}
		back[o], entry[o] = vs, b
	}
	fore := make([]float64, n+1)
	for i := range m {
		f := s.speed(in, i)
		w.times[i] = make([]float64, m)
		for o := range m {
			w.times[i][o] = math.Inf(1)
		}
		if f > w.limits[0]*(1+1e-9) {
			continue
		}
		f = min(f, w.limits[0])
		first := f
		fore[0] = math.Sqrt(f)
		free, stands := 0.0, false
		for j := range n {
			f = min(w.steps[j].forward(&s.car, f), w.limits[j+1])
			if !(f > stalled) {
				stands = true
				break
			}
			fore[j+1] = math.Sqrt(f)
			free += 2 * w.steps[j].length / (fore[j] + fore[j+1])
		}
		if stands {
			continue
		}
		// Under full drive all the way, if nothing inside makes it brake: a limit that clamps the speed is braking.
		if s.freely(w, fore) {
			w.reach[i], w.reachIn[i] = f, free
		}
		for o := range m {
			if back[o] == nil || first > entry[o]*(1+1e-9) || s.speed(out, o) > f*(1+1e-9) {
				continue
			}
			t, bk := 0.0, back[o]
			last := min(fore[0], bk[0])
			for j := range n {
				v := min(fore[j+1], bk[j+1])
				t += 2 * w.steps[j].length / (last + v)
				last = v
			}
			w.times[i][o] = t
		}
	}
}

// freely says whether a forward profile can be driven as it is: it nowhere falls faster than the brakes allow.
func (s *sprint) freely(w *way, fore []float64) bool {
	for j := range w.steps {
		b := fore[j+1] * fore[j+1]
		if fore[j]*fore[j] > w.steps[j].backward(&s.car, b)*(1+1e-9) {
			return false
		}
	}
	return true
}

// sweep goes once backwards round a loop: the values at the line in, the values at its start out.
func (s *sprint) sweep(lp *loop) {
	m := s.levels
	for i := len(lp.layers) - 1; i >= 0; i-- {
		for p := range lp.nodes[i] {
			n := &lp.nodes[i][p]
			n.value, n.pick, n.out = resized(n.value, m), resizedInts(n.pick, m), resizedInts(n.out, m)
			for l := range m {
				n.value[l], n.pick[l] = math.Inf(1), -1
			}
		}
		for k := range lp.layers[i] {
			w := &lp.layers[i][k]
			n, next := &lp.nodes[i][w.leg.Way.From], &lp.nodes[i+1][w.leg.Way.To]
			if !n.usable || !next.usable {
				continue
			}
			for l := range m {
				if w.times[l] == nil {
					continue
				}
				for o, t := range w.times[l] {
					if v := t + next.value[o]; v < n.value[l] {
						n.value[l], n.pick[l], n.out[l] = v, k, o
					}
				}
				if w.reach[l] > 0 {
					if v := w.reachIn[l] + s.at(next, w.reach[l]); v < n.value[l] {
						n.value[l], n.pick[l], n.out[l] = v, k, m
					}
				}
			}
		}
	}
}

func resized(v []float64, n int) []float64 {
	if cap(v) < n {
		return make([]float64, n)
	}
	return v[:n]
}

func resizedInts(v []int, n int) []int {
	if cap(v) < n {
		return make([]int, n)
	}
	return v[:n]
}

// follow drives one lap by the picks from a position at the line with a squared speed, and returns the turns made, the
// position and the speed at the next line; false where the picks lead nowhere.
func (s *sprint) follow(lp *loop, position int, w float64) (turns []route.Turn, end int, speed float64, ok bool) {
	turns = []route.Turn{}
	for i := range lp.layers {
		n := &lp.nodes[i][position]
		lo, hi := math.Sqrt(min(s.low, n.top)), math.Sqrt(n.top)
		level := s.levels - 1
		if hi-lo > 1e-12 {
			level = int(clampFloat(math.Round((math.Sqrt(w)-lo)/(hi-lo)*float64(s.levels-1)), 0, float64(s.levels-1)))
		}
		for level > 0 && (n.pick[level] < 0 || math.IsInf(n.value[level], 0)) {
			level--
		}
		k := n.pick[level]
		if k < 0 {
			return nil, 0, 0, false
		}
		way := &lp.layers[i][k]
		if way.leg.Change {
			p := way.leg.Piece
			turns = append(turns, route.Turn{Road: p.Road, Index: p.Index, Call: p.Call, Piece: p.Piece, From: way.leg.Way.From, To: way.leg.Way.To})
		}
		if n.out[level] == s.levels {
			w = way.reach[level]
		} else {
			w = s.speed(&lp.nodes[i+1][way.leg.Way.To], n.out[level])
		}
		position = way.leg.Way.To
	}
	return turns, position, w, true
}
