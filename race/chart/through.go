package chart

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Through is the pace of a night: every stint against what its driver does on that lane on the whole evening.
type Through struct {
	Stints []Paced
	Slope  *float64 // per cent a heat, through the middle of the stints; nil where there is none
}

// Paced is one stint's pace.
type Paced struct {
	Heat, Lane int
	Percent    float64 // above 0 slower than usual
}

func (t Through) usable() Through {
	out := Through{}
	for _, s := range t.Stints {
		if finite(s.Percent) && s.Heat > 0 {
			out.Stints = append(out.Stints, s)
		}
	}
	if t.Slope != nil && finite(*t.Slope) && len(out.Stints) > 0 {
		out.Slope = t.Slope
	}
	return out
}

func (t Through) span() (heats int, low, high, middle float64) {
	for _, s := range t.Stints {
		heats = max(heats, s.Heat)
		low, high = math.Min(low, s.Percent), math.Max(high, s.Percent)
		middle += float64(s.Heat) / float64(len(t.Stints))
	}
	return heats, low, high, middle
}

// ThroughSVG draws pace over heats, each stint with its lane's mark and number, and the trend.
func ThroughSVG(title string, t Through) []byte {
	t = t.usable()
	const left, right, head, graph = 16.0, 270.0, 18.0, 90.0
	p := newPaper(297, head+graph+14, title, "pace of each stint in per cent against the same driver and lane over the whole evening, heat by heat; above 0 is slower")
	p.text(left, 9, 4.5, "start", title)
	if len(t.Stints) == 0 {
		p.text(left, 20, 3.5, "start", "no stint with enough laps")
		return p.done()
	}
	heats, low, high, middle := t.span()
	y := newAxis(low, high, head+graph, head, 6)
	for _, v := range y.rounds() {
		p.line(left, y.on(v), right, y.on(v), 0.15, faint, nil)
		p.text(left-1.5, y.on(v)+1, 3, "end", y.label(v))
	}
	p.text(left, head-3, 3, "start", "% of a lap, up is slower")
	p.line(left, y.on(0), right, y.on(0), 0.3, ink, nil)
	wide := (right - left) / float64(heats)
	every := max(1, (heats+29)/30)
	for h := 1; h <= heats; h += every {
		p.text(left+wide*(float64(h)-0.5), head+graph+5, 3, "middle", strconv.Itoa(h))
	}
	p.text(right, head+graph+10, 3, "end", "heat")
	if t.Slope != nil {
		at := func(h float64) float64 { return y.on(math.Max(y.low, math.Min(y.high, *t.Slope*(h-middle)))) }
		p.line(left+wide*0.5, at(1), left+wide*(float64(heats)-0.5), at(float64(heats)), 0.5, ink, []float64{3, 2})
		p.text(right+1, at(float64(heats))+1, 3, "start", signed(*t.Slope, 3)+" % a heat")
	}
	lanes := 1
	for _, s := range t.Stints {
		lanes = max(lanes, s.Lane)
	}
	for _, s := range t.Stints {
		x := left + wide*(float64(s.Heat)-0.5) + math.Min(wide*0.8, 40)*((float64(s.Lane)-0.5)/float64(lanes)-0.5)
		p.mark(s.Lane, x, y.on(s.Percent), 1.3)
		p.text(x+1.6, y.on(s.Percent)+0.9, 2.2, "start", strconv.Itoa(s.Lane))
	}
	return p.done()
}

// ThroughText draws pace over heats in a grid of height rows: each stint is its lane's number; two in one place are a +. Heats that
// are more than there is room for share a column.
func ThroughText(t Through, width, height int) []string {
	t = t.usable()
	const gutter = 8
	cells := width - gutter
	if len(t.Stints) == 0 || cells < 4 || height < 3 {
		return nil
	}
	heats, low, high, _ := t.span()
	most := math.Max(math.Max(-low, high), 0.1)
	wide := max(1, min(6, cells/heats))
	columns := min(cells, wide*heats)
	grid := make([][]rune, height)
	for r := range grid {
		grid[r] = []rune(strings.Repeat(" ", columns))
	}
	zero := (height - 1) / 2
	for i := range grid[zero] {
		grid[zero][i] = '·'
	}
	row := func(v float64) int { return max(0, min(height-1, zero-int(math.Round(v/most*float64(zero))))) }
	for _, s := range t.Stints {
		c := min(columns-1, (2*(s.Heat-1)*columns+columns)/(2*heats))
		r := row(s.Percent)
		mark := '+'
		if s.Lane >= 0 && s.Lane <= 9 {
			mark = rune('0' + s.Lane)
		}
		if old := grid[r][c]; old != ' ' && old != '·' {
			mark = '+'
		}
		grid[r][c] = mark
	}
	out := make([]string, 0, height+1)
	for r := range grid {
		label := ""
		switch r {
		case 0:
			label = signed(most, 1) + " %"
		case zero:
			label = "0"
		case height - 1:
			label = signed(-most, 1) + " %"
		}
		out = append(out, strings.TrimRight(fmt.Sprintf("%*s %s", gutter-1, label, string(grid[r])), " "))
	}
	foot := fmt.Sprintf("%*s heat 1", gutter-1, "")
	last := fmt.Sprintf("heat %d", heats)
	if room := gutter + columns - len(foot) - len(last); room > 0 {
		foot += strings.Repeat(" ", room) + last
	}
	out = append(out, foot)
	for i, row := range out { // a title or a heat's number may be wider than a very narrow picture
		if r := []rune(row); len(r) > width {
			out[i] = string(r[:max(width, 0)])
		}
	}
	return out
}
