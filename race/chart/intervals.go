package chart

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"lanewright/layout/draw"
)

// Interval is a lane's effect with its 95 % interval; nil for what cannot be told.
type Interval struct {
	Lane             int
	Value, Low, High *float64
	Note             string // beside it
}

// reach returns the ends of what is drawn, 0 included.
func reach(bars []Interval) (low, high float64, some bool) {
	for _, b := range bars {
		for _, v := range []*float64{b.Value, b.Low, b.High} {
			if v != nil && finite(*v) {
				low, high, some = math.Min(low, *v), math.Max(high, *v), true
			}
		}
	}
	return low, high, some
}

// IntervalsSVG draws lane effects: right of the line a lane is slower than the mean lane. unit stands at the scale.
func IntervalsSVG(title, unit string, bars []Interval) []byte {
	const left, right, head, row = 22.0, 150.0, 18.0, 9.0
	height := head + row*float64(len(bars)) + 16
	p := newPaper(190, height, title, "effect of each lane with its 95 % interval, "+unit)
	p.text(5, 9, 4.5, "start", title)
	low, high, some := reach(bars)
	if !some {
		p.text(5, 16, 3.5, "start", "nothing can be told about the lanes")
		return p.done()
	}
	x := newAxis(low, high, left, right, 6)
	bottom := head + row*float64(len(bars))
	for _, v := range x.rounds() {
		p.line(x.on(v), head, x.on(v), bottom, 0.15, faint, nil)
		p.text(x.on(v), bottom+4, 3, "middle", x.label(v))
	}
	p.line(x.on(0), head-1, x.on(0), bottom, 0.4, ink, nil)
	p.text(right, bottom+9, 3, "end", unit+", right is slower")
	for i, b := range bars {
		y := head + row*(float64(i)+0.5)
		p.text(5, y+1.2, 3.6, "start", fmt.Sprintf("lane %d", b.Lane))
		if b.Value == nil || !finite(*b.Value) {
			p.text(left+2, y+1.2, 3, "start", "cannot be told")
			continue
		}
		if b.Low != nil && b.High != nil && finite(*b.Low) && finite(*b.High) {
			p.line(x.on(*b.Low), y, x.on(*b.High), y, 0.5, ink, nil)
			for _, end := range []float64{*b.Low, *b.High} {
				p.line(x.on(end), y-1.5, x.on(end), y+1.5, 0.5, ink, nil)
			}
		}
		p.mark(b.Lane, x.on(*b.Value), y, 2)
		p.text(right+4, y+1.2, 3.2, "start", signed(*b.Value, x.decimals+1)+" "+b.Note)
	}
	return p.done()
}

// IntervalsText draws lane effects as text, at most width cells wide: a row for each lane, a scale under them.
func IntervalsText(bars []Interval, width int, ascii bool) []string {
	low, high, some := reach(bars)
	cells := width - 8
	if !some || cells < 9 {
		return nil
	}
	x := newAxis(low, high, 0, float64(cells-1), 4)
	at := func(v float64) int { return max(0, min(cells-1, int(math.Round(x.on(v))))) }
	line, from, to, zero := '─', '├', '┤', '│'
	if ascii {
		line, from, to, zero = '-', '|', '|', ':'
	}
	var out []string
	for _, b := range bars {
		look := draw.LaneLook(b.Lane)
		shape := look.Shape
		if ascii {
			shape = string(look.ASCII)
		}
		row := []rune(strings.Repeat(" ", cells))
		row[at(0)] = zero
		switch {
		case b.Value == nil || !finite(*b.Value):
			copy(row, []rune("cannot be told"))
		default:
			if b.Low != nil && b.High != nil && finite(*b.Low) && finite(*b.High) {
				for i := at(*b.Low); i <= at(*b.High); i++ {
					row[i] = line
				}
				row[at(*b.Low)], row[at(*b.High)] = from, to
			}
			row[at(*b.Value)] = []rune(shape)[0]
		}
		out = append(out, strings.TrimRight(fmt.Sprintf("%4d %s  %s", b.Lane, shape, string(row)), " "))
	}
	scale := []rune(strings.Repeat(" ", cells+8))
	end := 0
	for _, v := range x.rounds() {
		s := []rune(x.label(v))
		from := max(0, at(v)+8-len(s)/2)
		if from < end || from+len(s) > len(scale) {
			continue
		}
		copy(scale[from:], s)
		end = from + len(s) + 1
	}
	return append(out, strings.TrimRight(string(scale), " "))
}

func signed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	if v > 0 {
		s = "+" + s
	}
	return s
}
