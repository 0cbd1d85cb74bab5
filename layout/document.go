package layout

import (
	"bytes"
	"errors"
	"fmt"
	"math"
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
