// Package even finds where crossings bring the lengths of lanes closest together.
//
// A crossing evens out only what it encloses: between two crossings a lane runs where its neighbour would have run, so
// the difference of two lanes is spacing times the turning, with a sign that changes at every crossing. A pair of
// crossings round the right bends makes lanes alike; round the wrong ones it spoils a layout that was even.
package even

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"lanewright/layout"
)

// ErrCannot reports a track on which crossings cannot be placed.
var ErrCannot = errors.New("cannot place crossings")

// CodeSpoils is the code of findings about crossings that make lanes less alike than they would be without them.
const CodeSpoils = "crossing-spoils"

// Meanings explains the code of this package's findings.
var Meanings = []layout.Meaning{{Code: CodeSpoils, Text: "crossings make the lanes less alike than they would be without them"}}

// Options say what to look for.
type Options struct {
	Crossings int // spare ones; 0: as many as the club's stock has left, 2 where that is not known
	// LengthMM is how long a crossing shall be on a routed track; sectional kits have their own.
	LengthMM float64
	Most     int // proposals wanted; 0 means 5
}

// Place is where one crossing goes.
type Place struct {
	Road   int    `json:"road"`
	Call   int    `json:"call"`  // of the plan
	Index  int    `json:"index"` // of the first piece that it replaces
	Pieces int    `json:"pieces"`
	Piece  string `json:"piece"` // the first of them
	With   string `json:"with"`  // as a call; on a routed track with what is left of the straight
}

// String says what to do.
func (p Place) String() string {
	if p.Pieces == 1 {
		return fmt.Sprintf("%s for %s, piece %d of road %d (call %d)", p.With, p.Piece, p.Index, p.Road, p.Call)
	}
	return fmt.Sprintf("%s for %d pieces from %s, piece %d of road %d (call %d)", p.With, p.Pieces, p.Piece, p.Index, p.Road, p.Call)
}

// State is what the lanes measure.
type State struct {
	LanesMM []float64 `json:"lanes_mm"` // in lane order
	// SpreadMM is the longest less the shortest lane, RMSMM the root mean square of their distances from their mean:
	// the measure that proposals are ranked by.
	SpreadMM float64 `json:"spread_mm"`
	RMSMM    float64 `json:"rms_mm"`
	// Joined counts lanes that do not come back to themselves after one lap.
	Joined int `json:"joined"`
}

// Proposal is a set of crossings and what comes of it.
type Proposal struct {
	Places []Place `json:"places"`
	After  State   `json:"after"`
}

// Result is what a search found. Proposals is empty where no placing makes the lanes more alike.
type Result struct {
	Before     State      `json:"before"`
	Proposals  []Proposal `json:"proposals"` // best first; every one is better than Before
	Sites      int        `json:"sites"`     // places looked at
	Tried      int64      `json:"tried"`     // sets of places
	Exhaustive bool       `json:"exhaustive"`
}

// triedMost bounds an exhaustive search. Beyond it the best sets are built up one crossing at a time.
const triedMost = 600_000

// better than by less than this is the same: the rounding of sums of some hundred lengths.
const sameMM = 1e-6

// Crossings looks for the places where up to o.Crossings crossings bring the lane lengths closest: fewest joined lanes
// first, then the smallest spread in the sense of root mean square, then the fewest crossings. Every set of places is
// tried when there are up to 600,000 of them. The error wraps [ErrCannot].
func Crossings(t layout.Track, o Options) (Result, error) {
	e, err := newEvener(t, o)
	if err != nil {
		return Result{}, err
	}
	res := Result{Before: e.state(nil), Sites: len(e.sites), Proposals: []Proposal{}}
	e.most, e.before = o.Most, res.Before
	if e.most <= 0 {
		e.most = 5
	}
	k := min(crossingsOf(t, o), len(e.sites))
	if res.Exhaustive = choices(len(e.sites), k) <= triedMost; res.Exhaustive {
		e.all(k)
	} else {
		e.grow(k)
	}
	res.Tried = e.tried
	for _, b := range e.best {
		p := Proposal{After: e.state(b.sites)}
		for _, i := range b.sites {
			s := &e.sites[i]
			w := e.word(s)
			if s.slot > 0 { // one place for all crossings in a straight
				last := &p.Places[len(p.Places)-1]
				w.With = last.With + ", " + w.With
				*last = w
				continue
			}
			p.Places = append(p.Places, w)
		}
		if t.Kit.Routed {
			e.remainders(p.Places, b.sites)
		}
		res.Proposals = append(res.Proposals, p)
	}
	return res, nil
}

