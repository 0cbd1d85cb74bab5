package layout

import (
	"strings"
	"testing"
)

// A kit can have several of a kind, told apart by name.
func TestSeveralOfAKind(t *testing.T) {
	k, err := ReadKit("two.toml", []byte(`road_width = 180
lane_spacing = 84
[[timing]]
length = 180
at = 90
[[straight]]
name = "full"
length = 360
[[crossing]]
length = 360
[[crossing]]
name = "short"
length = 180
[[changer]]
move = "left"
length = 360
[[changer]]
name = "long"
move = "left"
length = 720
`))
	if err != nil {
		t.Fatal(err)
	}
	p := Plan{Roads: 1}
	for _, c := range []string{"timing", "crossing", "crossing short", "changer left", "changer left long"} {
		p.Calls = append(p.Calls, ParseCall(c))
	}
	track, _ := Resolve(p, k)
	if got, want := laidDown(track, 0), "timing, crossing, crossing short, changer left, changer left long"; got != want {
		t.Errorf("laid %q, want %q", got, want)
	}
	p.Calls = append(p.Calls, ParseCall("crossing wide"))
	if _, findings := Resolve(p, k); find(findings, CodePieceMissing) == nil || !strings.Contains(findings[0].Text, "crossing wide") {
		t.Errorf("findings %v", findings)
	}
}
