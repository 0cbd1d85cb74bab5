package draw

import (
	"math"
	"strings"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// CellOptions say how to draw for a terminal.
type CellOptions struct {
	ASCII bool // one character a cell instead of eight dots
}

// Grid is a picture in cells of a terminal. Rows has as many strings as asked for, each as many columns wide.
type Grid struct {
	Rows []string
	// Lane and Call give, for each row and column, the lane that fills most of that cell and the call it was laid by; 0
	// where the cell shows neither. They are for colouring: the text alone shows the course.
	Lane [][]int
	Call [][]int
}

// String joins the rows.
func (g Grid) String() string { return strings.Join(g.Rows, "\n") }

// lanesShown bounds the lanes that are told apart in cells.
const lanesShown = 32

// raster collects dots. A cell has dotsX by dotsY of them.
type raster struct {
	w, h         int // cells
	dotsX, dotsY int
	dots         []byte // by cell, one bit a dot
	count        []uint16
	call         []int
	lanes        int
	scaleX       float64 // dots a mm
	scaleY       float64
	all          span
	padX, padY   float64
}

// Cells draws the course into width by height cells, as large as it fits. A cell counts as twice as high as wide. The
// timing line is a bar across the road, the arrow beside it the driving direction.
func Cells(t layout.Track, width, height int, o CellOptions) Grid {
	width, height = max(0, min(width, 1000)), max(0, min(height, 1000))
	if width == 0 || height == 0 {
		return Grid{Rows: make([]string, height), Lane: make([][]int, height), Call: make([][]int, height)}
	}
	r := newRaster(t, width, height, o)
	if r.all.usable() {
		for _, road := range threads(t) {
			for _, piece := range road {
				for _, th := range piece {
					r.strand(th)
				}
			}
		}
	}
	g := r.grid(o)
	if r.all.usable() {
		r.marks(t, &g, o)
	}
	return g
}

func newRaster(t layout.Track, width, height int, o CellOptions) *raster {
	r := &raster{w: width, h: height, dotsX: 2, dotsY: 4, all: empty(), lanes: min(lanesShown, len(t.Lanes)+1)}
	if o.ASCII {
		r.dotsX, r.dotsY = 1, 1
	}
	r.dots = make([]byte, width*height)
	r.count = make([]uint16, width*height*r.lanes)
	r.call = make([]int, width*height)
	for _, road := range t.Roads {
		for i := range road.Pieces {
			for _, w := range road.Pieces[i].Stay {
				for _, p := range w.Plan.Sample(5) {
					r.all.hold(p.X, p.Y)
				}
			}
		}
	}
	if !r.all.usable() {
		return r
	}
	// A dot is as wide as high in braille; a whole cell, in ASCII, is twice as high as wide.
	tall := 1.0
	if o.ASCII {
		tall = 2
	}
	w, h := float64(width*r.dotsX)-1, float64(height*r.dotsY)-1
	r.scaleX = min(w/r.all.width(), h*tall/r.all.height())
	if r.scaleX <= 0 {
		r.scaleX = 1e-9
	}
	r.scaleY = r.scaleX / tall
	r.padX = (w - r.all.width()*r.scaleX) / 2
	r.padY = (h - r.all.height()*r.scaleY) / 2
	return r
}

// at gives the dot that shows a place.
func (r *raster) at(p curve.Pose) (x, y float64) {
	return r.padX + (p.X-r.all.minX)*r.scaleX, r.padY + (r.all.maxY-p.Y)*r.scaleY
}

// strand sets the dots along one lane in one piece.
func (r *raster) strand(th thread) {
	poses := th.way.Plan.Sample(max(1, 0.3/r.scaleX))
	for i := 1; i < len(poses); i++ {
		x0, y0 := r.at(poses[i-1])
		x1, y1 := r.at(poses[i])
		n := int(math.Ceil(max(math.Abs(x1-x0), math.Abs(y1-y0)))) + 1
		for k := 0; k <= n; k++ {
			u := float64(k) / float64(n)
			r.dot(x0+(x1-x0)*u, y0+(y1-y0)*u, th)
		}
	}
}

func (r *raster) dot(x, y float64, th thread) {
	px, py := int(math.Round(x)), int(math.Round(y))
	if px < 0 || py < 0 || px >= r.w*r.dotsX || py >= r.h*r.dotsY {
		return
	}
	cell := py/r.dotsY*r.w + px/r.dotsX
	r.dots[cell] |= brailleBit[py%r.dotsY][px%r.dotsX]
	r.call[cell] = th.piece.Call
	if th.lane < r.lanes && r.count[cell*r.lanes+th.lane] < math.MaxUint16 {
		r.count[cell*r.lanes+th.lane]++
	}
}

// brailleBit is the bit of each dot in U+2800..U+28FF (The Unicode Standard, chapter 21.1, braille patterns).
var brailleBit = [4][2]byte{{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}}

func (r *raster) grid(o CellOptions) Grid {
	g := Grid{Rows: make([]string, r.h), Lane: make([][]int, r.h), Call: make([][]int, r.h)}
	for y := range r.h {
		var row strings.Builder
		g.Lane[y], g.Call[y] = make([]int, r.w), make([]int, r.w)
		for x := range r.w {
			cell := y*r.w + x
			lane := 0
			for l := 1; l < r.lanes; l++ {
				if r.count[cell*r.lanes+l] > r.count[cell*r.lanes+lane] {
					lane = l
				}
			}
			switch {
			case r.dots[cell] == 0:
				row.WriteByte(' ')
				continue
			case o.ASCII:
				row.WriteByte(LaneLook(max(1, lane)).ASCII)
			default:
				row.WriteRune(0x2800 + rune(r.dots[cell]))
			}
			g.Lane[y][x], g.Call[y][x] = lane, r.call[cell]
		}
		g.Rows[y] = row.String()
	}
	return g
}

// marks puts the timing lines and an arrow beside each over the picture.
func (r *raster) marks(t layout.Track, g *Grid, o CellOptions) {
	for _, road := range t.Roads {
		for i := range road.Pieces {
			p := &road.Pieces[i]
			for _, sn := range p.Sensors {
				if sn.Number != 1 || len(sn.AtMM) == 0 {
					continue
				}
				q := p.Centre.At(sn.AtMM[0])
				along := math.Abs(math.Cos(q.Heading)) >= math.Abs(math.Sin(q.Heading))
				half := p.WidthMM / 2
				for k := -4; k <= 4; k++ {
					r.put(g, q.Left(half*float64(k)/4), bar(along, o.ASCII))
				}
				step := 1.5 * float64(r.dotsX) / r.scaleX
				if !along {
					step = 1.2 * float64(r.dotsY) / r.scaleY
				}
				r.put(g, q.Compose(curve.Pose{X: step}), pointer(q.Heading, o.ASCII))
			}
		}
	}
}

func bar(along, ascii bool) rune {
	switch {
	case along && ascii:
		return '|'
	case along:
		return '┃'
	case ascii:
		return '-'
	}
	return '━'
}

func pointer(heading float64, ascii bool) rune {
	quarter := ((int(math.Round(heading/(math.Pi/2))) % 4) + 4) % 4
	if ascii {
		return rune(">^<v"[quarter])
	}
	return []rune("→↑←↓")[quarter]
}

// put replaces one cell of the picture.
func (r *raster) put(g *Grid, at curve.Pose, mark rune) {
	fx, fy := r.at(at)
	px, py := int(math.Round(fx)), int(math.Round(fy))
	if px < 0 || py < 0 || px >= r.w*r.dotsX || py >= r.h*r.dotsY {
		return
	}
	x, y := px/r.dotsX, py/r.dotsY
	row := []rune(g.Rows[y])
	row[x] = mark
	g.Rows[y] = string(row)
	g.Lane[y][x] = 0
}
