package fit

import (
	"errors"
	"math"
	"testing"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// A layout carried off its tables is found a place on them again, with a margin as wide as where it lay, or wider.
func TestFindsThePlaceAgain(t *testing.T) {
	for _, name := range []string{"millpond oval", "heron eight", "saltmarsh four", "kestrel six"} {
		track := example(t, name)
		want := OnTables(track).MarginMM
		p := track.Plan
		sin, cos := curve.SinCos(120)
		at := vec{p.Start.XMM, p.Start.YMM}.turned(sin, cos).add(vec{7000, -3000})
		p.Start.XMM, p.Start.YMM, p.Start.HeadingDeg = at.x, at.y, p.Start.HeadingDeg+120
		p.Border = layout.Border{}
		away, _ := layout.Resolve(p, track.Kit)
		if OnTables(away).Fits {
			t.Fatalf("%s lies on its tables though it was carried away", name)
		}
		spots, err := FindPlace(away, PlaceOptions{})
		if err != nil || len(spots) == 0 {
			t.Fatalf("%s: %v, %d spots", name, err, len(spots))
		}
		// Starts are given to a tenth of a millimetre.
		if s := spots[0]; !s.Fits || s.MarginMM < want-0.5 {
			t.Errorf("%s: the best spot %+v, but where it lay it had %.1f mm", name, s, want)
		}
		for _, s := range spots {
			p.Start = s.Start
			there, _ := layout.Resolve(p, track.Kit)
			if m := OnTables(there).MarginMM; math.Abs(m-s.MarginMM) > 1e-9 {
				t.Errorf("%s: the spot promises %.3f, the layout there has %.3f", name, s.MarginMM, m)
			}
		}
	}
}

// The six tables of Saltmarsh Four, piled up in a corner, are laid out under it.
func TestTablesAreArranged(t *testing.T) {
	for _, name := range []string{"millpond oval", "heron eight", "saltmarsh four", "kestrel six"} {
		track := example(t, name)
		track.Plan.Tables = append([]layout.Table{}, track.Plan.Tables...)
		if name == "kestrel six" { // one board of four tables of 4 by 8 ft
			track.Plan.Tables = make([]layout.Table, 4)
			for i := range track.Plan.Tables {
				track.Plan.Tables[i] = layout.Table{WidthMM: 2438.4, DepthMM: 1219.2}
			}
		}
		for i := range track.Plan.Tables {
			tb := &track.Plan.Tables[i]
			tb.XMM, tb.YMM, tb.TurnedDeg, tb.Find = 0, 0, 0, true
		}
		a, err := Arrange(track)
		if err != nil {
			t.Fatal(err)
		}
		if !a.Fits {
			t.Errorf("%s: %+v", name, a)
		}
		for i := range a.Tables {
			for k := range i {
				x, y := newBoard(a.Tables[i]), newBoard(a.Tables[k])
				if x.to(y.out(vec{y.w / 2, y.d / 2})) == 0 {
					t.Errorf("%s: tables %d and %d lie on each other", name, k+1, i+1)
				}
			}
		}
	}
}

// One table stays where it is, the other is put beside it; a third is not needed.
func TestArrangedBesideATableThatStays(t *testing.T) {
	track := example(t, "heron eight")
	track.Plan.Tables = append([]layout.Table{}, track.Plan.Tables...)
	track.Plan.Tables[1].Find = true
	track.Plan.Tables = append(track.Plan.Tables, layout.Table{WidthMM: 600, DepthMM: 600, Find: true})
	a, err := Arrange(track)
	if err != nil || !a.Fits || len(a.Unused) != 1 || a.Unused[0] != 3 {
		t.Errorf("%+v, %v", a, err)
	}
}

// Two tables of 4 by 4 ft bear an oval of 720 by 1620 mm side by side; a third is left over although it would do some good.
func TestArrangesFewTables(t *testing.T) {
	track := example(t, "millpond oval")
	track.Plan.Tables = []layout.Table{{WidthMM: 1219.2, DepthMM: 1219.2, Find: true}, {WidthMM: 600, DepthMM: 600, Find: true}, {WidthMM: 1219.2, DepthMM: 1219.2, Find: true}}
	a, err := Arrange(track)
	if err != nil || !a.Fits || len(a.Unused) != 1 || a.Unused[0] != 2 {
		t.Fatalf("%+v, %v", a, err)
	}
	if a.Tables[0].YMM != a.Tables[2].YMM || math.Abs(a.MarginMM-249.6) > 0.1 {
		t.Errorf("not side by side: %+v", a)
	}
}

func TestNoPlace(t *testing.T) {
	track := example(t, "millpond oval")
	track.Plan.Tables = nil
	if _, err := FindPlace(track, PlaceOptions{}); !errors.Is(err, ErrNoPlace) {
		t.Errorf("error %v without tables", err)
	}
	if _, err := Arrange(track); !errors.Is(err, ErrNoPlace) {
		t.Errorf("error %v without tables to arrange", err)
	}
	track.Plan.Tables = []layout.Table{{WidthMM: 600, DepthMM: 600, Find: true}}
	if a, err := Arrange(track); err != nil || a.Fits {
		t.Errorf("%+v, %v for a table that is too small", a, err)
	}
	if _, err := FindPlace(layout.Track{Plan: layout.Plan{Tables: []layout.Table{{WidthMM: 600, DepthMM: 600}}}}, PlaceOptions{}); !errors.Is(err, ErrNoPlace) {
		t.Errorf("error %v without a road", err)
	}
	track.Plan.Tables = []layout.Table{{WidthMM: 600, DepthMM: 600}}
	if spots, err := FindPlace(track, PlaceOptions{}); err != nil || spots[0].Fits || spots[0].MarginMM >= 0 {
		t.Errorf("%+v, %v on a table that is too small", spots, err)
	}
}

func BenchmarkArrange(b *testing.B) {
	track := example(b, "saltmarsh four")
	track.Plan.Tables = append([]layout.Table{}, track.Plan.Tables...)
	for i := range track.Plan.Tables {
		track.Plan.Tables[i].Find = true
	}
	b.ReportAllocs()
	for b.Loop() {
		if a, err := Arrange(track); err != nil || !a.Fits {
			b.Fatal(a, err)
		}
	}
}

func BenchmarkFindPlace(b *testing.B) {
	track := example(b, "saltmarsh four")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := FindPlace(track, PlaceOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
