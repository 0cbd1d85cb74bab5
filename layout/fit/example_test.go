package fit

import (
	"fmt"
	"strings"
	"testing"

	"lanewright/layout"
)

// resolve lays a course of a built-in kit.
func resolve(t testing.TB, kit string, roads int, calls ...string) (layout.Track, []layout.Finding) {
	t.Helper()
	var quoted []string
	for _, c := range calls {
		quoted = append(quoted, fmt.Sprintf("%q", c))
	}
	return read(t, fmt.Sprintf("name = \"test\"\nkit = %q\nroads = %d\ncourse = [%s]\n", kit, roads, strings.Join(quoted, ", ")))
}

func read(t testing.TB, text string) (layout.Track, []layout.Finding) {
	t.Helper()
	p, err := layout.ReadPlan("test.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	k, ok := layout.BuiltinKit(p.Kit)
	if !ok {
		t.Fatalf("no kit %q", p.Kit)
	}
	return layout.Resolve(p, k)
}

// example resolves one of the plans that come with the program.
func example(t testing.TB, name string) layout.Track {
	t.Helper()
	data, ok := layout.Example(name)
	if !ok {
		t.Fatalf("no example %q", name)
	}
	track, _ := read(t, string(data))
	return track
}