// crossingsOf is how many crossings there are to place.
func crossingsOf(t layout.Track, o Options) int {
	if o.Crossings > 0 {
		return min(o.Crossings, 8)
	}
	owned, known := 0, false
	for i := range t.Kit.Pieces {
		p := &t.Kit.Pieces[i]
		if p.Kind != layout.KindCrossing {
			continue
		}
		n := p.Stock
		for _, s := range t.Plan.Stock {
			if s.Piece == p.Name {
				n = s.Count
			}
		}
		if n >= 0 {
			owned, known = owned+n, true
		}
	}
	if !known {
		return 2
	}
	for _, r := range t.Roads {
		for i := range r.Pieces {
			if r.Pieces[i].Kind == layout.KindCrossing {
				owned--
			}
		}
	}
	return min(max(owned, 0), 8)
}

// evener is a track with its places for crossings.
type evener struct {
	track   layout.Track
	courses []course
	sites   []site // road by road, in driving order from the line
	byRoad  [][]*site
	laps    []float64
	ends    []int
	tried   int64
	most    int
	before  State
	best    []choice
}

// choice is a set of sites with its score.
type choice struct {
	sites  []int
	joined int
	rms    float64
}

func newEvener(t layout.Track, o Options) (*evener, error) {
	if len(t.Roads) == 0 {
		return nil, fmt.Errorf("even: the track has no roads; mend what the check of the plan reports first: %w", ErrCannot)
	}
	for _, j := range t.Joins {
		if j.Into != j.Road {
			return nil, fmt.Errorf("even: road %d runs into road %d; part them first: %w", j.Road, j.Into, ErrCannot)
		}
	}
	swaps := swapsOf(t, o.LengthMM)
	if len(swaps) == 0 {
		if t.Kit.Routed {
			return nil, fmt.Errorf("even: a routed track needs to know how long a crossing shall be, for example --length 400: %w", ErrCannot)
		}
		return nil, fmt.Errorf("even: the kit %q has no crossing: %w", t.Kit.Name, ErrCannot)
	}
	e := &evener{track: t, byRoad: make([][]*site, len(t.Roads))}
	for r := range t.Roads {
		c, err := newCourse(t, r)
		if err != nil {
			return nil, err
		}
		e.courses = append(e.courses, c)
		sites := sitesOf(t, r, swaps)
		slices.SortStableFunc(sites, func(a, b site) int { return cmp.Compare(c.place[a.from], c.place[b.from]) })
		e.sites = append(e.sites, sites...)
		e.laps = append(e.laps, make([]float64, c.lanes)...)
		e.ends = append(e.ends, make([]int, c.lanes)...)
	}
	return e, nil
}

// reckon fills laps and ends for a set of sites in ascending order.
func (e *evener) reckon(set []int) {
	for r := range e.byRoad {
		e.byRoad[r] = e.byRoad[r][:0]
	}
	for _, i := range set {
		s := &e.sites[i]
		e.byRoad[s.road] = append(e.byRoad[s.road], s)
	}
	at := 0
	for r := range e.courses {
		n := e.courses[r].lanes
		e.courses[r].laps(e.byRoad[r], e.laps[at:at+n], e.ends[at:at+n])
		at += n
	}
}

// clashes says whether two of the sites want the same pieces, or one a slot in a straight whose first is free.
func (e *evener) clashes(set []int) bool {
	for i := 1; i < len(set); i++ {
		a, b := &e.sites[set[i-1]], &e.sites[set[i]]
		if a.road != b.road || b.from >= a.to || a.from >= b.to {
			if b.slot > 0 {
				return true
			}
			continue
		}
		// Behind each other in one straight; the same two lanes twice would be for nothing.
		if a.swap == b.swap || b.slot != a.slot+1 {
			return true
		}
	}
	return len(set) > 0 && e.sites[set[0]].slot > 0
}

func (e *evener) score(set []int) choice {
	e.tried++
	e.reckon(set)
	c := choice{sites: set}
	at := 0
	for r := range e.courses {
		for p := range e.courses[r].lanes {
			if e.ends[at+p] != p {
				c.joined++
			}
		}
		at += e.courses[r].lanes
	}
	c.rms = rms(e.laps)
	return c
}

