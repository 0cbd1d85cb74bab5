package main

import (
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

var updateJSON = flag.Bool("update-json", false, "write the page on JSON anew")

// jsonAnswers says what each command with --json prints: a type, alone or in a list. The page takes its fields, their types and their
// comments from the source.
var jsonAnswers = []struct{ command, form, root, note string }{
	{"counter guess", "list", "timing/describe.Match", "Surest first."},
	{"counter ports", "list", "timing/port.Found", ""},
	{"counter watch", "lines", "cmd/lanewright.watchLine", "Without --json; a counter says one thing after the other."},
	{"demo", "one", "cmd/lanewright.resultsAnswer", "With --headless."},
	{"layout check", "one", "cmd/lanewright.checkAnswer", "Findings are explained in layout/FINDINGS.md."},
	{"layout close", "one", "cmd/lanewright.closeAnswer", ""},
	{"layout draw", "one", "cmd/lanewright.drawAnswer", ""},
	{"layout even", "one", "cmd/lanewright.evenAnswer", ""},
	{"layout lengths", "one", "cmd/lanewright.lengthsAnswer", ""},
	{"layout new", "one", "cmd/lanewright.newAnswer", ""},
	{"layout parts", "one", "cmd/lanewright.partsAnswer", ""},
	{"layout place", "one", "cmd/lanewright.placeAnswer", ""},
	{"layout routes", "one", "cmd/lanewright.routesAnswer", ""},
	{"night explain", "list", "cmd/lanewright.explained", ""},
	{"night laps", "list", "cmd/lanewright.lapAnswerRow", ""},
	{"night list", "list", "cmd/lanewright.nightAnswer", ""},
	{"night replay", "one", "cmd/lanewright.resultsAnswer", ""},
	{"night run", "one", "cmd/lanewright.resultsAnswer", "With --headless."},
	{"night show", "one", "cmd/lanewright.resultsAnswer", ""},
	{"records", "list", "cmd/lanewright.recordAnswer", ""},
	{"rotation", "one", "race/rotation.drawFile", "On one line. Where names are given, `names` lists them in the order of their numbers; an evening in groups also has `groups`, the driver numbers of each, and `heat_groups`, the group of each heat."},
	{"season", "one", "cmd/lanewright.seasonAnswer", ""},
	{"speeds across", "one", "cmd/lanewright.acrossAnswer", ""},
	{"speeds audit", "one", "cmd/lanewright.auditAnswer", ""},
	{"speeds fit", "one", "cmd/lanewright.fitAnswer", ""},
	{"speeds lanes", "one", "cmd/lanewright.lanesAnswer", ""},
	{"speeds night", "one", "cmd/lanewright.nightSpeeds", ""},
	{"speeds par", "one", "cmd/lanewright.parAnswer", ""},
	{"speeds route", "one", "cmd/lanewright.fastAnswer", ""},
	{"speeds seed", "one", "cmd/lanewright.seedAnswer", ""},
	{"store check", "one", "store.Report", ""},
	{"store salvage", "one", "store.Report", "Of the new file, with what was lost as its problems."},
}

// TestJSONPage keeps JSON.md true: every command that prints JSON is on it, with every field. After a change run
//
//	go test ./cmd/lanewright -run TestJSONPage -update-json
//
// and explain the fields that it complains about, in a comment behind the field or in testdata/json-words.txt.
func TestJSONPage(t *testing.T) {
	listed := map[string]bool{"counter watch": true}
	for _, a := range jsonAnswers {
		listed[a.command] = true
	}
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		name := strings.TrimPrefix(c.CommandPath(), "lanewright ")
		if c.Flags().Lookup("json") != nil && !listed[name] {
			t.Errorf("%q prints JSON; say in jsonAnswers which type", name)
		}
		for _, child := range c.Commands() {
			walk(child)
		}
	}
	walk(rootCommand())

	page := jsonPage(t)
	if *updateJSON {
		if err := os.WriteFile("JSON.md", []byte(page), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	is, err := os.ReadFile("JSON.md")
	if err != nil {
		t.Fatal(err)
	}
	if string(is) != page {
		t.Error("JSON.md is not what the source says; run: go test ./cmd/lanewright -run TestJSONPage -update-json")
	}
}

const jsonHead = `# JSON

What every command prints with ` + "`--json`" + `, field by field. The page is written from the source: see jsonpage_test.go.

Units stand in the names: ` + "`_mm`" + ` millimetres, ` + "`_deg`" + ` degrees, positive to the left, ` + "`_us`" + ` and ` + "`_ns`" + ` whole micro- and nanoseconds, ` + "`_s`" + ` seconds, ` + "`_ms`" + ` metres
a second, ` + "`_kmh`" + ` and ` + "`_mph`" + ` what they say, ` + "`_percent`" + ` hundredths of a lap time or length. Numbers of lanes, roads, calls, pieces, heats and laps count from 1. Times
of day are RFC 3339. A field that may be missing is marked *optional*; one that may be ` + "`null`" + ` says so. ` + "`[]`" + ` behind a name is a list, whose members' fields follow.
` + "`schema`" + ` is 1; it grows when a field changes its meaning or goes away, not when one is added.

The exit code is that of the command without ` + "`--json`" + `: 0 done, 1 the answer is no, 2 the command line or a file is wrong, 3 a counter or port
cannot be used. With 1 the answer is printed all the same; with 2 and 3 one sentence goes to standard error.
`

// jsonWords reads what fields mean, where no comment behind them says so.
func jsonWords(t *testing.T) map[string]string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", "json-words.txt"))
	if err != nil {
		t.Fatal(err)
	}
	words := map[string]string{}
	for i, line := range strings.Split(string(data), "\n") {
		if line = strings.TrimSpace(line); line == "" || line[0] == '#' {
			continue
		}
		key, meaning, ok := strings.Cut(line, " = ")
		if !ok || words[key] != "" {
			t.Errorf("json-words.txt:%d: %q is no new field = meaning", i+1, line)
		}
		words[key] = meaning
	}
	return words
}

func jsonPage(t *testing.T) string {
	t.Helper()
	r := &sourceReader{t: t, packages: map[string]*sourcePackage{}, words: jsonWords(t)}
	var b strings.Builder
	b.WriteString(jsonHead)
	first := map[string]string{}
	for _, a := range jsonAnswers {
		fmt.Fprintf(&b, "\n## %s\n\n", a.command)
		switch a.form {
		case "list":
			b.WriteString("A list of objects.")
		case "lines":
			b.WriteString("JSON Lines: one object a line.")
		default:
			b.WriteString("One object.")
		}
		if a.note != "" {
			b.WriteString(" " + a.note)
		}
		if same := first[a.root]; same != "" {
			fmt.Fprintf(&b, " The fields are those of `%s` above.\n", same)
			continue
		}
		first[a.root] = a.command
		r.told = map[string]string{}
		b.WriteString("\n\n| field | is | meaning |\n| --- | --- | --- |\n")
		dir, name, _ := strings.Cut(a.root, ".")
		r.fields(&b, a.command, dir, name, "", nil)
	}
	return b.String()
}

// sourceReader finds types and their comments in the source of this module.
type sourceReader struct {
	t        *testing.T
	packages map[string]*sourcePackage
	words    map[string]string
	told     map[string]string // structs whose fields the section has listed, and where
}

type sourcePackage struct {
	types   map[string]*ast.TypeSpec
	imports map[string]map[string]string // by type: what its file imports, by name
	text    map[string]bool              // types that write themselves as text
}

func (r *sourceReader) read(dir string) *sourcePackage {
	if p := r.packages[dir]; p != nil {
		return p
	}
	p := &sourcePackage{types: map[string]*ast.TypeSpec{}, imports: map[string]map[string]string{}, text: map[string]bool{}}
	r.packages[dir] = p
	files := token.NewFileSet()
	root := filepath.Join("..", "..", filepath.FromSlash(dir))
	entries, err := fs.ReadDir(os.DirFS(root), ".")
	if err != nil {
		r.t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".go") || strings.HasSuffix(e.Name(), "_test.go") {
			continue
		}
		f, err := parser.ParseFile(files, filepath.Join(root, e.Name()), nil, parser.ParseComments|parser.SkipObjectResolution)
		if err != nil {
			r.t.Fatal(err)
		}
		imports := map[string]string{}
		for _, i := range f.Imports {
			full := strings.Trim(i.Path.Value, `"`)
			name := path.Base(full)
			if i.Name != nil {
				name = i.Name.Name
			}
			imports[name] = full
		}
		for _, d := range f.Decls {
			switch d := d.(type) {
			case *ast.GenDecl:
				for _, s := range d.Specs {
					if ts, ok := s.(*ast.TypeSpec); ok {
						p.types[ts.Name.Name], p.imports[ts.Name.Name] = ts, imports
					}
				}
			case *ast.FuncDecl:
				if d.Recv == nil || d.Name.Name != "MarshalText" && d.Name.Name != "MarshalJSON" {
					continue
				}
				recv := d.Recv.List[0].Type
				if star, ok := recv.(*ast.StarExpr); ok {
					recv = star.X
				}
				if id, ok := recv.(*ast.Ident); ok {
					p.text[id.Name] = true
				}
			}
		}
	}
	return p
}

