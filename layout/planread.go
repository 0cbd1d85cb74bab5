package layout

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// callMost bounds the calls of a course; a layout that fills a hall has some hundred.
const callMost = 5000

// ReadPlan reads a plan file; name is what messages call the file. The error, if any, is a *BadFile.
//
// Calls that cannot be understood are no error here: they keep their trouble with them and Resolve reports it, so that one
// run tells a builder everything that is wrong.
func ReadPlan(name string, data []byte) (Plan, error) {
	root, bad := parseDocument(name, data)
	if bad != nil {
		return Plan{}, &BadFile{name, []Finding{*bad}}
	}
	r := &reader{file: name}
	p := r.plan(root)
	if len(r.findings) > 0 {
		return Plan{}, &BadFile{name, r.findings}
	}
	return p, nil
}

func (r *reader) plan(root *table) Plan {
	p := Plan{
		File:      r.file,
		Name:      r.text(root, "name", ""),
		Kit:       r.text(root, "kit", ""),
		Roads:     r.whole(root, "roads", span{1, 4, "roads"}, 1),
		Lanes:     r.whole(root, "lanes", span{2, 8, "lanes"}, 0),
		SpacingMM: r.num(root, "lane_spacing", lengthMM, 0),
	}
	p.KitLine = root.vals["kit"].line
	if p.Kit == "" {
		r.add(CodeMissing, 1, `for example kit = "module 90"`, "the plan does not name its kit")
	}
	if starts := r.each(root, "start"); len(starts) > 0 {
		t := starts[0]
		p.Start = Start{r.num(t, "x", anyMM, 0), r.num(t, "y", anyMM, 0), r.num(t, "heading", headingDeg, 0), r.num(t, "height", anyMM, 0)}
		r.rest(t, "[start]")
	}
	for i, t := range r.each(root, "table") {
		p.Tables = append(p.Tables, r.board(t, i+1))
	}
	for _, t := range r.each(root, "border") {
		p.Border = Border{StraightMM: r.num(t, "straight", borderMM, 0), OutsideMM: r.num(t, "outside", borderMM, 0)}
		r.rest(t, "[border]")
	}
	for _, t := range r.each(root, "stock") {
		for _, piece := range t.keys {
			n := r.whole(t, piece, pieceCount, 0)
			line := t.line
			if v, ok := t.vals[piece]; ok {
				line = v.line
			}
			p.Stock = append(p.Stock, StockLine{Piece: oneLine(piece), Count: n, Line: line})
		}
	}
	sort.SliceStable(p.Stock, func(i, j int) bool { return p.Stock[i].Piece < p.Stock[j].Piece })
	p.Calls = r.course(root)
	r.rest(root, "a plan")
	return p
}

// borderMM bounds borders.
var borderMM = span{0, 10000, "mm"}

func (r *reader) board(t *table, n int) Table {
	b := Table{Name: r.text(t, "name", fmt.Sprintf("table %d", n)), Line: t.line, Find: r.flag(t, "find")}
	if _, ok := t.vals["size"]; !ok {
		r.add(CodeMissing, t.line, "for example size = [2438.4, 1219.2]", "the table has no size")
	}
	if size := r.nums(t, "size", lengthMM); len(size) == 2 {
		b.WidthMM, b.DepthMM = size[0], size[1]
	} else if size != nil {
		r.add(CodeWrongType, t.vals["size"].line, "for example size = [2438.4, 1219.2]", "size has %d numbers, but must have 2, both in mm", len(size))
	}
	if at := r.nums(t, "at", anyMM); len(at) == 2 {
		b.XMM, b.YMM = at[0], at[1]
	} else if at != nil {
		r.add(CodeWrongType, t.vals["at"].line, "for example at = [0, 0]", "at has %d numbers, but must have 2, both in mm", len(at))
	}
	b.TurnedDeg = r.num(t, "turned", headingDeg, 0)
	r.rest(t, "[[table]]")
	return b
}

// course reads the calls: a list of strings, one call each, or one string over several lines, one call a line.
func (r *reader) course(root *table) []Call {
	root.used["course"] = true
	v, ok := root.vals["course"]
	if !ok {
		r.notTable(root, "course", "a list of calls")
		if len(root.subs["course"]) == 0 {
			r.add(CodeMissing, 1, `write course = ["timing", "straight 3", ...]`, "the plan has no course")
		}
		return nil
	}
	var calls []Call
	line := func(text string, at int) {
		if i := strings.IndexByte(text, '#'); i >= 0 {
			text = text[:i]
		}
		if text = strings.TrimSpace(text); text == "" {
			return
		}
		c := ParseCall(text)
		c.Line = at
		calls = append(calls, c)
	}
	total := 0
	texts := v.list
	if v.kind != unstable.Array {
		texts = []value{v}
	}
	for _, item := range texts {
		if item.kind != unstable.String {
			r.add(CodeWrongType, item.line, `write each call in quotes, for example "straight 3"`, "a call is %s, but must be a text in quotes", item.shown())
			return nil
		}
		for i, text := range strings.Split(item.text, "\n") {
			at := item.line
			if item.multi {
				at += i
			}
			if strings.TrimSpace(text) != "" {
				total++
			}
			if total <= callMost {
				line(text, at)
			}
		}
	}
	if total == 0 && len(r.findings) == 0 {
		r.add(CodeNoCalls, v.line, `write course = ["timing", "straight 3", ...]`, "the course has no calls")
	}
	if total > callMost {
		r.findings = append(r.findings, Finding{Level: Error, Code: CodeTooManyCalls, File: r.file, Line: v.line, Amount: float64(total), Unit: "calls",
			Text: fmt.Sprintf("the course has %d calls; at most %d are read", total, callMost), Way: "give runs of like pieces in one call, for example straight 12"})
	}
	return calls
}

// finite reports whether x is a number one can calculate with.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
