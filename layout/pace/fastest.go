package pace

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"lanewright/layout"
	"lanewright/layout/route"
)

// Fast is a way round that takes least time, driven lap after lap.
type Fast struct {
	Lanes []int          `json:"lanes"`  // in which each lap starts; after the last one the car is in the first of them
	Laps  [][]route.Turn `json:"laps"`   // the changes made on each lap
	Par   Par            `json:"par"`    // of these laps, one after the other
	StayS float64        `json:"stay_s"` // mean lap of the first lane without changes
	GainS float64        `json:"gain_s"` // what changing is worth a lap; 0 where staying is quickest
}

// FastOptions bound a search for the fastest route.
type FastOptions struct {
	Levels int // speeds looked at at each joint; 0 means 40
}

const levelsUsual = 40

// ErrNoRoute reports a track on which no fastest route can be found.
var ErrNoRoute = errors.New("no route to drive")

// Fastest finds, for each lane, the changes that make its lap quickest when every lap ends in the lane it started in, and
// over all lanes the sequence of laps with the least mean time, which may go through several lanes. Closed holds the
// lanes in order, without those that cannot come back to themselves in one lap; best is the one over all.
//
// Shortest is not fastest: a change costs curvature. The search is dynamic programming over position along the lap,
// lane and speed. At each joint the speeds are a grid up to the highest from which the car can still brake; a car comes
// out of a piece at any of the speeds it can reach there, the highest included, and values in between are taken as
// linear. What is found is driven exactly, and so are changing nothing and the shortest laps; the quickest of them is
// given, with the times of [DrivePar]. A route that is quicker by less than the grid tells apart, some thousandths of a
// second, may be missed. Errors wrap [ErrCar], [ErrNoRoute], [ErrRibbon] or [route.ErrNoLap].
func Fastest(t layout.Track, c Car, o FastOptions) (closed []Fast, best Fast, err error) {
	if err := c.Check(); err != nil {
		return nil, Fast{}, err
	}
	g, err := route.New(t)
	if err != nil {
		return nil, Fast{}, err
	}
	s := sprint{graph: g, car: c, levels: o.Levels, short: shortTried}
	if s.levels <= 0 {
		s.levels = levelsUsual
	}
	s.levels = min(max(s.levels, 4), 400)
	if err := s.prepare(t.Lanes); err != nil {
		return nil, Fast{}, err
	}
	found := false
	for _, l := range t.Lanes {
		f, ok := s.closed(l.Number, len(t.Lanes))
		if !ok {
			continue
		}
		closed = append(closed, f)
		if !found || f.Par.MeanS < best.Par.MeanS {
			best, found = f, true
		}
	}
	if f, ok := s.anywhere(t.Lanes); ok && (!found || f.Par.MeanS < best.Par.MeanS-1e-9) {
		best, found = f, true
	}
	if !found {
		return nil, Fast{}, fmt.Errorf("pace: no sequence of laps that this car can drive comes back to its lane: %w", ErrNoRoute)
	}
	return closed, best, nil
}

// sweeps is how many laps a search looks ahead. What a car's speed at the line was is forgotten at the first bend that
// limits it, so a few laps settle the choice.
const sweeps = 4

// shortTried is how many of the shortest laps are driven exactly as well.
const shortTried = 12

// closed finds the quickest lap from a lane to itself.
func (s *sprint) closed(lane, lanes int) (Fast, bool) {
	ref := s.lanes[lane]
	lp := s.loops[ref.road]
	end := -1
	for p := range lp.nodes[len(lp.layers)] {
		if s.graph.Ending(lp.lane, p) == lane {
			end = p
		}
	}
	if end < 0 {
		return Fast{}, false
	}
	last := lp.nodes[len(lp.layers)]
	for p := range last {
		last[p].value = resized(last[p].value, s.levels)
		for l := range last[p].value {
			last[p].value[l] = math.Inf(1)
		}
	}
	first := &lp.nodes[0][ref.position]
	for l := range last[end].value {
		last[end].value[l] = 0
	}
	for range sweeps {
		s.sweep(lp)
		copy(last[end].value, first.value)
	}
	candidates := [][]route.Turn{nil}
	w := first.top
	for range sweeps {
		turns, at, speed, ok := s.follow(lp, ref.position, w)
		if !ok || at != end {
			break
		}
		candidates = append(candidates, turns)
		w = speed
	}
	for _, lap := range s.graph.KShortest(lane, lane, s.short) {
		candidates = append(candidates, lap.Turns)
	}
	return s.quickest([]int{lane}, candidates, lanes)
}

