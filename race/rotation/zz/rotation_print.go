package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/charmbracelet/x/ansi"

	"lanewright/race/rotation"
)

// drawPage prints a draw for people.
type drawPage struct {
	draw      rotation.Draw
	names     []string
	field     *rotation.Field
	heat, lap float64 // seconds, 0 when unknown
}

// nameWidth is the most cells a name takes.
const nameWidth = 18

func (p drawPage) name(d int) string {
	switch {
	case d == 0:
		return "-"
	case d <= len(p.names):
		return ansi.Truncate(p.names[d-1], nameWidth, "…")
	}
	return strconv.Itoa(d)
}

// table prints rows of cells, right-aligned where everything is a number.
func printTable(w io.Writer, rows [][]string) {
	var width []int
	var text []bool
	for r, row := range rows {
		for i, c := range row {
			if i == len(width) {
				width, text = append(width, 0), append(text, false)
			}
			width[i] = max(width[i], ansi.StringWidth(c))
			if _, err := strconv.ParseFloat(c, 64); r > 0 && err != nil && c != "-" && c != "" {
				text[i] = true
			}
		}
	}
	for _, row := range rows {
		var b strings.Builder
		for i, c := range row {
			pad := strings.Repeat(" ", width[i]-ansi.StringWidth(c))
			if i > 0 {
				b.WriteString("  ")
			}
			if text[i] {
				b.WriteString(c + pad)
			} else {
				b.WriteString(pad + c)
			}
		}
		fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
	}
}

// heats prints one line for each heat.
func (p drawPage) heats(w io.Writer) {
	d := p.draw
	head := []string{"heat"}
	if p.field != nil {
		head = append(head, "group")
	}
	for l := range d.Lanes {
		head = append(head, fmt.Sprintf("lane %d", l+1))
	}
	if len(d.Duty) > 0 {
		for i := range d.Duty[0] {
			head = append(head, fmt.Sprintf("post %d", i+1))
		}
	}
	rows := [][]string{head}
	for h, heat := range d.Heats {
		row := []string{strconv.Itoa(h + 1)}
		if p.field != nil {
			row = append(row, strconv.Itoa(p.field.Of[h]))
		}
		for _, x := range heat {
			row = append(row, p.name(x))
		}
		if len(d.Duty) > 0 {
			for _, x := range d.Duty[h] {
				row = append(row, p.name(x))
			}
		}
		rows = append(rows, row)
	}
	printTable(w, rows)
}

// drivers prints everybody's evening.
func (p drawPage) drivers(w io.Writer) {
	fmt.Fprintln(w, "\nEverybody's evening: heat.lane for each heat driven")
	rows := [][]string{{"driver", "drives", "sits out", "longest", "in a row", "mean heat", "marshal in"}}
	for _, x := range p.draw.Explain() {
		var drives, gaps, duty []string
		for _, s := range x.Stints {
			drives = append(drives, fmt.Sprintf("%d.%d", s.Heat, s.Lane))
		}
		for _, g := range x.Gaps {
			gaps = append(gaps, strconv.Itoa(g))
		}
		for _, h := range x.Duty {
			duty = append(duty, strconv.Itoa(h))
		}
		rows = append(rows, []string{p.name(x.Driver), strings.Join(drives, " ") + " ", strings.Join(gaps, " ") + " ", strconv.Itoa(x.Wait), strconv.Itoa(x.Streak),
			fmt.Sprintf("%.2f", x.MeanHeat), strings.Join(duty, " ")})
	}
	printTable(w, rows)
}

// opponents prints how often everybody meets everybody.
func (p drawPage) opponents(w io.Writer) {
	fmt.Fprintln(w, "\nHeats together")
	plans := p.draw.Explain()
	head := []string{""}
	for _, x := range plans {
		head = append(head, strconv.Itoa(x.Driver))
	}
	rows := [][]string{head}
	for _, x := range plans {
		label := strconv.Itoa(x.Driver)
		if x.Driver <= len(p.names) {
			label += " " + p.name(x.Driver)
		}
		row := []string{label}
		for j, m := range x.Met {
			if j+1 == x.Driver {
				row = append(row, "-")
			} else {
				row = append(row, strconv.Itoa(m))
			}
		}
		rows = append(rows, row)
	}
	printTable(w, rows)
}

