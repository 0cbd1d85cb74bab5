package fit

import (
	"fmt"
	"strings"
	"testing"

	"lanewright/layout"
)

// huge is a course of some 16,000 pieces that lies on itself and on no table: nothing may hang over it.
func huge(t testing.TB) layout.Track {
	t.Helper()
	var calls []string
	calls = append(calls, `"timing"`)
	for i := range 700 {
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
	if n < 8000 {
		t.Fatalf("%d pieces, want a great many", n)
	}
	return track
}

func TestHugeLayoutsEnd(t *testing.T) {
	if testing.Short() {
		t.Skip("a long sweep")
	}
	track := huge(t)
	res, err := Close(track, CloseOptions{})
	if err != nil {
		t.Fatal(err)
	}
	t.Log(res.Tried, res.Scope)
	t.Log(len(Collisions(track)), OnTables(track).MarginMM)
	if _, err := FindPlace(track, PlaceOptions{StepDeg: 90, Most: 1}); err != nil {
		t.Fatal(err)
	}
	track.Plan.Tables = []layout.Table{{WidthMM: 1219.2, DepthMM: 2438.4, Find: true}, {WidthMM: 1219.2, DepthMM: 2438.4, Find: true}}
	if _, err := Arrange(track); err != nil {
		t.Fatal(err)
	}
}