// quickest drives one-lap candidates exactly.
func (s *sprint) quickest(starts []int, candidates [][]route.Turn, lanes int) (Fast, bool) {
	var best Fast
	found := false
	seen := map[string]bool{}
	for _, turns := range candidates {
		key := fmt.Sprint(turns)
		if seen[key] {
			continue
		}
		seen[key] = true
		if f, ok := s.driven(starts, [][]route.Turn{turns}, lanes); ok && (!found || f.Par.MeanS < best.Par.MeanS-1e-9) {
			best, found = f, true
		}
	}
	return best, found
}

// driven drives a cycle of laps exactly.
func (s *sprint) driven(starts []int, laps [][]route.Turn, lanes int) (Fast, bool) {
	r, err := RouteRibbon(s.graph, starts, laps)
	if err != nil {
		return Fast{}, false
	}
	p, err := DrivePar(r, s.car, false)
	if err != nil {
		return Fast{}, false
	}
	f := Fast{Lanes: starts, Laps: laps, Par: p}
	for i := range f.Laps {
		if f.Laps[i] == nil {
			f.Laps[i] = []route.Turn{}
		}
	}
	if stay, err := laneRibbon(s.graph, starts[0], lanes, stepMM); err == nil {
		if sp, err := DrivePar(stay, s.car, false); err == nil {
			f.StayS = sp.MeanS
			f.GainS = sp.MeanS - p.MeanS
			if slices.IndexFunc(f.Laps, func(l []route.Turn) bool { return len(l) > 0 }) < 0 {
				f.GainS = 0
			}
		}
	}
	return f, true
}

// anywhere finds the cycle of laps with the least mean time.
func (s *sprint) anywhere(lanes []layout.Lane) (Fast, bool) {
	loops := s.sorted()
	for _, lp := range loops {
		for p := range lp.nodes[len(lp.layers)] {
			n := &lp.nodes[len(lp.layers)][p]
			n.value = resized(n.value, s.levels)
			for l := range n.value {
				n.value[l] = 0
				if !n.usable {
					n.value[l] = math.Inf(1)
				}
			}
		}
	}
	// Look ahead far enough for a car to get to the best cycle and gain there what getting there costs.
	ahead := sweeps + 4*len(lanes)
	for range ahead {
		for _, lp := range loops {
			s.sweep(lp)
		}
		for _, lp := range loops {
			for p := range lp.nodes[len(lp.layers)] {
				if next := s.lineNode(lp, p); next != nil {
					copy(lp.nodes[len(lp.layers)][p].value, next.value)
				}
			}
		}
	}
	var best Fast
	found := false
	for _, l := range lanes {
		if f, ok := s.cycleFrom(l.Number, len(lanes)); ok && (!found || f.Par.MeanS < best.Par.MeanS-1e-9) {
			best, found = f, true
		}
	}
	return best, found
}

func (s *sprint) sorted() []*loop {
	var roads []int
	for r := range s.loops {
		roads = append(roads, r)
	}
	slices.Sort(roads)
	var out []*loop
	for _, r := range roads {
		out = append(out, s.loops[r])
	}
	return out
}

// cycleFrom follows the picks from a lane until the lanes repeat, and drives that cycle.
func (s *sprint) cycleFrom(lane, lanes int) (Fast, bool) {
	ref := s.lanes[lane]
	w := s.loops[ref.road].nodes[0][ref.position].top
	var starts []int
	var laps [][]route.Turn
	for range 3*lanes + sweeps {
		lp := s.loops[ref.road]
		turns, end, speed, ok := s.follow(lp, ref.position, w)
		if !ok {
			return Fast{}, false
		}
		starts, laps = append(starts, lane), append(laps, turns)
		lane = s.graph.Ending(lp.lane, end)
		if ref, ok = s.lanes[lane]; !ok {
			return Fast{}, false
		}
		w = speed
	}
	// The last laps, back to where the lane that comes next was left last.
	for i := len(starts) - 1; i >= 0; i-- {
		if starts[i] == lane {
			return s.driven(starts[i:], laps[i:], lanes)
		}
	}
	return Fast{}, false
}
