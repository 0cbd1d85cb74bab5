package layout

import (
	"fmt"
	"strings"
	"testing"
)

// Fifty thousand calls are one sentence, not a hang.
func TestTooManyCalls(t *testing.T) {
	var b strings.Builder
	b.WriteString("kit = \"module 90\"\ncourse = [\n")
	for range 50000 {
		b.WriteString("\"straight\",\n")
	}
	b.WriteString("]\n")
	_, err := ReadPlan("long.toml", []byte(b.String()))
	bad, ok := err.(*BadFile)
	if !ok || len(bad.Findings) != 1 || bad.Findings[0].Code != CodeTooManyCalls || bad.Findings[0].Amount != 50000 {
		t.Fatalf("error %v", err)
	}
	p := Plan{Roads: 1, Calls: make([]Call, 100000)}
	k, _ := BuiltinKit("module 90")
	if _, findings := Resolve(p, k); len(findings) != 1 || findings[0].Code != CodeTooManyCalls {
		t.Errorf("findings %v", findings)
	}
}

// Plans made to take as long as they can still end: angles that nothing adds up to, sideways moves none like another, pieces without
// end. There is no clock in this test; a plan that hangs trips the time limit of the whole run.
func TestWorkIsBounded(t *testing.T) {
	var kit strings.Builder
	kit.WriteString("road_width = 180\nlane_spacing = 84\n[[straight]]\nname = \"full\"\nlength = 360\n")
	for i := range 12 {
		fmt.Fprintf(&kit, "[[curve]]\nring = 1\nradius = 270\nangle = %g\n", 1.000002+float64(i)*0.000008)
	}
	k, err := ReadKit("odd-kit.toml", []byte(kit.String()))
	if err != nil {
		t.Fatal(err)
	}
	plan := func(call func(i int) string) Plan {
		p := Plan{Roads: 4}
		for i := range 2500 {
			p.Calls = append(p.Calls, ParseCall(call(i)))
		}
		return p
	}
	_, findings := Resolve(plan(func(i int) string { return fmt.Sprintf("road 1 and 2 and 3 and 4: left %d.%06d", 20+i%3000, i) }), k)
	if find(findings, CodeAngleMissing) == nil {
		t.Errorf("%d findings", len(findings))
	}
	routed, _ := BuiltinKit("routed 100")
	routed.Lanes, routed.RoadWidthMM, routed.EdgeMM = 8, 900, 0
	_, findings = Resolve(plan(func(i int) string { return fmt.Sprintf("left 60 radius %d changer both", 2000+i) }), routed)
	if find(findings, CodeTooManyPieces) == nil {
		t.Errorf("%d findings", len(findings))
	}
	big, _ := BuiltinKit("module 90")
	track, findings := Resolve(plan(func(int) string { return "quarter 200" }), big)
	n := 0
	for _, r := range track.Roads {
		n += len(r.Pieces)
	}
	if n > pieceMost || find(findings, CodeTooManyPieces) == nil {
		t.Errorf("%d pieces", n)
	}
	if !strings.Contains(findings[0].Text, "20000 pieces") || len(findings) > callMost {
		t.Errorf("%d findings, first %v", len(findings), findings[0])
	}
}
