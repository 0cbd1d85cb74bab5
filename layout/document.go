package layout

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// fileMost bounds a plan or kit file in bytes; the longest sensible ones are some kilobytes.
const fileMost = 8 << 20

// value is one TOML value with the line it stands on.
type value struct {
	line  int
	kind  unstable.Kind
	text  string  // of strings, and what was written otherwise
	num   float64 // of numbers
	list  []value
	table *table
	multi bool // a string over several lines; its lines count on from line
}

// table is one TOML table; used marks the keys that somebody asked for, so that the others can be reported.
type table struct {
	line int
	keys []string
	vals map[string]value
	subs map[string][]*table // tables and arrays of tables, in order
	used map[string]bool
}

func newTable(line int) *table {
	return &table{line: line, vals: map[string]value{}, subs: map[string][]*table{}, used: map[string]bool{}}
}

// parseDocument reads TOML into tables that know their lines. The library's strict reader has the first word, so that whatever
// passes here is TOML; the walk after it only adds the lines.
func parseDocument(file string, data []byte) (*table, *Finding) {
	if len(data) > fileMost {
		return nil, &Finding{Level: Error, Code: CodeTooLarge, File: file, Amount: float64(len(data)), Unit: "bytes",
			Text: fmt.Sprintf("the file has %d bytes; at most %d are read", len(data), fileMost)}
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")) // some editors put a byte order mark in front
	var whole map[string]any
	if err := toml.Unmarshal(data, &whole); err != nil {
		f := &Finding{Level: Error, Code: CodeNotTOML, File: file, Text: "this is not TOML: " + oneLine(err.Error()),
			Way: "write keys as key = value, texts in quotes, lists in square brackets"}
		var at *toml.DecodeError
		if errors.As(err, &at) {
			f.Line, _ = at.Position()
		}
		return nil, f
	}
	root := newTable(1)
	lines := lineCounter{data: data, line: 1}
	var p unstable.Parser
	p.Reset(data)
	here := root
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			here = root
			for it := e.Key(); it.Next(); {
				key, last := string(it.Node().Data), it.IsLast()
				line := lines.at(int(it.Node().Raw.Offset))
				here = here.enter(key, line, last && e.Kind == unstable.ArrayTable)
			}
		case unstable.KeyValue:
			here.put(e, &p, &lines)
		}
	}
	if err := p.Error(); err != nil {
		return nil, &Finding{Level: Error, Code: CodeNotTOML, File: file, Text: "this is not TOML: " + oneLine(err.Error())}
	}
	return root, nil
}

// enter returns the sub-table of a name, a new one where fresh or where there is none.
func (t *table) enter(key string, line int, fresh bool) *table {
	subs := t.subs[key]
	if len(subs) == 0 || fresh {
		if len(subs) == 0 {
			t.keys = append(t.keys, key)
		}
		t.subs[key] = append(subs, newTable(line))
	}
	subs = t.subs[key]
	return subs[len(subs)-1]
}

func (t *table) put(e *unstable.Node, p *unstable.Parser, lines *lineCounter) {
	for it := e.Key(); it.Next(); {
		key := string(it.Node().Data)
		line := lines.at(int(it.Node().Raw.Offset))
		if !it.IsLast() {
			t = t.enter(key, line, false)
			continue
		}
		v := readValue(e.Value(), p, lines, line)
		t.keys = append(t.keys, key)
		switch inline := inlineTables(v); {
		case v.table != nil:
			t.subs[key] = append(t.subs[key], v.table)
		case inline != nil:
			t.subs[key] = append(t.subs[key], inline...)
		default:
			t.vals[key] = v
		}
	}
}

// inlineTables returns the tables of a list of nothing but tables, else nil.
func inlineTables(v value) []*table {
	var out []*table
	for _, item := range v.list {
		if item.table == nil {
			return nil
		}
		out = append(out, item.table)
	}
	return out
}

func readValue(n *unstable.Node, p *unstable.Parser, lines *lineCounter, line int) value {
	if n.Raw.Length > 0 {
		line = lines.at(int(n.Raw.Offset))
	}
	v := value{line: line, kind: n.Kind, text: string(n.Data)}
	switch n.Kind {
	case unstable.String:
		raw := p.Raw(n.Raw)
		v.multi = bytes.HasPrefix(raw, []byte(`"""`)) || bytes.HasPrefix(raw, []byte(`'''`))
		if v.multi && len(raw) > 3 && (raw[3] == '\n' || raw[3] == '\r') {
			v.line++ // the first line break is not part of the text
		}
	case unstable.Integer, unstable.Float:
		v.num = number(v.text)
	case unstable.Array:
		for it := n.Children(); it.Next(); {
			v.list = append(v.list, readValue(it.Node(), p, lines, line))
		}
	case unstable.InlineTable:
		v.table = newTable(line)
		for it := n.Children(); it.Next(); {
			v.table.put(it.Node(), p, lines)
		}
	}
	return v
}

// number reads a TOML number, whatever its notation; NaN where it is none.
func number(text string) float64 {
	clean := strings.ReplaceAll(text, "_", "")
	if n, err := strconv.ParseInt(clean, 0, 64); err == nil {
		return float64(n)
	}
	if x, err := strconv.ParseFloat(clean, 64); err == nil {
		return x
	}
	return math.NaN()
}

// lineCounter turns byte offsets into lines; offsets mostly grow, so that counting goes on from the last one.
type lineCounter struct {
	data   []byte
	offset int
	line   int
}

func (c *lineCounter) at(offset int) int {
	offset = min(max(offset, 0), len(c.data))
	if offset < c.offset {
		c.line -= bytes.Count(c.data[offset:c.offset], []byte{'\n'})
	} else {
		c.line += bytes.Count(c.data[c.offset:offset], []byte{'\n'})
	}
	c.offset = offset
	return c.line
}

// oneLine makes a text fit into one sentence.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

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
