package fit

import (
	"fmt"
	"math"
	"slices"

	"lanewright/layout"
)

// The codes of the findings of this package.
const (
	CodeOverhang    = "overhang"          // the road hangs over the edge of the tables
	CodeBorder      = "border-short"      // the road lies on the tables, the border beside it does not
	CodeSeam        = "table-joint-under" // a joint between tables runs under a piece that does not like it
	CodeTablesOpen  = "tables-open"       // tables have no place yet
	CodeCollision   = "collision"         // two stretches of road on the same ground
	CodeBridgeLow   = "bridge-low"        // too little height under a bridge
	CodeBridgeUnset = "bridge-undeclared" // roads cross one over the other without the plan saying so
)

// TableOptions say how tables are taken.
type TableOptions struct {
	// GapMM is the widest gap between tables that a road may lie across; 0 means 1 mm, negative none. How much of a gap is
	// all right is the builder's choice.
	GapMM float64
}

const gapUsual = 1.0

// Meanings explains the codes of this package's findings.
var Meanings = []layout.Meaning{
	{Code: CodeOverhang, Text: "a road hangs over the edge of the tables, by so many mm at its farthest point"},
	{Code: CodeBorder, Text: "a road lies on the tables, but the border wanted beside it does not"},
	{Code: CodeSeam, Text: "tables meet under a changer, crossing or crossroads"},
	{Code: CodeTablesOpen, Text: "tables have no place yet"},
	{Code: CodeCollision, Text: "two stretches of road lie on the same ground"},
	{Code: CodeBridgeLow, Text: "too little height under a bridge"},
	{Code: CodeBridgeUnset, Text: "one road runs over another, but no call says bridge"},
}

func (o TableOptions) gap() float64 {
	switch {
	case o.GapMM == 0:
		return gapUsual
	case o.GapMM < 0 || math.IsNaN(o.GapMM):
		return 0
	}
	return min(o.GapMM, 100)
}

// Overhang is a piece that does not lie on the tables altogether.
type Overhang struct {
	Road  int     `json:"road"`
	Index int     `json:"index"`
	Call  int     `json:"call"`
	Piece string  `json:"piece"`
	MM    float64 `json:"mm"` // how far its farthest point lies from the tables
	XMM   float64 `json:"x_mm"`
	YMM   float64 `json:"y_mm"`
}

// Seam is a joint between tables under a piece that needs even ground.
type Seam struct {
	Road  int    `json:"road"`
	Index int    `json:"index"`
	Call  int    `json:"call"`
	Piece string `json:"piece"`
}

// TableReport says how a layout lies on its tables.
type TableReport struct {
	Tables int  `json:"tables"` // those with a place
	Fits   bool `json:"fits"`   // no strip of road hangs over
	// MarginMM is the least distance from a strip to where the tables end; negative: the farthest overhang.
	MarginMM  float64    `json:"margin_mm"`
	MinXMM    float64    `json:"min_x_mm"` // what the strips take up
	MinYMM    float64    `json:"min_y_mm"`
	MaxXMM    float64    `json:"max_x_mm"`
	MaxYMM    float64    `json:"max_y_mm"`
	Overhangs []Overhang `json:"overhangs"`
	Borders   []Overhang `json:"borders"` // pieces that fit, but whose border does not
	Seams     []Seam     `json:"seams"`

	plan layout.Plan
	open int // tables without a place
}

// OnTables checks every strip of road against the tables of the plan that have a place. The strip of a straight is a
// rectangle, that of a bend a part of a ring; both are compared exactly with the edges of the tables' union, holes
// between tables included.
func OnTables(t layout.Track) TableReport { return OnTablesWith(t, TableOptions{}) }

