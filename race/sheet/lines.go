package sheet

import (
	"fmt"
	"reflect"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// lines knows in which line a key stands: "card.length", "driver[2].name".
type lines map[string]int

// linesOf finds the lines of all keys and tables of a document that has been read without error.
func linesOf(data []byte) lines {
	at := lines{}
	count := map[string]int{}
	table := ""
	var p unstable.Parser
	p.Reset(data)
	for p.NextExpression() {
		e := p.Expression()
		var words []string
		line := 0
		it := e.Key()
		for it.Next() {
			k := it.Node()
			words = append(words, string(k.Data))
			if line == 0 {
				line = p.Shape(k.Raw).Start.Line
			}
		}
		path := strings.Join(words, ".")
		switch e.Kind {
		case unstable.Table:
			table = path
		case unstable.ArrayTable:
			table = fmt.Sprintf("%s[%d]", path, count[path])
			count[path]++
		default:
			if table != "" {
				path = table + "." + path
			}
			at[path] = line
			continue
		}
		at[table] = line
	}
	return at
}

// key returns the line of a key, else of its table, else 0.
func (l lines) key(path string) int {
	if n := l[path]; n > 0 {
		return n
	}
	if i := strings.LastIndexByte(path, '.'); i > 0 {
		return l[path[:i]]
	}
	return 0
}

// nth returns the line of a key of the i-th (from 0) table of an array.
func (l lines) nth(array string, i int, key string) int {
	if n := l.key(fmt.Sprintf("%s[%d].%s", array, i, key)); n > 0 {
		return n
	}
	return l[array] // written as one array of inline tables
}

// nearest returns the known key that an unknown one was probably meant to be, "" if none is near.
func nearest(key string) string {
	best, least := "", 3
	for _, k := range known(reflect.TypeFor[form](), "") {
		if d := distance(key, k); d < least {
			best, least = k, d
		}
	}
	return best
}

// known lists the keys of a form.
func known(t reflect.Type, prefix string) []string {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct {
		return nil
	}
	var out []string
	for i := range t.NumField() {
		f := t.Field(i)
		name := prefix + f.Tag.Get("toml")
		out = append(out, name)
		out = append(out, known(f.Type, name+".")...)
	}
	return out
}

// distance is the number of letters to insert, delete or change (Levenshtein 1966).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		left := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			d := left
			if a[i-1] != b[j-1] {
				d++
			}
			left = row[j]
			row[j] = min(d, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
