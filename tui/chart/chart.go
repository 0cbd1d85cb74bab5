// Package chart draws curves and bars of lap times in cells: braille dots where the font has them, half blocks where it has
// not.
package chart

// Series is one curve: values from left to right, and the number of the lane it belongs to. A value of 0 or less is a gap.
type Series struct {
	Lane   int
	Values []float64
}

// Dot is a cell of a chart.
type Dot struct {
	Text string // "" nothing
	Lane int
}

// Lines draws curves into w columns and h rows, the last value of every series at the right. It returns rows of cells and the
// range of the values, both 0 if there is nothing to draw. Where two curves share a cell the later one colours it.
func Lines(series []Series, w, h int, braille bool) (cells [][]Dot, low, high float64) {
	low, high = span(series)
	if w < 1 || h < 1 || high <= 0 {
		return nil, 0, 0
	}
	if high-low < 1e-9 {
		low, high = low*0.99, high*1.01
	}
	dx, dy := 1, 2
	if braille {
		dx, dy = 2, 4
	}
	c := canvas{w: w, h: h, dx: dx, dy: dy, bits: make([]uint8, w*h), lane: make([]int, w*h)}
	most := 0
	for _, s := range series {
		most = max(most, len(s.Values))
	}
	step := 1.0
	if most > 1 {
		step = float64(w*dx-1) / float64(most-1)
	}
	for _, s := range series {
		lastX, lastY := -1, 0
		for i, v := range s.Values {
			if v <= 0 {
				lastX = -1
				continue
			}
			x := int(float64(w*dx-1) - float64(len(s.Values)-1-i)*step + 0.5)
			y := int((high-v)/(high-low)*float64(h*dy-1) + 0.5)
			if lastX >= 0 {
				c.line(lastX, lastY, x, y, s.Lane)
			} else {
				c.set(x, y, s.Lane)
			}
			lastX, lastY = x, y
		}
	}
	return c.cells(braille), low, high
}

// span returns the least and greatest of the values that are known. Values far above the others (a lap with a visit to the
// floor) are left outside, so that the rest can be told apart.
func span(series []Series) (low, high float64) {
	for _, s := range series {
		for _, v := range s.Values {
			if v > 0 && (low == 0 || v < low) {
				low = v
			}
		}
	}
	for _, s := range series {
		for _, v := range s.Values {
			if v <= 2*low {
				high = max(high, v)
			}
		}
	}
	return low, high
}

type canvas struct {
	w, h, dx, dy int
	bits         []uint8
	lane         []int
}

func (c *canvas) set(x, y, lane int) {
	x, y = max(0, min(x, c.w*c.dx-1)), max(0, min(y, c.h*c.dy-1))
	at := y/c.dy*c.w + x/c.dx
	c.bits[at] |= 1 << (y%c.dy*c.dx + x%c.dx)
	c.lane[at] = lane
}

// line draws from one dot to another.
func (c *canvas) line(x0, y0, x1, y1, lane int) {
	y0, y1 = max(-1, min(y0, c.h*c.dy)), max(-1, min(y1, c.h*c.dy))
	n := max(abs(x1-x0), abs(y1-y0), 1)
	for i := 0; i <= n; i++ {
		y := y0 + (y1-y0)*i/n
		if y < 0 || y >= c.h*c.dy {
			continue
		}
		c.set(x0+(x1-x0)*i/n, y, lane)
	}
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

// braille maps the dots of a cell, row by row, to the bits of Unicode's braille patterns (U+2800), which number the left
// column 1 2 3 7 and the right 4 5 6 8.
var braille = [8]rune{0x01, 0x08, 0x02, 0x10, 0x04, 0x20, 0x40, 0x80}

func (c *canvas) cells(dots bool) [][]Dot {
	out := make([][]Dot, c.h)
	for y := range out {
		out[y] = make([]Dot, c.w)
		for x := range out[y] {
			bits := c.bits[y*c.w+x]
			if bits == 0 {
				continue
			}
			text := ""
			if dots {
				r := rune(0x2800)
				for i, b := range braille {
					if bits&(1<<i) != 0 {
						r |= b
					}
				}
				text = string(r)
			} else {
				text = [4]string{"", "▀", "▄", "█"}[bits&3]
			}
			out[y][x] = Dot{text, c.lane[y*c.w+x]}
		}
	}
	return out
}

// Spark draws values as a row of bars of at most w cells, the newest at the right; the quickest lap is the lowest bar. With
// blocks off it is empty.
func Spark(values []float64, w int) string {
	const bars = "▁▂▃▄▅▆▇█"
	if len(values) > w {
		values = values[len(values)-max(w, 0):]
	}
	low, high := span([]Series{{0, values}})
	if high <= 0 {
		return ""
	}
	out := make([]rune, 0, len(values))
	for _, v := range values {
		switch {
		case v <= 0:
			out = append(out, ' ')
		case v >= high:
			out = append(out, '█')
		default:
			out = append(out, []rune(bars)[int((v-low)/(high-low)*7.999)])
		}
	}
	return string(out)
}