// OnTablesWith is [OnTables] with options.
func OnTablesWith(t layout.Track, o TableOptions) TableReport {
	r := TableReport{plan: t.Plan, Overhangs: []Overhang{}, Borders: []Overhang{}, Seams: []Seam{},
		MinXMM: math.Inf(1), MinYMM: math.Inf(1), MaxXMM: math.Inf(-1), MaxYMM: math.Inf(-1)}
	g := newGround(placedTables(t), o.gap())
	r.Tables = len(g.boards)
	for _, tb := range t.Plan.Tables {
		if tb.Find {
			r.open++
		}
	}
	margin, over := math.Inf(1), 0.0
	for i := range t.Roads {
		for k := range t.Roads[i].Pieces {
			p := &t.Roads[i].Pieces[k]
			for _, b := range bandsOf(p, p.WidthMM/2, p.WidthMM/2) {
				lo, hi := b.box()
				r.MinXMM, r.MinYMM = min(r.MinXMM, lo.x), min(r.MinYMM, lo.y)
				r.MaxXMM, r.MaxYMM = max(r.MaxXMM, hi.x), max(r.MaxYMM, hi.y)
			}
			if r.Tables == 0 || len(r.Overhangs) >= overhangsMost {
				continue
			}
			m, at := g.margin(p, p.WidthMM/2, p.WidthMM/2, margin)
			if m < 0 {
				over = max(over, -m)
				r.Overhangs = append(r.Overhangs, overhang(p, -m, at))
				continue
			}
			margin = min(margin, m)
			if m, at := g.borderMargin(p, t.Plan.Border); m < 0 {
				r.Borders = append(r.Borders, overhang(p, -m, at))
			}
			if needsEvenGround(p) && g.seamUnder(p) {
				r.Seams = append(r.Seams, Seam{p.Road, p.Index, p.Call, p.Piece})
			}
		}
	}
	r.Fits = r.Tables > 0 && over == 0
	switch {
	case over > 0:
		r.MarginMM = -over
	case !math.IsInf(margin, 0):
		r.MarginMM = margin
	}
	if math.IsInf(r.MinXMM, 0) {
		r.MinXMM, r.MinYMM, r.MaxXMM, r.MaxYMM = 0, 0, 0, 0
	}
	return r
}

// overhangsMost bounds how many pieces are measured that hang over; a plan with more has lost its tables.
const overhangsMost = 500

func overhang(p *layout.Placed, mm float64, at vec) Overhang {
	return Overhang{p.Road, p.Index, p.Call, p.Piece, mm, at.x, at.y}
}

// needsEvenGround says whether a step or a gap under a piece would show in how it works.
func needsEvenGround(p *layout.Placed) bool {
	return p.Kind == layout.KindChanger || p.Kind == layout.KindCrossing || p.Kind == layout.KindCrossroads
}

// borderMargin asks for the border that the plan wants beside a piece.
func (g *ground) borderMargin(p *layout.Placed, b layout.Border) (float64, vec) {
	l, r := b.StraightMM, b.StraightMM
	if p.TurnDeg > 0 {
		r = b.OutsideMM
	} else if p.TurnDeg < 0 {
		l = b.OutsideMM
	}
	if !(l > 0) && !(r > 0) {
		return 0, vec{}
	}
	return g.margin(p, p.WidthMM/2+max(0, l), p.WidthMM/2+max(0, r), 0)
}

// touch is how far a strip may run over an edge and still count as lying on the table: rounding of sums.
const touch = 1e-6

// margin is the least distance of a strip from the shore, or less than 0 how far it hangs over and where. Distances from
// enough on are not looked at.
func (g *ground) margin(p *layout.Placed, left, right, enough float64) (float64, vec) {
	least, where := math.Inf(1), vec{}
	for _, b := range bandsOf(p, left, right) {
		if m, at := g.bandMargin(&b, enough); m < least {
			least, where = m, at
		}
	}
	return least, where
}

func (g *ground) bandMargin(b *band, enough float64) (float64, vec) {
	least := math.Inf(1)
	meets := g.to(b.middle) > 0
	for _, s := range g.shore {
		if s.to(b.middle)-b.around > min(least, enough) {
			continue
		}
		if b.meets(s.seg, touch) {
			meets = true
			break
		}
		least = min(least, b.toSeg(s.seg))
	}
	if meets {
		if d, at := g.farthest(b); d > touch {
			return -d, at
		}
		return 0, vec{}
	}
	return least, vec{}
}

