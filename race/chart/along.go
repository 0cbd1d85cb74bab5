package chart

import (
	"fmt"
	"math"
	"strconv"
)

// Along is the speed of one car along its lap. AtMM rises and has as many places as MS, which is in m/s.
type Along struct {
	Lane   int
	Label  string
	AtMM   []float64
	MS     []float64
	Brakes [][2]float64 // where it brakes, from and to in mm
}

// usable keeps the places that can be drawn.
func (l Along) usable() Along {
	out := Along{Lane: l.Lane, Label: l.Label}
	for i := range min(len(l.AtMM), len(l.MS)) {
		if finite(l.AtMM[i]) && finite(l.MS[i]) && l.MS[i] >= 0 && (len(out.AtMM) == 0 || l.AtMM[i] > out.AtMM[len(out.AtMM)-1]) {
			out.AtMM, out.MS = append(out.AtMM, l.AtMM[i]), append(out.MS, l.MS[i])
		}
	}
	for _, b := range l.Brakes {
		if finite(b[0]) && finite(b[1]) {
			out.Brakes = append(out.Brakes, b)
		}
	}
	return out
}

// at returns the speed at a place, between the two places known beside it.
func (l Along) at(mm float64) float64 {
	i := 0
	for i < len(l.AtMM)-1 && l.AtMM[i+1] < mm {
		i++
	}
	if i+1 >= len(l.AtMM) || mm <= l.AtMM[i] {
		return l.MS[i]
	}
	f := (mm - l.AtMM[i]) / (l.AtMM[i+1] - l.AtMM[i])
	return l.MS[i] + f*(l.MS[i+1]-l.MS[i])
}

// AlongSVG draws speed over the way driven; below it, lane by lane, where cars brake.
func AlongSVG(title string, lines []Along) []byte {
	var drawn []Along
	far, top := 0.0, 0.0
	for _, l := range lines {
		if l = l.usable(); len(l.AtMM) < 2 {
			continue
		}
		drawn = append(drawn, l)
		far = math.Max(far, l.AtMM[len(l.AtMM)-1])
		for _, v := range l.MS {
			top = math.Max(top, v)
		}
	}
	const left, right, head, graph, row = 16.0, 277.0, 16.0, 90.0, 5.0
	height := head + graph + 18 + row*float64(len(drawn))
	p := newPaper(297, height, title, "speed in metres a second over the way from the timing line in metres; under it, where each lane brakes")
	p.text(left, 9, 4.5, "start", title)
	if len(drawn) == 0 {
		p.text(left, 20, 3.5, "start", "nothing to draw")
		return p.done()
	}
	x := newAxis(0, far/1000, left, right, 10)
	x.high, x.to = far/1000, right
	y := newAxis(0, top, head+graph, head, 6)
	for _, v := range y.rounds() {
		p.line(left, y.on(v), right, y.on(v), 0.15, faint, nil)
		p.text(left-1.5, y.on(v)+1, 3, "end", y.label(v))
	}
	p.text(left, head-2, 3, "start", "m/s")
	for _, v := range x.rounds() {
		if v > x.high*1.0001 {
			break
		}
		p.line(x.on(v), head+graph, x.on(v), head+graph+1.2, 0.2, ink, nil)
		p.text(x.on(v), head+graph+4.5, 3, "middle", x.label(v))
	}
	p.text(right, head+graph+8.5, 3, "end", "metres from the timing line")
	p.line(left, head+graph, right, head+graph, 0.3, ink, nil)
	for k, l := range drawn {
		px, py := make([]float64, len(l.AtMM)), make([]float64, len(l.AtMM))
		for i := range l.AtMM {
			px[i], py[i] = x.on(l.AtMM[i]/1000), y.on(l.MS[i])
		}
		px, py = thin(px, py)
		p.curve(l.Lane, px, py)
		// Marks stand at other places on every lane, so that curves that lie on each other can be told apart.
		length := l.AtMM[len(l.AtMM)-1]
		for i := range 6 {
			at := length * (float64(i) + (float64(k)+0.5)/float64(len(drawn))) / 6
			p.mark(l.Lane, x.on(at/1000), y.on(l.at(at)), 1.5)
		}
	}
	for k, l := range drawn {
		base := head + graph + 14 + row*float64(k)
		p.mark(l.Lane, 4, base-1.2, 1.5)
		p.text(7, base, 3.2, "start", strconv.Itoa(l.Lane))
		p.line(left, base-1.2, right, base-1.2, 0.15, faint, nil)
		for _, b := range l.Brakes {
			from, to := math.Max(b[0], 0), b[1]
			if to < from { // through the line
				p.box(x.on(from/1000), base-2.4, right-x.on(from/1000), 2.4, ink)
				from = 0
			}
			to = math.Min(to, far)
			if to > from {
				p.box(x.on(from/1000), base-2.4, x.on(to/1000)-x.on(from/1000), 2.4, ink)
			}
		}
		if l.Label != "" {
			p.text(right+1, base, 2.6, "start", l.Label)
		}
	}
	p.text(left, height-1.5, 2.6, "start", "black bars: braking")
	return p.done()
}

// thin leaves out places that lie closer together than ink can show.
func thin(x, y []float64) (tx, ty []float64) {
	for i := range x {
		n := len(tx)
		if n > 0 && i < len(x)-1 && math.Abs(x[i]-tx[n-1]) < 0.25 && math.Abs(y[i]-ty[n-1]) < 0.25 {
			continue
		}
		tx, ty = append(tx, x[i]), append(ty, y[i])
	}
	return tx, ty
}

// AlongText draws the speed of one car as bars, height rows high, over the way; under them the places where it brakes and the
// metres. With height 1 it is the bars alone. ASCII for terminals that show nothing else.
func AlongText(l Along, width, height int, ascii bool) []string {
	if l = l.usable(); len(l.AtMM) < 2 || width < 1 || height < 1 {
		return nil
	}
	far, top := l.AtMM[len(l.AtMM)-1], 0.0
	values := make([]float64, width)
	for i := range values {
		values[i] = l.at(far * (float64(i) + 0.5) / float64(width))
	}
	for _, v := range l.MS {
		top = math.Max(top, v)
	}
	out := bars(values, top, height, ascii)
	if height == 1 {
		return out
	}
	brake := make([]rune, width)
	for i := range brake {
		brake[i] = ' '
	}
	for _, b := range l.Brakes {
		for i := range brake {
			at := far * (float64(i) + 0.5) / float64(width)
			half := far / float64(width) / 2
			if b[0] <= b[1] && at+half > b[0] && at-half < b[1] || b[0] > b[1] && (at+half > b[0] || at-half < b[1]) {
				brake[i] = 'b'
			}
		}
	}
	foot := []rune(fmt.Sprintf("0%*s", width-1, fmt.Sprintf("%.1f m", far/1000)))
	if len(foot) > width {
		foot = foot[:width]
	}
	return append(out, string(brake), string(foot))
}

// bars draws values from 0 to top as columns, height rows high: eighths of a cell, or four steps in ASCII.
func bars(values []float64, top float64, height int, ascii bool) []string {
	levels := []rune(" ▁▂▃▄▅▆▇█")
	if ascii {
		levels = []rune(" .:|#")
	}
	n := len(levels) - 1
	out := make([]string, height)
	for r := range out {
		row := make([]rune, len(values))
		for i, v := range values {
			full := 0
			if top > 0 {
				full = int(math.Round(v / top * float64(n*height)))
			}
			row[i] = levels[max(0, min(n, full-n*(height-1-r)))]
		}
		out[r] = string(row)
	}
	return out
}