// fields writes a row for each field of a struct, and for those of the structs in it.
func (r *sourceReader) fields(b *strings.Builder, command, dir, name, prefix string, within []string) {
	p := r.read(dir)
	spec := p.types[name]
	if spec == nil {
		r.t.Errorf("%s: there is no type %s in %s", command, name, dir)
		return
	}
	st, ok := spec.Type.(*ast.StructType)
	if !ok {
		r.t.Errorf("%s: %s.%s is no struct", command, dir, name)
		return
	}
	if slices.Contains(within, dir+"."+name) {
		return
	}
	within = append(within, dir+"."+name)
	for _, f := range st.Fields.List {
		tag := reflect.StructTag("")
		if f.Tag != nil {
			tag = reflect.StructTag(strings.Trim(f.Tag.Value, "`"))
		}
		key, options, _ := strings.Cut(tag.Get("json"), ",")
		if key == "-" {
			continue
		}
		k := r.kind(dir, name, f.Type)
		if len(f.Names) == 0 && key == "" { // embedded: its fields are this one's
			r.fields(b, command, k.dir, k.name, prefix, within)
			continue
		}
		if key == "" {
			if !f.Names[0].IsExported() {
				continue
			}
			key = f.Names[0].Name
		}
		is := k.is
		if strings.Contains(options, "omitempty") || strings.Contains(options, "omitzero") {
			is = strings.TrimSuffix(is, " or null") + ", optional"
		}
		if strings.HasSuffix(key, "_ns") || strings.HasSuffix(key, "_us") {
			is = strings.Replace(is, "nanoseconds", "number", 1)
		}
		meaning := r.words[name+"."+key]
		if meaning == "" {
			meaning = comment(f)
		}
		if meaning == "" {
			meaning = r.words[key]
		}
		if meaning == "" {
			r.t.Errorf("%s: say what %s.%s is, in a comment behind the field or in testdata/json-words.txt as %q", command, name, f.Names[0].Name, name+"."+key)
		}
		at := prefix + key + k.brackets
		if k.name != "" {
			if same := r.told[k.dir+"."+k.name]; same != "" {
				meaning += "; its fields are those of `" + same + "`"
				k.name = ""
			} else {
				r.told[k.dir+"."+k.name] = at
			}
		}
		fmt.Fprintf(b, "| `%s` | %s | %s |\n", at, is, strings.ReplaceAll(meaning, "|", `\|`))
		if k.name != "" {
			r.fields(b, command, k.dir, k.name, at+".", within)
		}
	}
}

