package layout_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"lanewright/layout"
	"lanewright/layout/even"
	"lanewright/layout/fit"
)

// codesInSource reads every constant called Code... in this folder and those below it.
func codesInSource(t *testing.T) map[string]string {
	t.Helper()
	codes := map[string]string{}
	err := fs.WalkDir(os.DirFS("."), ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			spec, ok := n.(*ast.ValueSpec)
			if !ok {
				return true
			}
			for i, name := range spec.Names {
				if !strings.HasPrefix(name.Name, "Code") || i >= len(spec.Values) {
					continue
				}
				if lit, ok := spec.Values[i].(*ast.BasicLit); ok && lit.Kind == token.STRING {
					text, err := strconv.Unquote(lit.Value)
					if err != nil {
						return false
					}
					codes[text] = path + ": " + name.Name
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return codes
}

// Every code stands once on the page of findings, in the table it belongs to, and in one list of meanings; nothing else does.
func TestEveryCodeIsOnThePage(t *testing.T) {
	codes := codesInSource(t)
	if len(codes) < 40 {
		t.Fatalf("%d codes found in the source", len(codes))
	}
	input := map[string]bool{}
	explained := map[string]int{}
	for _, list := range [][]layout.Meaning{layout.Meanings, fit.Meanings, even.Meanings} {
		for _, m := range list {
			explained[m.Code]++
			input[m.Code] = m.Input
			if m.Text == "" {
				t.Errorf("%s has no meaning", m.Code)
			}
		}
	}
	page, err := os.ReadFile("FINDINGS.md")
	if err != nil {
		t.Fatal(err)
	}
	files, layouts, ok := strings.Cut(string(page), "## The layout is wrong")
	if !ok {
		t.Fatal("the page has no second table")
	}
	row := regexp.MustCompile("(?m)^\\| `([a-z-]+)` \\|")
	onPage := map[string]int{}
	for _, part := range []struct {
		text  string
		input bool
	}{{files, true}, {layouts, false}} {
		for _, m := range row.FindAllStringSubmatch(part.text, -1) {
			onPage[m[1]]++
			if codes[m[1]] == "" {
				t.Errorf("%s is on the page, but no code", m[1])
			}
			if input[m[1]] != part.input {
				t.Errorf("%s stands in the wrong table", m[1])
			}
		}
	}
	for code, where := range codes {
		if onPage[code] != 1 || explained[code] != 1 {
			t.Errorf("%s (%s) is %d times on the page and has %d meanings, want one each", code, where, onPage[code], explained[code])
		}
	}
}
