package layout_test

import (
	"io"
	"math"
	"strings"
	"testing"

	"lanewright/layout"
	"lanewright/layout/draw"
	"lanewright/layout/even"
	"lanewright/layout/fit"
	"lanewright/layout/parts"
	"lanewright/layout/route"
)

// everything asks of a plan whatever the commands ask: nothing may panic, hang, or say a thing in two lines or without a number.
func everything(t *testing.T, plan layout.Plan, kit layout.Kit) {
	t.Helper()
	track, findings := layout.Resolve(plan, kit)
	findings = append(findings, fit.OnTables(track).Findings()...)
	findings = append(findings, fit.Collisions(track)...)
	findings = append(findings, parts.Check(track)...)
	findings = append(findings, even.Spoilers(track)...)
	for _, f := range findings {
		if s := f.String(); f.Code == "" || f.Text == "" || strings.ContainsAny(s, "\n\r\x00") || math.IsNaN(f.Amount) || math.IsInf(f.Amount, 0) {
			t.Fatalf("finding %+v", f)
		}
	}
	pieces := 0
	for _, r := range track.Roads {
		pieces += len(r.Pieces)
	}
	if pieces > 300 {
		return // the searches have bounds of their own, tested beside them
	}
	for _, l := range track.Lanes {
		track.SensorsOn(l.Number)
		track.At(l.Number, l.LengthMM/2)
	}
	_, _ = fit.Close(track, fit.CloseOptions{Most: 1})
	_, _ = fit.FindPlace(track, fit.PlaceOptions{Most: 1, StepDeg: 90})
	_, _ = fit.Arrange(track)
	_, _ = even.Crossings(track, even.Options{Crossings: 1, Most: 1, LengthMM: 300})
	if g, err := route.New(track); err == nil {
		g.Pairs()
		g.Steady()
		if len(track.Lanes) > 0 {
			g.KShortest(1, 0, 2)
		}
	}
	parts.Text(parts.Sheet(track))
	if err := draw.SVG(io.Discard, track, draw.Options{}); err != nil {
		t.Fatal(err)
	}
	draw.Cells(track, 60, 20, draw.CellOptions{})
}

// FuzzEverything hands plans, however odd, to all that works on layouts.
func FuzzEverything(f *testing.F) {
	for _, name := range layout.Examples() {
		data, _ := layout.Example(name)
		f.Add(string(data))
	}
	f.Add("kit = \"module 90\"\nroads = 3\ncourse = [\"timing\", \"left 30 ring 1 rise 20 bridge\", \"crossing road 2\", \"chicane 2\", \"hairpin left\"]\n[[table]]\nsize = [600, 600]\nfind = true\n")
	f.Add("kit = \"routed 100\"\nlanes = 8\ncourse = [\"timing 300\", \"left 359 radius 900\", \"crossing 400 lanes 2 3\", \"shift left 300 by 20\"]\n[[table]]\nat = [-1, 2]\nsize = [900, 10]\nturned = 33\n[border]\nstraight = 50\noutside = 90\n")
	sectional, _ := layout.BuiltinKit("module 90")
	routed, _ := layout.BuiltinKit("routed 100")
	f.Fuzz(func(t *testing.T, text string) {
		plan, err := layout.ReadPlan("fuzz.toml", []byte(text))
		if err != nil {
			return
		}
		if kit, ok := layout.BuiltinKit(plan.Kit); ok {
			everything(t, plan, kit)
			return
		}
		everything(t, plan, sectional)
		everything(t, plan, routed)
	})
}

// BenchmarkResolveAndCheck is what layout check does with 206 pieces on four roads.
func BenchmarkResolveAndCheck(b *testing.B) {
	plan, err := layout.ReadPlan("four.toml", []byte("kit = \"module 90\"\nroads = 4\ncourse = [\"timing, straight 18\", \"left 180 ring 1\", \"straight 18, half\", \"left 180 ring 1\"]\n"+
		"[start]\nx = 1200\ny = 900\n[[table]]\nsize = [4900, 3000]\n[[table]]\nat = [4900, 0]\nsize = [4900, 3000]\n"))
	if err != nil {
		b.Fatal(err)
	}
	kit, _ := layout.BuiltinKit(plan.Kit)
	b.ReportAllocs()
	for b.Loop() {
		track, findings := layout.Resolve(plan, kit)
		findings = append(findings, fit.OnTables(track).Findings()...)
		findings = append(findings, fit.Collisions(track)...)
		findings = append(findings, parts.Check(track)...)
		findings = append(findings, even.Spoilers(track)...)
		if len(findings) > 0 || !track.Closes {
			b.Fatal(findings)
		}
	}
}
