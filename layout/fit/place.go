package fit

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// Spot is a place for a layout on the tables of its plan.
type Spot struct {
	Start    layout.Start `json:"start"`
	TurnDeg  float64      `json:"turn_deg"` // against the plan as it is
	MarginMM float64      `json:"margin_mm"`
	Fits     bool         `json:"fits"`
	// Borders says that the border which the plan wants beside the road fits as well.
	Borders bool `json:"borders"`
}

// PlaceOptions bound a search for a place.
type PlaceOptions struct {
	StepDeg float64 // between the headings tried; 0 means 15
	Most    int     // spots wanted, 0 means 4; each has another heading
}

// ErrNoPlace reports a layout or tables that give nothing to look at.
var ErrNoPlace = errors.New("no place to find")

// Raster sizes of the search. What it finds is measured exactly afterwards, so they decide only how close to the best
// place it comes.
const (
	fieldMM   = 20.0 // of the field of distances
	pointMM   = 60.0 // between points along the edges of the road
	fieldMost = 600  // cells along one side
)

// FindPlace slides and turns a layout over its tables and gives the places with the widest margin, best first, those
// that fit before those that do not. It looks at headings in steps and at those that line the start up with a table.
// Margins are exact ([OnTables]); that there is no better place is not.
func FindPlace(t layout.Track, o PlaceOptions) ([]Spot, error) {
	tables := placedTables(t)
	g := newGround(tables, gapUsual)
	if len(g.boards) == 0 {
		return nil, fmt.Errorf("fit: the plan has no table with a place: %w", ErrNoPlace)
	}
	pts := edgePoints(t, t.Plan.Border)
	if len(pts) == 0 {
		return nil, fmt.Errorf("fit: there is no road to place: %w", ErrNoPlace)
	}
	f := newField(&g)
	var trials []trial
	for _, deg := range headings(t, tables, o.StepDeg) {
		trials = append(trials, f.slide(pts, deg))
	}
	slices.SortStableFunc(trials, func(a, b trial) int { return cmp.Compare(b.clear, a.clear) })
	most := o.Most
	if most <= 0 {
		most = 4
	}
	var out []Spot
	for _, tr := range trials[:min(len(trials), most+2)] {
		tr = refine(&g, pts, tr)
		out = append(out, spot(t, tr))
	}
	slices.SortStableFunc(out, func(a, b Spot) int {
		return cmp.Or(boolToInt(b.Borders)-boolToInt(a.Borders), cmp.Compare(b.MarginMM, a.MarginMM))
	})
	return out[:min(len(out), most)], nil
}

// borderedBands is the strip of a piece with the border that is wanted beside it.
func borderedBands(p *layout.Placed, border layout.Border) []band {
	l, r := max(0, border.StraightMM), max(0, border.StraightMM)
	if p.TurnDeg > 0 {
		r = max(0, border.OutsideMM)
	} else if p.TurnDeg < 0 {
		l = max(0, border.OutsideMM)
	}
	return bandsOf(p, p.WidthMM/2+l, p.WidthMM/2+r)
}

// edgePoints samples the outline of all strips with their borders.
func edgePoints(t layout.Track, border layout.Border) []vec {
	var out []vec
	for i := range t.Roads {
		for k := range t.Roads[i].Pieces {
			for _, b := range borderedBands(&t.Roads[i].Pieces[k], border) {
				n := int(clamp(math.Ceil(b.length/pointMM), 1, 200))
				for j := range n + 1 {
					s := b.length * float64(j) / float64(n)
					for _, q := range [3]vec{b.at(s, b.left), b.at(s, 0), b.at(s, -b.right)} {
						if !math.IsNaN(q.x+q.y) && !math.IsInf(q.x+q.y, 0) {
							out = append(out, q)
						}
					}
				}
			}
		}
	}
	// What is found is checked exactly, so on very large layouts fewer points do for looking.
	for len(out) > pointsMost {
		half := out[:0]
		for i := 0; i < len(out); i += 2 {
			half = append(half, out[i])
		}
		out = half
	}
	return out
}

// pointsMost bounds the points looked at.
const pointsMost = 8000

// headings lists the turns to try, in degrees.
func headings(t layout.Track, tables []layout.Table, step float64) []float64 {
	if !(step >= 1) {
		step = 15
	}
	var out []float64
	put := func(deg float64) {
		deg = math.Mod(math.Mod(deg, 360)+360, 360)
		for _, d := range out {
			if math.Abs(d-deg) < 1e-9 {
				return
			}
		}
		out = append(out, deg)
	}
	for deg := 0.0; deg < 360; deg += step {
		put(deg)
	}
	for _, tb := range tables {
		for _, quarter := range [4]float64{0, 90, 180, 270} {
			put(tb.TurnedDeg - t.Plan.Start.HeadingDeg + quarter)
		}
	}
	slices.Sort(out)
	return out
}

// field holds how far places lie within the ground, negative outside, on a raster.
type field struct {
	lo, hi vec
	step   float64
	nx, ny int
	depth  []float64
}

// depthAt is the distance of a place from the shore, negative for the distance from the ground.
func (g *ground) depthAt(p vec) float64 {
	if d := g.to(p); d > 0 {
		return -d
	}
	d := math.Inf(1)
	for i := range g.shore {
		d = min(d, g.shore[i].to(p))
	}
	return d
}

