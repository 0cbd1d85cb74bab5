// Package draw shows a resolved layout: as a sheet of paper in SVG or PDF, and as cells of a terminal.
//
// Nothing here knows shapes of its own. Roads and lanes are drawn by sampling the very curves that lengths and par laps
// are computed from, so a picture cannot disagree with a number.
package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// Options say how to put a layout on paper. The zero value fits it to an A4 sheet lying on its side.
type Options struct {
	Denominator float64 // 10 for 1:10; 0 fits the layout to the paper
	PaperWMM    float64 // with Denominator 0: the sheet to fit; 0 means A4 on its side
	PaperHMM    float64
	Title       string // empty: the plan's name
}

// Paper sizes of ISO 216 in mm, short side first.
var isoPaper = [][2]float64{{210, 297}, {297, 420}, {420, 594}, {594, 841}, {841, 1189}}

const (
	border   = 12.0 // mm of paper left free
	sideRoom = 16.0 // at the sides, which also holds the dimensions
	headroom = 8.0  // for the title
	rowMM    = 5.0  // of the legend
	textMM   = 3.0
)

// span is a rectangle in table coordinates.
type span struct{ minX, minY, maxX, maxY float64 }

func empty() span {
	return span{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
}

func (s *span) hold(x, y float64) {
	s.minX, s.maxX = min(s.minX, x), max(s.maxX, x)
	s.minY, s.maxY = min(s.minY, y), max(s.maxY, y)
}

func (s span) width() float64  { return s.maxX - s.minX }
func (s span) height() float64 { return s.maxY - s.minY }

// usable says whether the span can be drawn at all.
func (s span) usable() bool {
	return s.width() > 0 && s.height() > 0 && s.width() < 1e9 && s.height() < 1e9
}

// scene is a layout being put on a sheet.
type scene struct {
	sheet
	track layout.Track
	den   float64 // mm of table per mm of paper
	all   span    // tables and roads
	roads span    // roads only
	x0    float64 // paper place of all.minX
	y0    float64 // paper place of all.minY
}

// on gives the place on paper of a place on the tables.
func (s *scene) on(x, y float64) point {
	return point{s.x0 + (x-s.all.minX)/s.den, s.y0 - (y-s.all.minY)/s.den}
}

func (s *scene) poses(ps []curve.Pose) []point {
	pts := make([]point, len(ps))
	for i, p := range ps {
		pts[i] = s.on(p.X, p.Y)
	}
	return pts
}

// compose lays out the whole sheet.
func compose(t layout.Track, o Options) sheet {
	s := scene{track: t, all: empty(), roads: empty()}
	s.measure()
	s.frame(o)
	s.tables()
	s.pieces()
	s.captions()
	s.sensors()
	s.numbers()
	s.dimensions()
	s.legend()
	s.shapes = slices.DeleteFunc(s.shapes, func(sh shape) bool {
		return slices.ContainsFunc(sh.points, func(p point) bool { return !(math.Abs(p.x) < 1e7 && math.Abs(p.y) < 1e7) })
	})
	return s.sheet
}

// measure finds what the sheet has to hold.
func (s *scene) measure() {
	for _, r := range s.track.Roads {
		for i := range r.Pieces {
			for _, p := range stripOf(&r.Pieces[i], 5) {
				s.roads.hold(p.X, p.Y)
			}
		}
	}
	s.all = s.roads
	for _, tb := range s.track.Plan.Tables {
		if tb.Find {
			continue
		}
		for _, c := range Corners(tb) {
			s.all.hold(c.X, c.Y)
		}
	}
	if !s.all.usable() {
		s.all = span{0, 0, 1000, 1000}
		s.roads = s.all
	}
	if !s.roads.usable() {
		s.roads = s.all
	}
}

// frame settles scale and paper.
func (s *scene) frame(o Options) {
	s.title = o.Title
	if s.title == "" {
		s.title = s.track.Plan.Name
	}
	foot := rowMM * float64(legendRows(len(s.track.Lanes))+2) // and the scale bar, below the dimensions
	spareW, spareH := 2*sideRoom, 2*border+headroom+foot
	if !(o.Denominator > 0) || math.IsInf(o.Denominator, 0) {
		s.width, s.height = o.PaperWMM, o.PaperHMM
		if !(s.width > 0) || !(s.height > 0) || s.width > 1e5 || s.height > 1e5 {
			s.width, s.height = isoPaper[0][1], isoPaper[0][0]
		}
		s.den = max(s.all.width()/max(s.width-spareW, 10), s.all.height()/max(s.height-spareH, 10))
	} else {
		s.den = o.Denominator
		s.width, s.height = sheetFor(s.all.width()/s.den+spareW, s.all.height()/s.den+spareH)
	}
	s.x0 = (s.width - s.all.width()/s.den) / 2
	s.y0 = headroom + border + s.all.height()/s.den
}

// sheetFor gives the smallest ISO sheet that holds w by h mm, or just that size where none does.
func sheetFor(w, h float64) (float64, float64) {
	for _, p := range isoPaper {
		if w <= p[1] && h <= p[0] {
			return p[1], p[0]
		}
		if w <= p[0] && h <= p[1] {
			return p[0], p[1]
		}
	}
	return w, h
}

// Corners gives the corners of a table, anticlockwise from the one it is placed by.
func Corners(tb layout.Table) [4]curve.Pose {
	sin, cos := curve.SinCos(tb.TurnedDeg)
	var out [4]curve.Pose
	for i, c := range [4][2]float64{{0, 0}, {tb.WidthMM, 0}, {tb.WidthMM, tb.DepthMM}, {0, tb.DepthMM}} {
		out[i] = curve.Pose{X: tb.XMM + c[0]*cos - c[1]*sin, Y: tb.YMM + c[0]*sin + c[1]*cos}
	}
	return out
}

func (s *scene) tables() {
	for _, tb := range s.track.Plan.Tables {
		if tb.Find { // its place is open
			continue
		}
		corners := Corners(tb)
		s.area(wood, timber, 0.35, s.poses(corners[:])...)
	}
}

// number writes a length in mm to a tenth, without a tenth where there is none.
func number(mm float64) string {
	return strconv.FormatFloat(math.Round(mm*10)/10, 'f', -1, 64)
}

// stripOf samples the outline of a piece: its left edge forwards, then its right edge back.
func stripOf(p *layout.Placed, toleranceMM float64) []curve.Pose {
	poses := p.Centre.Sample(toleranceMM)
	out := make([]curve.Pose, 0, 2*len(poses))
	for _, q := range poses {
		out = append(out, q.Left(p.WidthMM/2))
	}
	for i := len(poses) - 1; i >= 0; i-- {
		out = append(out, poses[i].Left(-p.WidthMM/2))
	}
	return out
}

// pieces paints the roads with their lanes, low ones first, so that a bridge hides what runs under it.
func (s *scene) pieces() {
	type job struct {
		piece   *layout.Placed
		threads []thread
		z       float64
	}
	var jobs []job
	ways := threads(s.track)
	for r := range s.track.Roads {
		for i := range s.track.Roads[r].Pieces {
			p := &s.track.Roads[r].Pieces[i]
			jobs = append(jobs, job{p, ways[r][i], (p.StartZ + p.EndZ) / 2})
		}
	}
	slices.SortStableFunc(jobs, func(a, b job) int { return cmp.Compare(a.z, b.z) })
	tolerance := 0.05 * s.den
	for _, j := range jobs {
		outline := s.poses(stripOf(j.piece, tolerance))
		s.area(road, edge, 0.15, outline...)
		s.shapes[len(s.shapes)-1].note = pieceNote(j.piece)
		for _, w := range j.piece.Change {
			s.shapes = append(s.shapes, shape{points: s.poses(w.Plan.Sample(tolerance)), stroke: soft, width: 0.25, dash: []float64{0.8, 0.6}})
		}
		for _, th := range j.threads {
			s.lane(th, tolerance)
		}
	}
}

func pieceNote(p *layout.Placed) string {
	return fmt.Sprintf("road %d, piece %d, call %d: %s", p.Road, p.Index, p.Call, p.Piece)
}

// lane paints one lane through one piece: a dark casing, so that white and yellow show on paper, and the colour on it.
func (s *scene) lane(th thread, tolerance float64) {
	look := LaneLook(th.lane)
	pts := s.poses(th.way.Plan.Sample(tolerance))
	if len(pts) < 2 {
		return
	}
	width := s.laneWidth()
	s.stroke(look, pts, width, max(0, th.atMM)/s.den)
}

// stroke paints a line in a lane's look.
func (s *scene) stroke(look Look, pts []point, width, phase float64) {
	s.line(ink, width*1.5, pts...)
	sh := shape{points: pts, stroke: look.Hex, width: width}
	if len(look.Dash) > 0 {
		s.line(look.Gap, width, pts...)
		sh.phase = phase
		for _, d := range look.Dash {
			sh.dash = append(sh.dash, d*width)
		}
	}
	s.shapes = append(s.shapes, sh)
}

// laneWidth is thick on large drawings and thin where lanes lie close together on paper.
func (s *scene) laneWidth() float64 { return max(0.3, min(1.2, 8/s.den)) }

// sensors draws the timing line and the further sensors across their roads, and an arrow for the direction.
func (s *scene) sensors() {
	for r := range s.track.Roads {
		run := 0.0
		for i := range s.track.Roads[r].Pieces {
			p := &s.track.Roads[r].Pieces[i]
			length := p.Centre.Length()
			for _, sn := range p.Sensors {
				s.sensor(p, sn)
			}
			// An arrow at the first straight after every three metres or so, and after the timing line.
			timed := len(p.Sensors) > 0 && p.Sensors[0].Number == 1
			if run += length; timed || run > 3000 && p.TurnDeg == 0 {
				s.arrow(p.Centre.At(length * 0.8))
				run = 0
			}
		}
	}
}

func (s *scene) sensor(p *layout.Placed, sn layout.Sensor) {
	at := p.Centre.Length() / 2
	if len(sn.AtMM) > 0 {
		at = sn.AtMM[0]
	}
	q := p.Centre.At(at)
	a, b := q.Left(p.WidthMM/2), q.Left(-p.WidthMM/2)
	from, to := s.on(a.X, a.Y), s.on(b.X, b.Y)
	width := 0.4
	if sn.Number == 1 {
		s.line(paper, 1.6, from, to)
		s.shapes = append(s.shapes, shape{points: []point{from, to}, stroke: ink, width: 1.2, dash: []float64{1, 1}})
		return
	}
	s.line(ink, width, from, to)
	out := q.Left(p.WidthMM/2 + 2*s.den)
	label := s.on(out.X, out.Y)
	s.write(label.x, label.y, textMM*0.7, middle, sn.Name)
}

func (s *scene) arrow(q curve.Pose) {
	size := 1.6 * s.den
	tip := q.Compose(curve.Pose{X: size})
	l := q.Compose(curve.Pose{X: -size, Y: size * 0.7})
	r := q.Compose(curve.Pose{X: -size, Y: -size * 0.7})
	s.area(ink, paper, 0.15, s.on(tip.X, tip.Y), s.on(l.X, l.Y), s.on(r.X, r.Y))
}

// numbers writes each call's number on the first piece that it laid, road by road.
func (s *scene) numbers() {
	size := max(1.4, min(textMM, 0.25*s.roadWidth()/s.den))
	for r := range s.track.Roads {
		call := 0
		for i := range s.track.Roads[r].Pieces {
			p := &s.track.Roads[r].Pieces[i]
			if p.Call == call {
				continue
			}
			call = p.Call
			q := p.Centre.At(p.Centre.Length() / 2)
			at := s.on(q.X, q.Y)
			s.area(paper, edge, 0.12, disc(at, size*0.85)...)
			s.write(at.x, at.y+size*0.36, size, middle, strconv.Itoa(call))
		}
	}
}

func (s *scene) roadWidth() float64 {
	for _, r := range s.track.Roads {
		for i := range r.Pieces {
			return r.Pieces[i].WidthMM
		}
	}
	return 100
}

// dimensions gives what the roads take up, outside the drawing.
func (s *scene) dimensions() {
	if len(s.track.Roads) == 0 {
		return
	}
	lo, hi := s.on(s.roads.minX, s.roads.minY), s.on(s.roads.maxX, s.roads.maxY)
	y := s.y0 + 4
	s.line(soft, 0.2, point{lo.x, y}, point{hi.x, y})
	x := s.x0 - 4
	s.line(soft, 0.2, point{x, lo.y}, point{x, hi.y})
	for _, p := range []point{{lo.x, y}, {hi.x, y}} {
		s.line(soft, 0.2, point{p.x, p.y - 1.2}, point{p.x, p.y + 1.2})
	}
	for _, p := range []point{{x, lo.y}, {x, hi.y}} {
		s.line(soft, 0.2, point{p.x - 1.2, p.y}, point{p.x + 1.2, p.y})
	}
	s.write((lo.x+hi.x)/2, y+textMM, textMM*0.8, middle, number(s.roads.width())+" mm")
	s.write(x-0.5, (lo.y+hi.y)/2, textMM*0.8, right, number(s.roads.height()))
}

// legendRows is how many rows the lanes take, four to a row.
func legendRows(lanes int) int { return (lanes + 3) / 4 }

func (s *scene) legend() {
	s.write(border, border, textMM*1.5, left, s.title)
	scale := "1:" + number(s.den)
	if s.track.Kit.Name != "" {
		scale = s.track.Kit.Name + ", " + scale
	}
	s.write(s.width-border, border, textMM, right, scale+", all lengths in mm")
	top := s.height - border/2 - rowMM*float64(legendRows(len(s.track.Lanes)))
	column := (s.width - 2*border) / 4
	for i, l := range s.track.Lanes {
		look := LaneLook(l.Number)
		x, y := border+column*float64(i%4), top+rowMM*float64(i/4)
		mark, filled := badge(look.Shape, point{x + 1.5, y - 1}, 1.4)
		fill := paper
		if filled {
			fill = look.Hex
		}
		s.area(fill, ink, 0.25, mark...)
		s.stroke(look, []point{{x + 4, y - 1}, {x + 14, y - 1}}, 0.9, 0)
		s.write(x+16, y, textMM, left, fmt.Sprintf("lane %d  %.1f", l.Number, l.LengthMM))
	}
	s.scaleBar(top - rowMM)
}

// scaleBar draws half a metre, or as much as is a quarter of the sheet.
func (s *scene) scaleBar(y float64) {
	length := 1000.0
	for length/s.den > s.width/4 && length > 1 {
		length /= 2
	}
	x := border
	s.line(ink, 0.5, point{x, y}, point{x + length/s.den, y})
	s.write(x+length/s.den+1.5, y+1, textMM*0.8, left, number(length)+" mm")
}
