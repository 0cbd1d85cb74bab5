package fit

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lanewright/layout"
)

// Arrangement is a place for every table that the plan leaves open.
type Arrangement struct {
	Tables   []layout.Table `json:"tables"` // all tables of the plan, in its order; those not needed still have no place
	Unused   []int          `json:"unused"` // numbers of tables, from 1, that are not needed
	MarginMM float64        `json:"margin_mm"`
	Fits     bool           `json:"fits"`
}

// nodesMost bounds the search for an arrangement with a given number of tables.
const nodesMost = 2000

// widthMost is how many placings are followed at each step.
const widthMost = 10

// Arrange puts the tables that the plan leaves open under the layout as it lies, square to its start, beside each other
// and beside the tables that have a place. It covers the leftmost ground that is still bare first, with every table
// either way round, at places where edges line up. The first arrangement found with the fewest tables that bears all of
// the road, borders included, is given; without one, the one that bears most. It is a search with a bound, so that it can
// miss one.
// The error wraps [ErrNoPlace].
func Arrange(t layout.Track) (Arrangement, error) {
	a, err := newArranger(t)
	if err != nil {
		return Arrangement{}, err
	}
	for a.limit = a.fewest(); a.limit <= len(a.open); a.limit++ {
		a.nodes = 0
		if a.try() {
			break
		}
	}
	return a.result(t), nil
}

// rect is a table in the frame of the layout's start.
type rect struct{ x, y, w, d float64 }

func (r rect) holds(p vec) bool {
	return p.x >= r.x-touch && p.x <= r.x+r.w+touch && p.y >= r.y-touch && p.y <= r.y+r.d+touch
}

func (r rect) overlaps(s rect) bool {
	return r.x < s.x+s.w-hair && s.x < r.x+r.w-hair && r.y < s.y+s.d-hair && s.y < r.y+r.d-hair
}

// laidOut is a table with its place.
type laidOut struct {
	rect
	table int  // index into the plan's tables
	stood bool // width and depth exchanged
}

type arranger struct {
	track    layout.Track
	plan     []layout.Table
	sin, cos float64
	origin   vec
	pts      []vec
	fixed    []rect // tables that have a place and lie square; others only count at the end
	open     []layout.Table
	index    []int // of open in the plan
	used     []bool
	now      []laidOut
	covered  []int // how many tables bear each point
	bare     int
	lo, hi   vec
	nodes    int
	limit    int // tables that may be used
	best     []laidOut
	bestBare int
}

func newArranger(t layout.Track) (*arranger, error) {
	a := &arranger{track: t, plan: t.Plan.Tables}
	heading := t.Plan.Start.Pose().Heading
	a.sin, a.cos = math.Sincos(heading)
	a.origin = vec{t.Plan.Start.XMM, t.Plan.Start.YMM}
	for i, tb := range t.Plan.Tables {
		if tb.Find && tb.WidthMM > 0 && tb.DepthMM > 0 {
			a.open, a.index = append(a.open, tb), append(a.index, i)
		}
	}
	if len(a.open) == 0 {
		return nil, fmt.Errorf("fit: the plan leaves no table open; write find = true for those that may go anywhere: %w", ErrNoPlace)
	}
	if len(a.open) > 40 {
		return nil, fmt.Errorf("fit: the plan leaves %d tables open, at most 40 are arranged: %w", len(a.open), ErrNoPlace)
	}
	g := newGround(placedTables(t), gapUsual)
	for _, p := range edgePoints(t, t.Plan.Border) {
		if len(g.boards) == 0 || g.to(p) > 0 {
			a.pts = append(a.pts, p.sub(a.origin).turned(-a.sin, a.cos))
		}
	}
	if len(a.pts) == 0 {
		return nil, fmt.Errorf("fit: there is no road that needs a table: %w", ErrNoPlace)
	}
	// Few enough to be quick, in the order in which they are covered.
	slices.SortFunc(a.pts, func(p, q vec) int { return cmp.Or(cmp.Compare(p.x, q.x), cmp.Compare(p.y, q.y)) })
	a.lo, a.hi = a.pts[0], a.pts[0]
	for _, p := range a.pts {
		a.lo, a.hi = vec{min(a.lo.x, p.x), min(a.lo.y, p.y)}, vec{max(a.hi.x, p.x), max(a.hi.y, p.y)}
	}
	a.reach(t)
	for _, b := range g.boards {
		c := b.corner.sub(a.origin).turned(-a.sin, a.cos)
		f := b.out(vec{b.w, b.d}).sub(a.origin).turned(-a.sin, a.cos)
		r := rect{min(c.x, f.x), min(c.y, f.y), math.Abs(f.x - c.x), math.Abs(f.y - c.y)}
		if math.Abs(r.w*r.d-b.w*b.d) < 1 {
			a.fixed = append(a.fixed, r)
		}
	}
	a.used, a.covered = make([]bool, len(a.open)), make([]int, len(a.pts))
	a.bare, a.bestBare = len(a.pts), math.MaxInt
	return a, nil
}

