package draw

import "math"

// sheet is a drawing on paper: shapes in mm from the top left corner, in the order in which they are painted. SVG and PDF
// are written from the same sheet.
type sheet struct {
	width, height float64
	title         string
	shapes        []shape
}

type point struct{ x, y float64 }

// shape is a line, an area, or a text.
type shape struct {
	points []point
	closed bool
	fill   string // "#RRGGBB", empty for none
	stroke string
	width  float64
	dash   []float64 // mm
	phase  float64   // mm into the dash pattern at the first point
	note   string    // shown when pointed at, where the format can

	text   string // then points has one point, the baseline's
	size   float64
	anchor anchor
}

type anchor int

const (
	left anchor = iota
	middle
	right
)

const (
	ink    = "#1A1A1A"
	soft   = "#8A8A8A"
	road   = "#E4E4E0"
	edge   = "#5A5A5A"
	wood   = "#F6EBD8"
	timber = "#B79B6C"
	paper  = "#FFFFFF"
)

func (s *sheet) line(stroke string, width float64, pts ...point) {
	s.shapes = append(s.shapes, shape{points: pts, stroke: stroke, width: width})
}

func (s *sheet) area(fill, stroke string, width float64, pts ...point) {
	s.shapes = append(s.shapes, shape{points: pts, closed: true, fill: fill, stroke: stroke, width: width})
}

func (s *sheet) write(x, y, size float64, a anchor, text string) {
	s.shapes = append(s.shapes, shape{points: []point{{x, y}}, fill: ink, text: text, size: size, anchor: a})
}

// disc is a circle as a polygon of 16 sides, which is round enough at a few mm.
func disc(at point, r float64) []point {
	pts := make([]point, 16)
	for i := range pts {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / 16)
		pts[i] = point{at.x + r*cos, at.y + r*sin}
	}
	return pts
}

// badge gives the outline of a lane's shape, r mm from its middle outwards, and whether it is filled.
func badge(name string, at point, r float64) ([]point, bool) {
	up := []point{{at.x, at.y - r}, {at.x + r, at.y + r*0.8}, {at.x - r, at.y + r*0.8}}
	switch name {
	case "▲":
		return up, true
	case "△":
		return up, false
	case "▼":
		return []point{{at.x, at.y + r}, {at.x + r, at.y - r*0.8}, {at.x - r, at.y - r*0.8}}, true
	case "●":
		return disc(at, r), true
	case "○":
		return disc(at, r), false
	case "◆":
		return []point{{at.x, at.y - r}, {at.x + r, at.y}, {at.x, at.y + r}, {at.x - r, at.y}}, true
	}
	r *= 0.85
	return []point{{at.x - r, at.y - r}, {at.x + r, at.y - r}, {at.x + r, at.y + r}, {at.x - r, at.y + r}}, name != "□"
}