func newField(g *ground) *field {
	f := &field{lo: vec{math.Inf(1), math.Inf(1)}, hi: vec{math.Inf(-1), math.Inf(-1)}}
	for i := range g.boards {
		for _, e := range g.boards[i].edges() {
			f.lo = vec{min(f.lo.x, e.a.x), min(f.lo.y, e.a.y)}
			f.hi = vec{max(f.hi.x, e.a.x), max(f.hi.y, e.a.y)}
		}
	}
	f.step = max(fieldMM, (f.hi.x-f.lo.x)/fieldMost, (f.hi.y-f.lo.y)/fieldMost)
	f.nx, f.ny = int((f.hi.x-f.lo.x)/f.step)+1, int((f.hi.y-f.lo.y)/f.step)+1
	f.depth = make([]float64, f.nx*f.ny)
	for y := range f.ny {
		for x := range f.nx {
			f.depth[y*f.nx+x] = g.depthAt(vec{f.lo.x + (float64(x)+0.5)*f.step, f.lo.y + (float64(y)+0.5)*f.step})
		}
	}
	return f
}

func (f *field) at(p vec) float64 {
	x, y := int(math.Floor((p.x-f.lo.x)/f.step)), int(math.Floor((p.y-f.lo.y)/f.step))
	if x < 0 || y < 0 || x >= f.nx || y >= f.ny {
		// Off the raster: at least this far from the ground.
		return -math.Hypot(max(f.lo.x-p.x, 0, p.x-f.hi.x), max(f.lo.y-p.y, 0, p.y-f.hi.y))
	}
	return f.depth[y*f.nx+x]
}

// trial is a turn about the origin and a shift after it.
type trial struct {
	deg   float64
	by    vec
	clear float64
}

func (tr trial) of(p vec) vec {
	sin, cos := curve.SinCos(tr.deg)
	return p.turned(sin, cos).add(tr.by)
}

// slide finds the best shift for one heading on the raster.
func (f *field) slide(pts []vec, deg float64) trial {
	sin, cos := curve.SinCos(deg)
	turned := make([]vec, len(pts))
	lo, hi := vec{math.Inf(1), math.Inf(1)}, vec{math.Inf(-1), math.Inf(-1)}
	for i, p := range pts {
		q := p.turned(sin, cos)
		turned[i] = q
		lo, hi = vec{min(lo.x, q.x), min(lo.y, q.y)}, vec{max(hi.x, q.x), max(hi.y, q.y)}
	}
	spreadOut(turned)
	const steps = 24
	axis := func(lo, hi, flo, fhi float64) (from, by float64, n int) {
		slack := (fhi - flo) - (hi - lo)
		if slack <= 0 {
			return (flo+fhi)/2 - (lo+hi)/2, 0, 1
		}
		return flo - lo, slack / steps, steps + 1
	}
	x0, dx, nx := axis(lo.x, hi.x, f.lo.x, f.hi.x)
	y0, dy, ny := axis(lo.y, hi.y, f.lo.y, f.hi.y)
	best := trial{deg: deg, clear: math.Inf(-1)}
	for i := range nx {
		for k := range ny {
			by := vec{x0 + float64(i)*dx, y0 + float64(k)*dy}
			least := math.Inf(1)
			for _, p := range turned {
				if least = min(least, f.at(p.add(by))); least <= best.clear {
					break
				}
			}
			if least > best.clear {
				best.by, best.clear = by, least
			}
		}
	}
	return best
}

// spreadOut reorders points so that the first few lie all over the layout and rule out bad places early.
func spreadOut(pts []vec) {
	n := len(pts)
	stride := int(float64(n)*0.618) | 1
	for gcd(stride, n) != 1 {
		stride += 2
	}
	out := make([]vec, n)
	for i := range n {
		out[i] = pts[i*stride%n]
	}
	copy(pts, out)
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// refine shifts the layout about until no small shift helps, with exact distances of the points.
func refine(g *ground, pts []vec, tr trial) trial {
	clear := func(by vec) float64 {
		sin, cos := curve.SinCos(tr.deg)
		least := math.Inf(1)
		for _, p := range pts {
			if least = min(least, g.depthAt(p.turned(sin, cos).add(by))); least <= tr.clear {
				return least
			}
		}
		return least
	}
	tr.clear = math.Inf(-1)
	tr.clear = clear(tr.by)
	for step := 64.0; step > 0.05; {
		moved := false
		for _, d := range [8]vec{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
			by := tr.by.add(d.times(step))
			if c := clear(by); c > tr.clear+1e-9 {
				tr.by, tr.clear, moved = by, c, true
				break
			}
		}
		if !moved {
			step /= 2
		}
	}
	return tr
}

// spot lays the layout at a trial's place and measures it.
func spot(t layout.Track, tr trial) Spot {
	at := tr.of(vec{t.Plan.Start.XMM, t.Plan.Start.YMM})
	s := Spot{TurnDeg: tr.deg, Start: t.Plan.Start}
	s.Start.XMM, s.Start.YMM = math.Round(at.x*10)/10, math.Round(at.y*10)/10
	s.Start.HeadingDeg = math.Mod(s.Start.HeadingDeg+tr.deg, 360)
	p := t.Plan
	p.Start = s.Start
	track, _ := layout.Resolve(p, t.Kit)
	r := OnTables(track)
	s.MarginMM, s.Fits = r.MarginMM, r.Fits
	s.Borders = r.Fits && len(r.Borders) == 0
	return s
}
