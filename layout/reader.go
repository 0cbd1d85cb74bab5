package layout

import (
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// reader asks a document for values and collects what is wrong with them.
type reader struct {
	file     string
	findings []Finding
}

func (r *reader) add(code string, line int, way, format string, args ...any) {
	r.findings = append(r.findings, Finding{Level: Error, Code: code, File: r.file, Line: line, Text: fmt.Sprintf(format, args...), Way: way})
}

// text reads a string, def where the key is missing.
func (r *reader) text(t *table, key, def string) string {
	t.used[key] = true
	v, ok := t.vals[key]
	if !ok {
		r.notTable(t, key, "a text in quotes")
		return def
	}
	if v.kind != unstable.String {
		r.add(CodeWrongType, v.line, "", "%s is %s, but must be a text in quotes", key, v.shown())
		return def
	}
	return v.text
}

// notTable reports a table where a plain value belongs.
func (r *reader) notTable(t *table, key, want string) {
	if subs := t.subs[key]; len(subs) > 0 {
		r.add(CodeWrongType, subs[0].line, "", "%s is a table, but must be %s", key, want)
	}
}

// flag reads true or false.
func (r *reader) flag(t *table, key string) bool {
	t.used[key] = true
	v, ok := t.vals[key]
	if !ok {
		r.notTable(t, key, "true or false")
		return false
	}
	if v.kind != unstable.Bool {
		r.add(CodeWrongType, v.line, "", "%s is %s, but must be true or false", key, v.shown())
		return false
	}
	return v.text == "true"
}

// span is a range of numbers with its unit, for messages.
type span struct {
	lo, hi float64
	unit   string
}

// What the numbers of plans and kits may be. The bounds only keep nonsense out: a hall is smaller than 100 m.
var (
	anyMM      = span{-1e5, 1e5, "mm"}
	lengthMM   = span{1, 1e5, "mm"}
	playMM     = span{0, 100, "mm"}
	turnDeg    = span{1e-6, 360, "degrees"}
	headingDeg = span{-3600, 3600, "degrees"}
	playDeg    = span{0, 30, "degrees"}
	percent    = span{0, 100, "percent"}
	pieceCount = span{0, 100000, "pieces"}
)

// num reads a number within bounds, def where the key is missing.
func (r *reader) num(t *table, key string, in span, def float64) float64 {
	t.used[key] = true
	v, ok := t.vals[key]
	if !ok {
		r.notTable(t, key, "a number in "+in.unit)
		return def
	}
	x, ok := r.checkNumber(key, v, in)
	if !ok {
		return def
	}
	return x
}

// need is num for a key that must be there.
func (r *reader) need(t *table, key string, in span) float64 {
	if _, ok := t.vals[key]; !ok && len(t.subs[key]) == 0 {
		t.used[key] = true
		r.add(CodeMissing, t.line, fmt.Sprintf("add a line such as %s = %s", key, example(in)), "%s is missing, a number in %s", key, in.unit)
		return 0
	}
	return r.num(t, key, in, 0)
}

func example(in span) string {
	switch in.unit {
	case "mm":
		return "180"
	case "degrees":
		return "60"
	}
	return "1"
}

func (r *reader) checkNumber(key string, v value, in span) (float64, bool) {
	if v.kind != unstable.Integer && v.kind != unstable.Float {
		if x, unit, ok := splitUnit(v.text); ok && v.kind == unstable.String {
			r.add(CodeWrongUnit, v.line, fmt.Sprintf("write the number alone, in %s", in.unit),
				"%s is written as %q; numbers here stand alone and are in %s, not %s", key, fmt.Sprint(trim(x), " ", unit), in.unit, unit)
			return 0, false
		}
		r.add(CodeWrongType, v.line, "", "%s is %s, but must be a number in %s", key, v.shown(), in.unit)
		return 0, false
	}
	if !(v.num >= in.lo && v.num <= in.hi) {
		r.add(CodeOutOfRange, v.line, fmt.Sprintf("give it in %s, from %s to %s", in.unit, trim(in.lo), trim(in.hi)),
			"%s is %s %s, outside %s to %s", key, v.text, in.unit, trim(in.lo), trim(in.hi))
		return 0, false
	}
	return v.num, true
}

// splitUnit takes "27 cm" apart.
func splitUnit(s string) (x float64, unit string, ok bool) {
	s = strings.TrimSpace(s)
	i := strings.LastIndexAny(s, "0123456789.") + 1
	x, err := strconv.ParseFloat(s[:i], 64)
	unit = strings.TrimSpace(s[i:])
	return x, unit, err == nil && unit != "" && !math.IsNaN(x)
}

// whole is num for whole numbers.
func (r *reader) whole(t *table, key string, in span, def int) int {
	x := r.num(t, key, in, float64(def))
	if x != math.Trunc(x) {
		r.add(CodeOutOfRange, t.vals[key].line, "", "%s is %s, but must be a whole number", key, trim(x))
		return def
	}
	return int(x)
}

// nums reads a list of numbers; a number alone is a list of one.
func (r *reader) nums(t *table, key string, in span) []float64 {
	t.used[key] = true
	v, ok := t.vals[key]
	if !ok {
		r.notTable(t, key, "a list of numbers in "+in.unit)
		return nil
	}
	return r.numsOf(key, v, in)
}

func (r *reader) numsOf(key string, v value, in span) []float64 {
	list := v.list
	if v.kind != unstable.Array {
		list = []value{v}
	}
	var out []float64
	for _, item := range list {
		x, ok := r.checkNumber(key, item, in)
		if !ok {
			return nil
		}
		out = append(out, x)
	}
	return out
}

// each returns the tables of a name.
func (r *reader) each(t *table, key string) []*table {
	t.used[key] = true
	if v, ok := t.vals[key]; ok {
		r.add(CodeWrongType, v.line, fmt.Sprintf("begin each with [[%s]] on a line of its own", key), "%s is %s, but must be a table", key, v.shown())
	}
	return t.subs[key]
}

// ofFiles are the keys of plans and kits themselves, which people also write below a table.
var ofFiles = wordSet("name kit roads lanes lane_spacing course road_width shape routed edge")

// rest reports the keys nobody asked for.
func (r *reader) rest(t *table, what string) {
	known := make([]string, 0, len(t.used))
	for k := range t.used {
		known = append(known, k)
	}
	sort.Strings(known)
	for _, key := range t.keys {
		if t.used[key] {
			continue
		}
		line := t.line
		if v, ok := t.vals[key]; ok {
			line = v.line
		} else if subs := t.subs[key]; len(subs) > 0 {
			line = subs[0].line
		}
		way := "known here: " + strings.Join(known, ", ")
		if like := nearest(key, known); like != "" {
			way = fmt.Sprintf("did you mean %s?", like)
		}
		if what[0] == '[' && ofFiles[key] {
			way = "it belongs above the first line in square brackets, since what stands below such a line is part of it"
		}
		r.add(CodeUnknownKey, line, way, "%s is not known in %s", shorten(key), what)
	}
}

// shown says what a value is, short enough for a message.
func (v value) shown() string {
	switch v.kind {
	case unstable.String:
		return strconv.Quote(shorten(v.text))
	case unstable.Array:
		return "a list"
	case unstable.InlineTable:
		return "a table"
	}
	return shorten(v.text)
}

// shorten keeps a foreign text from flooding a message, and from breaking its line.
func shorten(s string) string {
	s = oneLine(strings.ToValidUTF8(s, "?"))
	s = strings.Map(func(c rune) rune {
		if c < ' ' || c == 0x7f {
			return '?'
		}
		return c
	}, s)
	const most = 60
	if runes := []rune(s); len(runes) > most {
		return string(runes[:most-3]) + "..."
	}
	return s
}

// trim writes a number without needless zeros, to a millionth.
func trim(x float64) string {
	if math.Abs(x) >= 1e15 || math.IsNaN(x) {
		return strconv.FormatFloat(x, 'g', 6, 64)
	}
	s := strconv.FormatFloat(x, 'f', 6, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}
