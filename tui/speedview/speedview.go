// Package speedview is the screen that compares: whether the night was fair, what each lane costs, drivers against layouts. It is a pure
// function from figures to lines of text; whoever shows it fetches the figures from a [Source] and adds keys and colours.
//
// Nothing on it is a result. Results follow from the rule card; these are estimates, and what cannot be told is a dash.
package speedview

import (
	"fmt"
	"strings"
	"time"

	"lanewright/race/chart"
	"lanewright/tui/cell"
	"lanewright/tui/figure"
)

// Source works the page out. It may take a second on a long season, so call it away from the screen.
type Source interface {
	Speeds() (Page, error)
}

// Page is everything that the screen shows.
type Page struct {
	Title    string // the night and its layout
	Sentence string // of the audit
	Standing []Standing
	Lanes    []Lane
	Notes    []string // about lanes, in plain words
	Layouts  []string
	Drivers  []Driver // quickest first as far as they can be compared
	Scale    int
}

// Standing is one driver of the audit, in official order. Laps of luck are positive where they helped; nil cannot be told.
type Standing struct {
	Place         int
	Driver        string
	Laps          float64
	LaneLuck      *float64
	AdjustedPlace int      // 0 unknown
	Right         *float64 // probability of being truly better than the place below
}

// Lane is what a lane costs a lap, in seconds against the mean lane; nil cannot be told.
type Lane struct {
	Lane               int
	Seconds, Low, High *float64
	Length, Bends      *float64 // what its length and its bends explain
	Rest               *float64
	Notable            bool
}

// Driver is one driver on every layout.
type Driver struct {
	Name    string
	Cells   []Cell   // one for each of Page.Layouts
	Percent *float64 // lap against the quickest's, nil for the quickest and for those who cannot be compared
	Why     string   // why he cannot be compared
}

// Cell is a driver on a layout; Laps 0: not driven.
type Cell struct {
	Laps     int
	Best     time.Duration
	Median   time.Duration
	Kmh      float64 // scale speed of the quickest lap, 0 unknown
	ParRatio float64 // 0 unknown
}

// Look says how to write.
type Look struct {
	Form  figure.Form
	ASCII bool
	From  int // first driver of the lower table, for scrolling
}

const wide = 130 // cells from which two columns fit side by side

// View lays the page out in at most height lines of at most width cells. A window that is too small gets what fits, the sentence first.
func View(p Page, width, height int, look Look) []string {
	if width < 1 || height < 1 {
		return nil
	}
	l := layout{page: p, look: look, width: width}
	lines := []string{p.Title}
	lines = append(lines, wrap(p.Sentence, width)...)
	lines = append(lines, "")
	if width >= wide {
		left, right := layout{p, look, width/2 - 2}, layout{p, look, width - width/2 - 1}
		a := append(append(left.lanes(), ""), left.standings(height)...)
		b := right.drivers(height - len(lines))
		for i := range max(len(a), len(b)) {
			lines = append(lines, beside(at(a, i), at(b, i), width/2))
		}
	} else {
		lines = append(lines, l.lanes()...)
		lines = append(lines, "")
		lines = append(lines, l.drivers(height-len(lines))...)
	}
	for i := range lines {
		lines[i] = cell.Cut(strings.TrimRight(lines[i], " "), width)
		if look.ASCII {
			lines[i] = strings.ReplaceAll(lines[i], "…", ".")
		}
	}
	return lines[:min(len(lines), height)]
}

// layout writes parts of a page into so many cells.
type layout struct {
	page  Page
	look  Look
	width int
}

func (l layout) lanes() []string {
	if len(l.page.Lanes) == 0 {
		return append([]string{"Lanes: nothing to compare"}, l.notes()...)
	}
	bars := make([]chart.Interval, len(l.page.Lanes))
	for i, x := range l.page.Lanes {
		bars[i] = chart.Interval{Lane: x.Lane, Value: x.Seconds, Low: x.Low, High: x.High}
	}
	const figures = 27 // seconds, length, bends, rest in narrow columns
	rows := chart.IntervalsText(bars, l.width-figures-2, l.look.ASCII)
	out := []string{padded("Lanes, s a lap (right is slower)", max(l.width-figures-1, 0)) + "  costs length  bends  rest"}
	for i, x := range l.page.Lanes {
		row := ""
		if i < len(rows) {
			row = rows[i]
		}
		star := " "
		if x.Notable {
			star = "*"
		}
		out = append(out, padded(row, max(l.width-figures-1, 0))+fmt.Sprintf("%7s%7s%7s%6s%s", l.signed(x.Seconds), l.signed(x.Length), l.signed(x.Bends), l.signed(x.Rest), star))
	}
	if len(rows) > len(l.page.Lanes) {
		out = append(out, rows[len(rows)-1])
	}
	return append(out, l.notes()...)
}