// farthest finds the place of a band that lies farthest from the ground: on a raster of it first, then by closing in.
func (g *ground) farthest(b *band) (float64, vec) {
	const rows = 12
	columns := int(clamp(math.Ceil(b.length/8), 4, 4000))
	best, bs, be := -1.0, 0.0, 0.0
	look := func(s, e float64) {
		if d := g.to(b.at(s, e)); d > best {
			best, bs, be = d, s, e
		}
	}
	for i := 0; i <= columns; i++ {
		for k := 0; k <= rows; k++ {
			look(b.length*float64(i)/float64(columns), -b.right+(b.left+b.right)*float64(k)/rows)
		}
	}
	// A gap may slip between the points: then look just beyond the shore as well.
	for _, e := range g.shore {
		if best > 1 || e.to(b.middle) > b.around {
			continue
		}
		n := int(clamp(math.Ceil(e.a.dist(e.b)/5), 1, 2000))
		for i := range n {
			for _, d := range [3]float64{0.1, 0.5, 2} {
				if s, x := b.seen(between(e.a, e.b, (float64(i)+0.5)/float64(n)).add(e.out.times(d))); s >= 0 && s <= b.length && x <= b.left && x >= -b.right {
					look(s, x)
				}
			}
		}
	}
	ds, de := b.length/float64(columns), (b.left+b.right)/rows
	for range 40 {
		s0, e0 := bs, be
		for _, d := range [8][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {1, -1}, {-1, 1}, {-1, -1}} {
			look(clamp(s0+d[0]*ds, 0, b.length), clamp(e0+d[1]*de, -b.right, b.left))
		}
		if bs == s0 && be == e0 {
			ds, de = ds/2, de/2
		}
	}
	return best, b.at(bs, be)
}

// hangsOver says whether any strip leaves the tables, without asking how far.
func hangsOver(t layout.Track) bool {
	g := newGround(placedTables(t), gapUsual)
	for i := range t.Roads {
		for k := range t.Roads[i].Pieces {
			p := &t.Roads[i].Pieces[k]
			for _, b := range bandsOf(p, p.WidthMM/2, p.WidthMM/2) {
				if len(g.boards) > 0 && (g.to(b.middle) > 0 || slices.ContainsFunc(g.shore, func(e edge) bool {
					return e.to(b.middle) < b.around && b.meets(e.seg, touch)
				})) {
					return true
				}
			}
		}
	}
	return false
}

// seamUnder says whether tables meet under the strip of a piece.
func (g *ground) seamUnder(p *layout.Placed) bool {
	for _, b := range bandsOf(p, p.WidthMM/2, p.WidthMM/2) {
		for _, s := range g.seams {
			if s.to(b.middle) < b.around && b.meets(s, touch) {
				return true
			}
		}
	}
	return false
}

// Findings words the report, one finding for each call and road: its worst piece.
func (r TableReport) Findings() []layout.Finding {
	var out []layout.Finding
	add := func(level layout.Level, code, way string, o Overhang, text string) {
		for i := range out {
			if f := &out[i]; f.Code == code && f.Call == o.Call && f.Road == o.Road {
				if o.MM > f.Amount {
					f.Amount, f.Text = o.MM, text
				}
				return
			}
		}
		f := layout.Finding{Level: level, Code: code, File: r.plan.File, Call: o.Call, Road: o.Road, Amount: o.MM, Unit: "mm", Text: text, Way: way}
		if o.Call >= 1 && o.Call <= len(r.plan.Calls) {
			f.Line = r.plan.Calls[o.Call-1].Line
		}
		out = append(out, f)
	}
	if r.open > 0 {
		out = append(out, layout.Finding{Level: layout.Note, Code: CodeTablesOpen, File: r.plan.File, Amount: float64(r.open), Unit: "tables",
			Text: fmt.Sprintf("%d of %d tables have no place yet", r.open, len(r.plan.Tables)), Way: "layout place finds one for them"})
	}
	for _, o := range r.Overhangs {
		add(layout.Error, CodeOverhang, "move the start, the tables, or let layout place look for a place", o,
			fmt.Sprintf("%s, piece %d, hangs %.1f mm over the edge of the tables", o.Piece, o.Index, o.MM))
	}
	for _, o := range r.Borders {
		add(layout.Warning, CodeBorder, "move the start or the tables, or ask for less border", o,
			fmt.Sprintf("%s, piece %d, lies on the tables, but its border is %.1f mm short", o.Piece, o.Index, o.MM))
	}
	for _, s := range r.Seams {
		add(layout.Warning, CodeSeam, "lay it a piece further on, or bolt these tables together and shim them level", Overhang{Road: s.Road, Call: s.Call},
			fmt.Sprintf("tables meet under %s, piece %d", s.Piece, s.Index))
	}
	return out
}
