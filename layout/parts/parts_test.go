package parts

import (
	"strings"
	"testing"

	"lanewright/layout"
)

func resolve(t *testing.T, text string) layout.Track {
	t.Helper()
	p, err := layout.ReadPlan("plan.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	k, ok := layout.BuiltinKit(p.Kit)
	if !ok {
		t.Fatal("no kit")
	}
	track, _ := layout.Resolve(p, k)
	return track
}

func example(t *testing.T, name string) layout.Track {
	t.Helper()
	text, ok := layout.Example(name)
	if !ok {
		t.Fatalf("no example %q", name)
	}
	return resolve(t, string(text))
}

// Saltmarsh Four counted by hand, course line by course line. Full straights 8+6+3+2+3+3+6 = 31 a road, halves 1+1+1 = 3, quarters
// 1+1+1+1 = 4. Road 1: corners 2x3 and bends 2x3 of ring 2 by 30, hairpins 2x3 of ring 1 by 60. Road 2: corners 2x3 of ring 3 by 30, hairpins
// 2x6 of ring 2 by 30, bends of one 60 and one 30 on ring 1 each. With timing and the narrow pieces 59 and 63.
func TestNeedOfSaltmarshFour(t *testing.T) {
	want := []Line{
		{"straight full", 62, []int{31, 31}, -1, 0},
		{"straight half", 6, []int{3, 3}, -1, 0},
		{"straight quarter", 8, []int{4, 4}, -1, 0},
		{"curve 60 ring 1", 8, []int{6, 2}, -1, 0},
		{"curve 30 ring 1", 2, []int{0, 2}, -1, 0},
		{"curve 30 ring 2", 24, []int{12, 12}, -1, 0},
		{"curve 30 ring 3", 6, []int{0, 6}, -1, 0},
		{"narrow-in", 2, []int{1, 1}, -1, 0},
		{"narrow-out", 2, []int{1, 1}, -1, 0},
		{"timing", 2, []int{1, 1}, -1, 0},
	}
	got := map[string]Line{}
	sums := [2]int{}
	for _, l := range Need(example(t, "saltmarsh four")) {
		got[l.Piece] = l
		sums[0] += l.ByRoad[0]
		sums[1] += l.ByRoad[1]
	}
	if len(got) != len(want) || sums != [2]int{59, 63} {
		t.Errorf("%d kinds, %v pieces", len(got), sums)
	}
	for _, w := range want {
		g := got[w.Piece]
		if g.Needed != w.Needed || g.ByRoad[0] != w.ByRoad[0] || g.ByRoad[1] != w.ByRoad[1] || g.Owned != -1 {
			t.Errorf("%+v, want %+v", g, w)
		}
	}
}

// A crossroads is one piece, passed twice.
func TestCrossroadsCountOnce(t *testing.T) {
	for _, l := range Need(example(t, "heron eight level")) {
		if l.Piece == "crossroads" && (l.Needed != 1 || l.ByRoad[0] != 2) {
			t.Errorf("%+v", l)
		}
	}
}

func TestShortOfStock(t *testing.T) {
	track := resolve(t, `kit = "module 90"
course = ["timing", "straight 2", "left 180 ring 1", "straight 2, half", "right 180 ring 1"]
[stock]
timing = 1
"straight full" = 3
"straight half" = 4
"curve 60 ring 1" = 4
`)
	findings := Check(track)
	if len(findings) != 2 {
		t.Fatalf("findings %v", findings)
	}
	if f := findings[0]; f.Code != layout.CodeStockShort || f.Amount != 1 || f.Text != "4 of straight full are needed, 3 in stock: 1 short" {
		t.Errorf("finding %+v", f)
	}
	// three to the left and three to the right are six of the same piece
	if f := findings[1]; f.Amount != 2 || !strings.HasPrefix(f.Text, "6 of curve 60 ring 1") {
		t.Errorf("finding %+v", f)
	}
	if len(Check(example(t, "saltmarsh four"))) > 0 {
		t.Error("short of a stock nobody stated")
	}
	// The kit's own stock counts where the plan says nothing.
	track.Plan.Stock = nil
	for i := range track.Kit.Pieces {
		if track.Kit.Pieces[i].Name == "straight half" {
			track.Kit.Pieces[i].Stock = 0
		}
	}
	if f := Check(track); len(f) != 1 || f[0].Amount != 1 {
		t.Errorf("findings %v", f)
	}
}

func TestSheetOfHeronEight(t *testing.T) {
	const want = `Road 1, 27 pieces
  call 1    1          timing
  call 2    2          straight half
  call 3    3          straight quarter
  call 4    4-12       left 30 ring 2, nine times, climbing to 90 mm  (turned 270 to the left so far)
  call 5    13         crossing
  call 6    14-15      straight quarter, twice, on the bridge
  call 7    16         crossing
  call 8    17-25      right 30 ring 2, nine times, falling to 0 mm  (turned nothing so far)
  call 9    26         straight full
  call 10   27         straight quarter
`
	if got := Text(Sheet(example(t, "heron eight"))); got != want {
		t.Errorf("sheet\n%s\nwant\n%s", got, want)
	}
}

// The sheet and the parts list count the same pieces, road by road.
func TestSheetHoldsEveryPiece(t *testing.T) {
	for _, name := range layout.Examples() {
		track := example(t, name)
		sums := make([]int, len(track.Roads))
		for _, l := range Need(track) {
			for i, n := range l.ByRoad {
				sums[i] += n
			}
		}
		for i, r := range Sheet(track) {
			next := 1
			for _, s := range r.Steps {
				if s.From != next || s.Say == "" {
					t.Errorf("%s: step %+v should begin with piece %d", name, s, next)
				}
				next = s.To + 1
			}
			if next-1 != sums[i] || r.Pieces != sums[i] {
				t.Errorf("%s: %d pieces on the sheet of road %d, %d in the parts list", name, next-1, i+1, sums[i])
			}
		}
	}
}

func TestNothing(t *testing.T) {
	if len(Need(layout.Track{})) != 0 || Text(Sheet(layout.Track{})) != "" || Check(layout.Track{}) != nil {
		t.Error("an empty track needs nothing")
	}
}

func BenchmarkNeed(b *testing.B) {
	text, _ := layout.Example("saltmarsh four")
	p, err := layout.ReadPlan("plan.toml", text)
	if err != nil {
		b.Fatal(err)
	}
	k, _ := layout.BuiltinKit(p.Kit)
	track, _ := layout.Resolve(p, k)
	b.ReportAllocs()
	for b.Loop() {
		Need(track)
	}
}
