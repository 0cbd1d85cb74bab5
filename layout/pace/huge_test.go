package pace

import (
	"fmt"
	"strings"
	"testing"

	"lanewright/layout"
)

// huge is a course of some 2,600 pieces that lies on itself and on no table: nothing may hang over it.
func huge(t testing.TB) layout.Track {
	t.Helper()
	var calls []string
	calls = append(calls, `"timing"`)
	for i := range 150 {
		calls = append(calls, `"straight 6"`, `"left 360 ring 1"`, `"right 60 ring 2"`, `"crossing"`, `"changer both"`)
		if i%7 == 0 {
			calls = append(calls, `"left 15 ring 3"`)
		}
	}
	p, err := layout.ReadPlan("huge.toml", []byte(fmt.Sprintf("name = \"huge\"\nkit = \"module 90\"\nroads = 1\ncourse = [%s]\n[[table]]\nat = [0, 0]\nsize = [2000, 1000]\n", strings.Join(calls, ", "))))
	if err != nil {
		t.Fatal(err)
	}
	k, _ := layout.BuiltinKit(p.Kit)
	track, _ := layout.Resolve(p, k)
	n := 0
	for _, r := range track.Roads {
		n += len(r.Pieces)
	}
	if n < 2000 {
		t.Fatalf("%d pieces, want a great many", n)
	}
	return track
}

func TestHugeLayoutsEnd(t *testing.T) {
	if testing.Short() {
		t.Skip("a long sweep")
	}
	track := huge(t)
	if _, err := Lanes(track, builtin[0], false); err != nil {
		t.Fatal(err)
	}
	if _, best, err := Fastest(track, builtin[0], FastOptions{}); err != nil {
		t.Log(err)
	} else {
		t.Log(best.Par.MeanS)
	}
}