func rms(v []float64) float64 {
	mean, sum := 0.0, 0.0
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sum += (x - mean) * (x - mean)
	}
	return math.Sqrt(sum / float64(len(v)))
}

func (e *evener) state(set []int) State {
	c := e.score(set)
	s := State{LanesMM: slices.Clone(e.laps), RMSMM: c.rms, Joined: c.joined}
	if len(s.LanesMM) > 0 {
		s.SpreadMM = slices.Max(s.LanesMM) - slices.Min(s.LanesMM)
	}
	return s
}

// compare ranks choices: fewer joined lanes, lengths closer together, fewer crossings, then by place.
func compare(a, b choice) int {
	if a.joined != b.joined {
		return a.joined - b.joined
	}
	if math.Abs(a.rms-b.rms) > sameMM {
		return cmp.Compare(a.rms, b.rms)
	}
	return cmp.Or(len(a.sites)-len(b.sites), slices.Compare(a.sites, b.sites))
}

// offer keeps a choice that beats the layout as it is.
func (e *evener) offer(c choice) {
	if compare(c, choice{joined: e.before.Joined, rms: e.before.RMSMM - sameMM}) >= 0 {
		return
	}
	at, _ := slices.BinarySearchFunc(e.best, c, compare)
	if at >= e.most {
		return
	}
	c.sites = slices.Clone(c.sites)
	e.best = slices.Insert(e.best, at, c)
	e.best = e.best[:min(len(e.best), e.most)]
}

// choices is the number of sets of 1 to k out of n, capped.
func choices(n, k int) int {
	sum, c := 0, 1
	for i := 1; i <= k; i++ {
		c = c * (n - i + 1) / i
		sum += c
		if sum > triedMost {
			return triedMost + 1
		}
	}
	return sum
}

// all tries every set of up to k sites.
func (e *evener) all(k int) {
	set := make([]int, 0, k)
	var more func(from int)
	more = func(from int) {
		for i := from; i < len(e.sites); i++ {
			set = append(set, i)
			if !e.clashes(set) {
				e.offer(e.score(set))
				if len(set) < k {
					more(i + 1)
				}
			}
			set = set[:len(set)-1]
		}
	}
	more(0)
}

// growKeep is how many sets of each size are built upon.
const growKeep = 300

// grow builds the sets up, keeping the best of each size. A single crossing joins lanes and looks bad, so sets grow by
// two at a time as well.
func (e *evener) grow(k int) {
	level := []choice{{}}
	for size := 0; size < k && len(level) > 0; {
		step := min(2, k-size)
		var next []choice
		for _, c := range level {
			if e.tried > 2*triedMost {
				return // thousands of places: what was found so far must do
			}
			from := 0
			if len(c.sites) > 0 {
				from = c.sites[len(c.sites)-1] + 1
			}
			for i := from; i < len(e.sites) && e.tried <= 2*triedMost; i++ {
				one := append(slices.Clone(c.sites), i)
				if e.clashes(one) {
					continue
				}
				e.offer(e.score(one))
				for j := i + 1; j < len(e.sites) && step == 2; j++ {
					two := append(slices.Clone(one), j)
					if e.clashes(two) {
						continue
					}
					s := e.score(two)
					e.offer(s)
					if next = append(next, s); len(next) > 100*growKeep {
						slices.SortFunc(next, compare)
						next = next[:growKeep]
					}
				}
			}
		}
		slices.SortFunc(next, compare)
		level = next[:min(len(next), growKeep)]
		size += step
	}
}

// word says where a site is and what goes there.
func (e *evener) word(s *site) Place {
	road := &e.track.Roads[s.road]
	p := &road.Pieces[s.from]
	call := s.swap.call
	if len(e.track.Roads) > 1 {
		call += fmt.Sprintf(" road %d", road.Number)
	}
	return Place{Road: road.Number, Call: p.Call, Index: p.Index, Pieces: s.to - s.from, Piece: p.Piece, With: call}
}

// remainders adds to each place of a routed track what is left of its straight.
func (e *evener) remainders(places []Place, set []int) {
	for k := range places {
		p := &places[k]
		piece := &e.track.Roads[p.Road-1].Pieces[p.Index-1]
		left := piece.Centre.Length()
		for _, i := range set {
			if s := &e.sites[i]; e.track.Roads[s.road].Number == p.Road && s.from == p.Index-1 {
				left -= s.swap.length
			}
		}
		if left >= leastMM {
			call := "straight " + strconv.FormatFloat(math.Round(left*1000)/1000, 'f', -1, 64)
			if len(e.track.Roads) > 1 {
				call += fmt.Sprintf(" road %d", p.Road)
			}
			p.With += ", " + call
		}
	}
}