// compare prints criterion by criterion the figure, its bound and the rolling
// rotation's figure.
func (p drawPage) compare(w io.Writer, rolling rotation.Draw) {
	fmt.Fprintln(w, "\nFigures: less is better, and no draw has less than the bound")
	rows := [][]string{{"criterion", "figure", "this draw", "bound", "rolling"}}
	for _, c := range rotation.Compare(p.draw, rolling) {
		other := "-"
		if c.HasRolling {
			other = strconv.FormatInt(c.Rolling, 10)
		}
		rows = append(rows, []string{c.Criterion.String(), c.Figure, strconv.FormatInt(c.Value, 10), strconv.FormatInt(c.Bound, 10), other})
	}
	printTable(w, rows)
	f := p.draw.Figures
	fmt.Fprintf(w, "\nEach pair meets %d to %d times; everybody meets at least %d others. Mean heat numbers differ by %.2f at most.\n",
		f.PairLeast, f.PairMost, f.MetLeast, f.MeanSpread)
	fmt.Fprintf(w, "A-efficiency for comparing drivers: %.4f (1 = nothing lost, 0 = groups that never meet).\n", f.AEfficiency)
}

// left prints what the lanes leave over for each driver.
func (p drawPage) left(w io.Writer) {
	if len(p.draw.Left) == 0 || p.draw.Figures.CostSpread < 1e-9 {
		return
	}
	laps := p.heat > 0 && p.lap > 0
	head := []string{"driver", "against the mean", "head start"}
	if laps {
		head = append(head, "laps a heat")
	}
	rows := [][]string{head}
	for _, a := range p.draw.Left {
		row := []string{p.name(a.Driver), fmt.Sprintf("%+.4f", a.Cost), fmt.Sprintf("%.4f", a.HeadStart)}
		if laps {
			row = append(row, fmt.Sprintf("%.3f", rotation.LapsAHeat(a.HeadStart, p.heat, p.lap)))
		}
		rows = append(rows, row)
	}
	fmt.Fprintln(w, "\nWhat the lanes leave over, in seconds a lap")
	printTable(w, rows)
}

// proof prints the proof and the notes.
func (p drawPage) proof(w io.Writer) {
	fmt.Fprintf(w, "\n%s\n", p.draw.Proof)
	if p.field != nil {
		for i, members := range p.field.Groups {
			var names []string
			for _, x := range members {
				names = append(names, p.name(x))
			}
			fmt.Fprintf(w, "\nGroup %d: %s\n%s\n", i+1, strings.Join(names, ", "), p.field.Draws[i].Proof)
		}
	}
	for _, n := range p.draw.Notes {
		fmt.Fprintf(w, "\n%s\n", n)
	}
}

// namedDraw is a draw with the drivers' names, as programs read it.
type namedDraw struct {
	draw  rotation.Draw
	names []string
}

func (d namedDraw) MarshalJSON() ([]byte, error) {
	return withFields(d.draw, jsonField{"names", d.names, len(d.names) > 0})
}

// fieldFile is an evening in groups, as programs read it.
type fieldFile struct {
	draw   rotation.Draw
	names  []string
	groups [][]int
	of     []int
}

func (f fieldFile) MarshalJSON() ([]byte, error) {
	return withFields(f.draw, jsonField{"names", f.names, len(f.names) > 0}, jsonField{"groups", f.groups, true}, jsonField{"heat_groups", f.of, true})
}

type jsonField struct {
	name  string
	value any
	there bool
}

// withFields writes a draw with further fields at the end.
func withFields(d rotation.Draw, more ...jsonField) ([]byte, error) {
	out, err := json.Marshal(d)
	if err != nil {
		return nil, err
	}
	out = out[:len(out)-1]
	for _, f := range more {
		if !f.there {
			continue
		}
		v, err := json.Marshal(f.value)
		if err != nil {
			return nil, err
		}
		out = append(out, fmt.Sprintf(",%q:%s", f.name, v)...)
	}
	return append(out, '}'), nil
}

// writeJSON prints a value on one line.
func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}