func (l layout) notes() []string {
	var out []string
	for _, n := range l.page.Notes {
		out = append(out, wrap(n, l.width)...)
	}
	return out
}

func (l layout) standings(rows int) []string {
	out := []string{"place  driver                   laps   luck of lanes  would be  right"}
	for i, s := range l.page.Standing {
		if i >= rows {
			break
		}
		place, would := "-", "-"
		if s.Place > 0 {
			place = fmt.Sprint(s.Place)
		}
		if s.AdjustedPlace > 0 {
			would = fmt.Sprint(s.AdjustedPlace)
		}
		out = append(out, fmt.Sprintf("%5s  %s %8s   %13s  %8s  %5s", place, padded(s.Driver, 20), l.mark(fmt.Sprintf("%.2f", s.Laps)), l.signed(s.LaneLuck), would, chance(s.Right)))
	}
	return out
}

// drivers is the table of drivers against layouts, as many as there is room for; layouts that do not fit beside each other are left out
// from the right, and the heading says how many.
func (l layout) drivers(rows int) []string {
	const name, column, against = 20, 19, 10
	room := max((l.width-name-against)/column, 1)
	shown := min(room, len(l.page.Layouts))
	if len(l.page.Drivers) == 0 {
		return []string{"Drivers: nobody to compare"}
	}
	title := "driver"
	if left := len(l.page.Layouts) - shown; left > 0 {
		title += ", +" + figure.Count(left, "layout")
	}
	head := padded(title, name)
	for _, x := range l.page.Layouts[:shown] {
		head += "  " + padded(x, column-2)
	}
	out := []string{head + "  quickest"}
	under := padded("", name)
	for range shown {
		under += fmt.Sprintf("  %7s %9s", "best s", fmt.Sprintf("km/h 1:%d", l.page.Scale))
		if l.look.Form.Mph {
			under = strings.Replace(under, "km/h", " mph", 1)
		}
	}
	out = append(out, under+"        by")
	first := max(0, min(l.look.From, len(l.page.Drivers)-1))
	for i := first; i < len(l.page.Drivers); i++ {
		if len(out) >= rows-1 && i < len(l.page.Drivers)-1 {
			out = append(out, "... "+strings.Replace(figure.Count(len(l.page.Drivers)-i, "driver"), " ", " more ", 1))
			break
		}
		d := l.page.Drivers[i]
		row := padded(d.Name, name)
		for k := range shown {
			c := Cell{}
			if k < len(d.Cells) {
				c = d.Cells[k]
			}
			if c.Laps == 0 {
				row += fmt.Sprintf("  %7s %9s", "-", "-")
				continue
			}
			row += fmt.Sprintf("  %7s %9s", l.look.Form.Lap(c.Best, 3), l.speed(c.Kmh))
		}
		switch {
		case d.Percent != nil:
			row += fmt.Sprintf("  %8s", l.signed2(*d.Percent)+" %")
		case d.Why != "":
			row += "         ?"
		default:
			row += "         -"
		}
		out = append(out, row)
	}
	return out
}

func (l layout) speed(kmh float64) string {
	if !(kmh > 0) {
		return "-"
	}
	if l.look.Form.Mph {
		kmh /= 1.609344 // the international mile of 1959
	}
	return l.mark(fmt.Sprintf("%.1f", kmh))
}

func (l layout) signed(v *float64) string {
	if v == nil {
		return "-"
	}
	return l.signed2(*v)
}

func (l layout) signed2(v float64) string {
	s := fmt.Sprintf("%+.2f", v)
	if strings.Trim(s, "+-0.") == "" {
		s = strings.TrimLeft(s, "+-")
	}
	return l.mark(s)
}

// mark puts the reader's decimal mark.
func (l layout) mark(s string) string {
	if l.look.Form.Comma {
		return strings.Replace(s, ".", ",", 1)
	}
	return s
}

func chance(p *float64) string {
	switch {
	case p == nil:
		return "-"
	case *p < 0.01:
		return "<1 %"
	case *p > 0.99:
		return ">99 %"
	}
	return fmt.Sprintf("%.0f %%", *p*100)
}

func padded(s string, width int) string {
	s = cell.Cut(s, width)
	return s + strings.Repeat(" ", max(width-cell.Width(s), 0))
}

func beside(a, b string, from int) string {
	return padded(a, from) + b
}

func at(lines []string, i int) string {
	if i < len(lines) {
		return lines[i]
	}
	return ""
}

// wrap breaks a text between words.
func wrap(s string, width int) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(s) {
		if line != "" && cell.Width(line)+1+cell.Width(word) > width {
			out, line = append(out, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	if line != "" {
		out = append(out, line)
	}
	return out
}