// leastMM is the shortest straight that a routed track takes.
const leastMM = 5

// Spoilers finds crossings of the plan without which the lanes would be more alike, one, two or all of them taken
// together (on layouts of some hundred pieces; larger ones with many crossings are not looked at pair by pair, or at all), each replaced by straights as long. It gives one finding, about the set whose absence helps most.
func Spoilers(t layout.Track) []layout.Finding {
	type cross struct{ road, index int }
	var list []cross
	for r := range t.Roads {
		for i := range t.Roads[r].Pieces {
			if t.Roads[r].Pieces[i].Kind == layout.KindCrossing {
				list = append(list, cross{r, i})
			}
		}
	}
	pieces := 0
	for r := range t.Roads {
		pieces += len(t.Roads[r].Pieces)
	}
	if len(list) == 0 || len(list)*pieces > 400_000 {
		return nil
	}
	pairs := len(list)*len(list)*pieces <= 4_000_000
	e := &evener{track: t, byRoad: make([][]*site, len(t.Roads))}
	for r := range t.Roads {
		c, err := newCourse(t, r)
		if err != nil {
			return nil
		}
		e.courses = append(e.courses, c)
		e.laps = append(e.laps, make([]float64, c.lanes)...)
		e.ends = append(e.ends, make([]int, c.lanes)...)
	}
	now := e.score(nil)
	best, without := now, []int(nil)
	try := func(set []int) {
		track := t
		track.Roads = slices.Clone(t.Roads)
		for _, i := range set {
			road := &track.Roads[list[i].road]
			road.Pieces = slices.Clone(road.Pieces)
			p := &road.Pieces[list[i].index]
			p.Stay = straightened(p)
		}
		for r := range track.Roads {
			c, err := newCourse(track, r)
			if err != nil {
				return
			}
			e.courses[r] = c
		}
		if c := e.score(nil); c.joined < best.joined || c.joined == best.joined && c.rms < best.rms-sameMM {
			best, without = choice{joined: c.joined, rms: c.rms}, slices.Clone(set)
		}
	}
	var all []int
	for i := range list {
		all = append(all, i)
		try([]int{i})
		for k := i + 1; k < len(list) && pairs; k++ {
			try([]int{i, k})
		}
	}
	try(all)
	if without == nil {
		return nil
	}
	var names []string
	for _, i := range without {
		p := &t.Roads[list[i].road].Pieces[list[i].index]
		names = append(names, fmt.Sprintf("piece %d of road %d (call %d)", p.Index, p.Road, p.Call))
	}
	p := &t.Roads[list[without[0]].road].Pieces[list[without[0]].index]
	f := layout.Finding{Level: layout.Warning, Code: CodeSpoils, File: t.Plan.File, Call: p.Call, Road: p.Road,
		Amount: now.rms - best.rms, Unit: "mm", Way: "lay straights instead, or ask where crossings even the lanes out"}
	if p.Call >= 1 && p.Call <= len(t.Plan.Calls) {
		f.Line = t.Plan.Calls[p.Call-1].Line
	}
	what := "the crossing at " + names[0] + " makes"
	if len(names) > 1 {
		what = "the crossings at " + strings.Join(names, " and ") + " make"
	}
	if best.joined < now.joined {
		f.Text = what + fmt.Sprintf(" %d lanes run into each other that would come back to themselves without", now.joined-best.joined)
		f.Amount, f.Unit = float64(now.joined-best.joined), "lanes"
	} else {
		f.Text = what + fmt.Sprintf(" the lanes less alike: they lie %.1f mm (root mean square) from their mean, without only %.1f mm", now.rms, best.rms)
	}
	return []layout.Finding{f}
}

// straightened is a crossing as straights of its length.
func straightened(p *layout.Placed) []layout.Strand {
	out := make([]layout.Strand, len(p.Stay))
	for i := range out {
		out[i] = layout.Strand{From: i + 1, To: i + 1, LengthMM: p.Centre.Length(), RiseMM: p.Stay[i].RiseMM}
		if out[i].RiseMM != 0 {
			out[i].LengthMM = math.Hypot(out[i].LengthMM, out[i].RiseMM)
		}
	}
	return out
}
