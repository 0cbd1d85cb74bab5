package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"
)

// below lists, for each layer, the import prefixes that it must not use: imports point down only.
var below = map[string][]string{
	"layout":        {"lanewright/race", "lanewright/timing", "lanewright/store", "lanewright/tui", "charm.land/", "go.etcd.io/", "go.bug.st/"},
	"timing":        {"lanewright/race", "lanewright/layout", "lanewright/store", "lanewright/tui", "charm.land/", "go.etcd.io/"},
	"race":          {"lanewright/store", "lanewright/tui", "charm.land/", "go.etcd.io/", "go.bug.st/"},
	"store":         {"lanewright/tui", "lanewright/race/control", "charm.land/", "go.bug.st/"},
	"tui":           {"lanewright/store", "lanewright/timing", "go.etcd.io/", "go.bug.st/"},
	"timing/wire":   {"lanewright/timing/", "go.bug.st/", "os"},
	"timing/clock":  {"lanewright/timing/", "go.bug.st/", "os"},
	"race/rotation": {"os", "math/rand$", "lanewright/race/control"},
	"race/judge":    {"os", "math/rand$", "lanewright/race/control"},
	"race/score":    {"os", "math/rand$", "lanewright/race/control"},
}

// pure lists the folders that hold no clock and no goroutine; what lies deeper counts too, but for the ones in live.
var (
	pure = []string{"layout", "timing/wire", "timing/clock", "timing/describe", "race"}
	live = []string{"race/control"}
)

type source struct {
	dir  string // from the module's root, with slashes
	name string
	file *ast.File
	set  *token.FileSet
}

func sources(t *testing.T) []source {
	t.Helper()
	root := filepath.Join("..", "..")
	var all []source
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && path != root && strings.HasPrefix(d.Name(), ".") {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") {
			return nil
		}
		set := token.NewFileSet()
		file, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		all = append(all, source{filepath.ToSlash(filepath.Dir(rel)), filepath.ToSlash(rel), file, set})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 50 {
		t.Fatalf("only %d Go files found: the walk is broken", len(all))
	}
	return all
}

func within(dir, layer string) bool { return dir == layer || strings.HasPrefix(dir, layer+"/") }

func TestImportsPointDown(t *testing.T) {
	for _, s := range sources(t) {
		if strings.HasSuffix(s.name, "_test.go") {
			continue
		}
		for layer, banned := range below {
			if !within(s.dir, layer) {
				continue
			}
			for _, spec := range s.file.Imports {
				path, _ := strconv.Unquote(spec.Path.Value)
				for _, b := range banned {
					exact := strings.TrimSuffix(b, "$")
					if path == exact || exact == b && strings.HasSuffix(b, "/") && strings.HasPrefix(path, b) || exact == b && strings.HasPrefix(path, b+"/") {
						t.Errorf("%s imports %s: %s lies above %s or is not for it", s.name, path, path, layer)
					}
				}
			}
		}
	}
}

func TestPureCoresHoldNoClockAndNoGoroutine(t *testing.T) {
	clock := map[string]bool{"Now": true, "Since": true, "Until": true, "Sleep": true, "After": true, "Tick": true, "NewTimer": true, "NewTicker": true, "AfterFunc": true}
	for _, s := range sources(t) {
		isPure := false
		for _, p := range pure {
			isPure = isPure || within(s.dir, p)
		}
		for _, l := range live {
			isPure = isPure && !within(s.dir, l)
		}
		if !isPure || strings.HasSuffix(s.name, "_test.go") {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.GoStmt:
				t.Errorf("%s: a goroutine in a pure package", s.set.Position(n.Pos()))
			case *ast.SelectorExpr:
				if id, ok := n.X.(*ast.Ident); ok && id.Name == "time" && clock[n.Sel.Name] {
					t.Errorf("%s: time.%s in a pure package: take the time as an argument", s.set.Position(n.Pos()), n.Sel.Name)
				}
			}
			return true
		})
	}
}

func TestNoRoomForOddsAndEnds(t *testing.T) {
	homeless := []string{"util", "utils", "common", "helpers", "helper", "manager", "types", "misc"}
	seen := map[string]bool{}
	for _, s := range sources(t) {
		seen[s.dir] = true
		base := strings.TrimSuffix(filepath.Base(s.name), ".go")
		for _, h := range homeless {
			if base == h || base == h+"_test" {
				t.Errorf("%s: name the idea instead", s.name)
			}
		}
	}
	dirs := make([]string, 0, len(seen))
	for d := range seen {
		dirs = append(dirs, d)
	}
	sort.Strings(dirs)
	for _, d := range dirs {
		for _, h := range homeless {
			if filepath.Base(d) == h {
				t.Errorf("folder %s: name the idea instead", d)
			}
		}
	}
}

func TestCommentsLeaveNoBareTodo(t *testing.T) {
	for _, s := range sources(t) {
		for _, group := range s.file.Comments {
			for _, c := range group.List {
				if strings.Contains(c.Text, "TO"+"DO") || strings.Contains(c.Text, "FIX"+"ME") {
					t.Errorf("%s: leave no note to do it later; do it, or write down the limit", s.set.Position(c.Pos()))
				}
			}
		}
	}
}