// reach moves the ends of the layout out to where its edges really end: points along a bend stop short of its outermost place.
func (a *arranger) reach(t layout.Track) {
	const near = 5.0 // mm that points can stop short
	for i := range t.Roads {
		for k := range t.Roads[i].Pieces {
			for _, b := range borderedBands(&t.Roads[i].Pieces[k], t.Plan.Border) {
				for _, e := range [2]float64{b.left, -b.right} {
					at := func(s float64) vec { return b.at(s, e).sub(a.origin).turned(-a.sin, a.cos) }
					a.hi.x = max(a.hi.x, farthestAlong(b.length, a.hi.x-near, func(s float64) float64 { return at(s).x }))
					a.hi.y = max(a.hi.y, farthestAlong(b.length, a.hi.y-near, func(s float64) float64 { return at(s).y }))
					a.lo.x = min(a.lo.x, -farthestAlong(b.length, -a.lo.x-near, func(s float64) float64 { return -at(s).x }))
					a.lo.y = min(a.lo.y, -farthestAlong(b.length, -a.lo.y-near, func(s float64) float64 { return -at(s).y }))
				}
			}
		}
	}
}

// farthestAlong finds the greatest value of a smooth function between 0 and length, by halving the surroundings of the greatest of some; where
// none of these exceeds enough it is not looked for more closely.
func farthestAlong(length, enough float64, f func(float64) float64) float64 {
	const some = 24
	best, at := math.Inf(-1), 0.0
	for i := range some + 1 {
		if s := length * float64(i) / some; f(s) > best {
			best, at = f(s), s
		}
	}
	if !(best > enough) {
		return best
	}
	for step := length / some; step > 1e-9*length; step /= 2 {
		for _, s := range [2]float64{max(0, at-step), min(length, at+step)} {
			if v := f(s); v > best {
				best, at = v, s
			}
		}
	}
	return best
}

func placedTables(t layout.Track) []layout.Table {
	var out []layout.Table
	for _, tb := range t.Plan.Tables {
		if !tb.Find {
			out = append(out, tb)
		}
	}
	return out
}

// try places one more table under the leftmost bare point; true when nothing is bare any more.
func (a *arranger) try() bool {
	if a.bare < a.bestBare || a.bare == 0 {
		a.best, a.bestBare = slices.Clone(a.now), a.bare
	}
	if a.bare == 0 && a.bears() {
		return true
	}
	if a.bare == 0 {
		return false
	}
	if a.nodes++; a.nodes > nodesMost || len(a.now) >= a.limit {
		return false
	}
	p := a.pts[slices.Index(a.covered, 0)]
	for _, l := range a.placings(p) {
		a.put(l, 1)
		if a.try() {
			return true
		}
		a.put(l, -1)
	}
	return false
}

// fewest is the least number of tables whose areas add up to what of the road lies on none that has a place. Fewer cannot bear it.
func (a *arranger) fewest() int {
	road := 0.0
	for i := range a.track.Roads {
		for k := range a.track.Roads[i].Pieces {
			if p := &a.track.Roads[i].Pieces[k]; p.Kind != layout.KindCrossroads && p.StartZ == p.EndZ && p.StartZ == a.track.Plan.Start.HeightMM {
				road += p.Centre.Length() * p.WidthMM
			}
		}
	}
	for _, r := range a.fixed {
		road -= r.w * r.d
	}
	areas := make([]float64, len(a.open))
	for i, tb := range a.open {
		areas[i] = tb.WidthMM * tb.DepthMM
	}
	slices.Sort(areas)
	n := 0
	for road > 0 && n < len(areas) {
		road -= areas[len(areas)-1-n]
		n++
	}
	return max(n, 1)
}

// bears checks exactly whether the tables as they lie bear all of the road and its borders.
func (a *arranger) bears() bool {
	tables := slices.Clone(a.track.Plan.Tables)
	for _, l := range a.now {
		tables[l.table] = a.table(l, vec{})
	}
	a.track.Plan.Tables = tables
	ok := !hangsOver(a.track)
	a.track.Plan.Tables = a.plan
	return ok
}

// table gives a table its place on the ground, shifted by so much in the frame of the start.
func (a *arranger) table(l laidOut, by vec) layout.Table {
	tb := a.plan[l.table]
	corner := vec{l.x, l.y}
	tb.TurnedDeg = a.track.Plan.Start.HeadingDeg
	if l.stood { // turned by a quarter about its corner, which comes to lie at the right
		corner.x += l.w
		tb.TurnedDeg += 90
	}
	at := corner.add(by).turned(a.sin, a.cos).add(a.origin)
	tb.XMM, tb.YMM, tb.Find = at.x, at.y, false
	return tb
}

