package draw

import (
	"fmt"
	"io"
	"math"
	"strings"

	"lanewright/layout/pace"
)

// Speeds are par laps drawn as speed along the lap, one line for each; they need their points.

// SpeedSVG writes them as an SVG drawing of an A5 sheet on its side. The same laps give the same bytes.
func SpeedSVG(w io.Writer, title string, pars []pace.Par) error {
	s := speedSheet(title, pars)
	_, err := w.Write(s.svg())
	return err
}

// SpeedPDF writes them as a page of A5 on its side.
func SpeedPDF(w io.Writer, title string, pars []pace.Par) error {
	s := speedSheet(title, pars)
	if err := s.pdf(w); err != nil {
		return fmt.Errorf("draw: writing the PDF: %w", err)
	}
	return nil
}

// extent is the longest way and the round speed above the highest one.
func extent(pars []pace.Par) (mm, ms float64) {
	for _, p := range pars {
		for _, pt := range p.Points {
			mm, ms = max(mm, pt.AtMM), max(ms, pt.SpeedMS)
		}
	}
	return max(mm, 1), max(1, math.Ceil(ms))
}

func speedSheet(title string, pars []pace.Par) *sheet {
	s := &scene{sheet: sheet{width: 210, height: 148, title: title}, den: 10}
	const x0, x1, y0 = 18.0, 200.0, 20.0
	rows := legendRows(len(pars))
	y1 := s.height - 16 - rowMM*float64(rows)
	mm, ms := extent(pars)
	at := func(a, v float64) point { return point{x0 + a/mm*(x1-x0), y1 - v/ms*(y1-y0)} }
	s.write(x0, 12, textMM*1.3, left, title)
	step := 1.0
	for ms/step > 8 {
		step *= 2
	}
	for v := 0.0; v <= ms; v += step {
		s.line("#D8D8D8", 0.15, at(0, v), at(mm, v))
		s.write(x0-1.5, at(0, v).y+1, textMM*0.8, right, fmt.Sprintf("%g", v))
	}
	along := 500.0
	for mm/along > 10 {
		along *= 2
	}
	for a := 0.0; a <= mm; a += along {
		s.line("#D8D8D8", 0.15, at(a, 0), at(a, ms))
		s.write(at(a, 0).x, y1+4, textMM*0.8, middle, fmt.Sprintf("%g", a/1000))
	}
	s.write(x0-1.5, y0-3, textMM*0.8, right, "m/s")
	s.write(x1, y1+8, textMM*0.8, right, "m from the line")
	s.line(ink, 0.25, at(0, ms), at(0, 0), at(mm, 0))
	for i, p := range pars {
		look := LaneLook(laneOf(p, i))
		pts := make([]point, 0, len(p.Points))
		for _, pt := range p.Points {
			pts = append(pts, at(pt.AtMM, pt.SpeedMS))
		}
		if len(pts) > 1 {
			s.stroke(look, pts, 0.5, 0)
		}
		x, y := x0+(x1-x0)/4*float64(i%4), s.height-4-rowMM*float64(rows-1-i/4)
		s.stroke(look, []point{{x, y - 1}, {x + 8, y - 1}}, 0.7, 0)
		s.write(x+10, y, textMM*0.9, left, fmt.Sprintf("lane %d  %.3f s", look.Lane, firstLap(p)))
	}
	return &s.sheet
}

func laneOf(p pace.Par, i int) int {
	if len(p.Lanes) > 0 {
		return p.Lanes[0]
	}
	return i + 1
}

func firstLap(p pace.Par) float64 {
	if len(p.LapsS) == 0 {
		return 0
	}
	return p.LapsS[0]
}

// SpeedCells draws one par lap into width by height cells: speed upwards, the lap from left to right, and under it a
// row of marks where the car brakes. The left columns carry the speeds.
func SpeedCells(p pace.Par, width, height int, o CellOptions) []string {
	const label = 5
	width, height = max(0, min(width, 1000)), max(0, min(height, 1000))
	out := make([]string, height)
	w, h := width-label, height-1
	if w < 2 || h < 2 || len(p.Points) < 2 {
		for i := range out {
			out[i] = strings.Repeat(" ", width)
		}
		return out
	}
	mm, ms := extent([]pace.Par{p})
	dotsX, dotsY := 2, 4
	if o.ASCII {
		dotsX, dotsY = 1, 1
	}
	cells := make([]byte, w*h)
	next := 0
	for x := range w * dotsX {
		a := mm * float64(x) / float64(w*dotsX-1)
		for next < len(p.Points)-2 && p.Points[next+1].AtMM < a {
			next++
		}
		from, to := p.Points[next], p.Points[next+1]
		v := from.SpeedMS
		if d := to.AtMM - from.AtMM; d > 0 {
			v += (to.SpeedMS - from.SpeedMS) * max(0, min(1, (a-from.AtMM)/d))
		}
		y := int(math.Round((1 - v/ms) * float64(h*dotsY-1)))
		if y < 0 || y >= h*dotsY {
			continue
		}
		cells[y/dotsY*w+x/dotsX] |= brailleBit[y%dotsY][x%dotsX]
	}
	for y := range h {
		var row strings.Builder
		switch y {
		case 0:
			fmt.Fprintf(&row, "%*.1f ", label-1, ms)
		case h - 1:
			fmt.Fprintf(&row, "%*.1f ", label-1, 0.0)
		default:
			row.WriteString(strings.Repeat(" ", label))
		}
		for _, c := range cells[y*w : (y+1)*w] {
			switch {
			case c == 0:
				row.WriteByte(' ')
			case o.ASCII:
				row.WriteByte('*')
			default:
				row.WriteRune(0x2800 + rune(c))
			}
		}
		out[y] = row.String()
	}
	out[h] = brakeRow(p, mm, label, w, o)
	return out
}

func brakeRow(p pace.Par, mm float64, label, w int, o CellOptions) string {
	mark := '▔'
	if o.ASCII {
		mark = '-'
	}
	row := []rune(strings.Repeat(" ", label+w))
	for _, b := range p.Brakes {
		from, to := int(b.AtMM/mm*float64(w-1)), int(b.UntilMM/mm*float64(w-1))
		for x := max(from, 0); x <= min(to, w-1); x++ {
			row[label+x] = mark
		}
	}
	copy(row, []rune("brk"))
	return string(row)
}