// kindOf is what a field is: in words, with the struct it holds where it holds one.
type kindOf struct {
	is, brackets string
	dir, name    string
}

func (r *sourceReader) kind(dir, in string, e ast.Expr) kindOf {
	switch e := e.(type) {
	case *ast.StarExpr:
		k := r.kind(dir, in, e.X)
		if !strings.HasSuffix(k.is, " or null") {
			k.is += " or null"
		}
		return k
	case *ast.ArrayType:
		k := r.kind(dir, in, e.Elt)
		k.brackets += "[]"
		if !strings.HasPrefix(k.is, "list of ") {
			k.is = "list of " + k.is + "s"
			k.is = strings.NewReplacer("texts", "texts", "true or falses", "true or false", " or nulls", "s or null").Replace(k.is)
		} else {
			k.is = "list of lists" + strings.TrimPrefix(k.is, "list")
		}
		return k
	case *ast.MapType:
		k := r.kind(dir, in, e.Value)
		return kindOf{is: "object of " + k.is + "s", dir: k.dir, name: k.name, brackets: ".NAME"}
	case *ast.SelectorExpr:
		pkg := e.X.(*ast.Ident).Name
		full := r.read(dir).imports[in][pkg]
		switch full + "." + e.Sel.Name {
		case "time.Time":
			return kindOf{is: "time of day"}
		case "time.Duration":
			return kindOf{is: "nanoseconds"}
		case "math/big.Int":
			return kindOf{is: "number"}
		case "encoding/json.RawMessage":
			return kindOf{is: "anything"}
		}
		if inside, ok := strings.CutPrefix(full, "lanewright/"); ok {
			return r.named(inside, e.Sel.Name)
		}
		return kindOf{is: "text"}
	case *ast.Ident:
		switch e.Name {
		case "string":
			return kindOf{is: "text"}
		case "bool":
			return kindOf{is: "true or false"}
		case "int", "int8", "int16", "int32", "int64", "uint", "uint8", "uint16", "uint32", "uint64", "float64", "float32":
			return kindOf{is: "number"}
		case "any":
			return kindOf{is: "anything"}
		}
		return r.named(dir, e.Name)
	}
	return kindOf{is: "anything"}
}

// named is the kind of a type of this module.
func (r *sourceReader) named(dir, name string) kindOf {
	p := r.read(dir)
	spec := p.types[name]
	switch {
	case spec == nil:
		r.t.Errorf("there is no type %s in %s", name, dir)
		return kindOf{is: "anything"}
	case p.text[name]:
		return kindOf{is: "text"}
	}
	if _, ok := spec.Type.(*ast.StructType); ok {
		return kindOf{is: "object", dir: dir, name: name}
	}
	return r.kind(dir, name, spec.Type)
}

// comment is what the source says of a field, behind it or in front of it, on one line.
func comment(f *ast.Field) string {
	for _, g := range []*ast.CommentGroup{f.Comment, f.Doc} {
		if g == nil {
			continue
		}
		text := strings.Join(strings.Fields(g.Text()), " ")
		if len(f.Names) > 0 {
			text = strings.TrimPrefix(text, f.Names[0].Name+" is ")
		}
		return strings.TrimSuffix(strings.NewReplacer("[", "", "]", "").Replace(text), ".")
	}
	return ""
}