func (a *arranger) put(l laidOut, by int) {
	a.used[slices.Index(a.index, l.table)] = by > 0
	if by > 0 {
		a.now = append(a.now, l)
	} else {
		a.now = a.now[:len(a.now)-1]
	}
	for i, p := range a.pts {
		if !l.holds(p) {
			continue
		}
		was := a.covered[i] > 0
		a.covered[i] += by
		if now := a.covered[i] > 0; was != now {
			a.bare -= by
		}
	}
}

// placings lists where tables can go so that they bear p, those that bear most first.
func (a *arranger) placings(p vec) []laidOut {
	type scored struct {
		laidOut
		gain    int
		aligned int // edges that go on from those of tables that lie already
	}
	var list []scored
	var taken []rect
	taken = append(taken, a.fixed...)
	for _, l := range a.now {
		taken = append(taken, l.rect)
	}
	for i, tb := range a.open {
		// Of like tables only the first that is free.
		if a.used[i] || slices.ContainsFunc(a.open[:i], func(o layout.Table) bool {
			k := slices.IndexFunc(a.open, func(x layout.Table) bool { return x == o })
			return o.WidthMM == tb.WidthMM && o.DepthMM == tb.DepthMM && !a.used[k]
		}) {
			continue
		}
		for way, size := range [2][2]float64{{tb.WidthMM, tb.DepthMM}, {tb.DepthMM, tb.WidthMM}} {
			if way == 1 && tb.WidthMM == tb.DepthMM {
				continue
			}
			w, d := size[0], size[1]
			// Against the ends of the layout, or lined up with a table that lies already: places off by a little leave slivers.
			xs, ys := []float64{a.lo.x, a.hi.x - w}, []float64{a.lo.y, a.hi.y - d}
			for _, r := range taken {
				xs = append(xs, r.x+r.w, r.x-w, r.x, r.x+r.w-w)
				ys = append(ys, r.y+r.d, r.y-d, r.y, r.y+r.d-d)
			}
			for _, x := range xs {
				for _, y := range ys {
					l := laidOut{rect{x, y, w, d}, a.index[i], way == 1}
					if !l.holds(p) || slices.ContainsFunc(taken, l.overlaps) {
						continue
					}
					gain := 0
					for k, q := range a.pts {
						if a.covered[k] == 0 && l.holds(q) {
							gain++
						}
					}
					if !slices.ContainsFunc(list, func(s scored) bool { return s.laidOut == l }) {
						aligned := 0
						for _, r := range taken {
							if math.Abs(r.x-l.x) < hair || math.Abs(r.x+r.w-l.x-l.w) < hair {
								aligned++
							}
							if math.Abs(r.y-l.y) < hair || math.Abs(r.y+r.d-l.y-l.d) < hair {
								aligned++
							}
						}
						list = append(list, scored{l, gain, aligned})
					}
				}
			}
		}
	}
	slices.SortStableFunc(list, func(x, y scored) int { return cmp.Or(cmp.Compare(y.gain, x.gain), cmp.Compare(y.aligned, x.aligned)) })
	var out []laidOut
	for _, s := range list[:min(len(list), widthMost)] {
		out = append(out, s.laidOut)
	}
	return out
}

// result gives the arrangement its places on the ground, shifted to share out what margin there is and rounded to a tenth of a
// millimetre, unless it fits only without.
func (a *arranger) result(t layout.Track) Arrangement {
	out := a.laid(t, a.centred(), true)
	if !out.Fits {
		out = a.laid(t, vec{}, true)
	}
	if !out.Fits {
		out = a.laid(t, vec{}, false)
	}
	return out
}

func (a *arranger) laid(t layout.Track, by vec, rounded bool) Arrangement {
	out := Arrangement{Tables: slices.Clone(t.Plan.Tables), Unused: []int{}}
	for _, i := range a.index {
		k := slices.IndexFunc(a.best, func(l laidOut) bool { return l.table == i })
		if k < 0 {
			out.Unused = append(out.Unused, i+1)
			continue
		}
		tb := a.table(a.best[k], by)
		if rounded {
			tb.XMM, tb.YMM = math.Round(tb.XMM*10)/10, math.Round(tb.YMM*10)/10
		}
		out.Tables[i] = tb
	}
	track := t
	track.Plan.Tables = out.Tables
	r := OnTables(track)
	out.MarginMM, out.Fits = r.MarginMM, r.Fits
	return out
}

// centred finds the shift of all placed tables together that leaves the widest margin; none where tables with a place
// must stay beside them.
func (a *arranger) centred() vec {
	if len(a.fixed) > 0 || len(a.best) == 0 || a.bestBare > 0 {
		return vec{}
	}
	var tables []layout.Table
	for _, l := range a.best {
		tables = append(tables, layout.Table{XMM: l.x, YMM: l.y, WidthMM: l.w, DepthMM: l.d})
	}
	g := newGround(tables, gapUsual)
	tr := refine(&g, a.pts, trial{})
	return vec{}.sub(tr.by) // the road shifted one way is the tables shifted the other
}
