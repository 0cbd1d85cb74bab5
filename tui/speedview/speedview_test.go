package speedview

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lanewright/tui/cell"
	"lanewright/tui/figure"
)

var update = flag.Bool("update", false, "write the expected screens anew")

func f(v float64) *float64 { return &v }

func club(drivers, lanes, layouts int) Page {
	p := Page{Title: "Spring 1 on Saltmarsh Four", Scale: 32,
		Sentence: "Lanes cost at most 0.61 laps and gave at most 0.42 laps over the night; places 3 and 4 rest on luck of lanes or evening; the winner is truly the best with a probability of 84 %."}
	for l := 1; l <= lanes; l++ {
		v := 0.05 * float64(l-lanes/2-1)
		p.Lanes = append(p.Lanes, Lane{Lane: l, Seconds: f(v), Low: f(v - 0.04), High: f(v + 0.04), Length: f(v / 2), Bends: f(-0.01), Rest: f(v/2 + 0.01), Notable: l == 3})
	}
	p.Lanes[lanes-1] = Lane{Lane: lanes}
	p.Notes = []string{"lane 3 costs 0.08 s a lap more than its length and bends explain: look at its braid"}
	for i := range layouts {
		p.Layouts = append(p.Layouts, []string{"Saltmarsh Four", "Kestrel Six", "Heron Eight", "Millpond Oval", "Attic", "Long Barn"}[i%6])
	}
	names := []string{"Ada Quill", "Bram Ostler", "Cleo Fenn", "Zoë Łukas", "Dov Marsh", "Edda Rook", "Finn Harrow of the Long Name Family", "北 星"}
	for i := range drivers {
		d := Driver{Name: names[i%len(names)]}
		if i >= len(names) {
			d.Name += fmt.Sprint(" ", i)
		}
		for k := range layouts {
			if (i+k)%4 == 3 {
				d.Cells = append(d.Cells, Cell{})
				continue
			}
			d.Cells = append(d.Cells, Cell{Laps: 60 + i, Best: time.Duration(5800+37*i+1200*k) * time.Millisecond, Kmh: 340 - float64(3*i+k)})
		}
		switch {
		case i == drivers-1:
			d.Why = "never met, and nobody links them"
		case i > 0:
			d.Percent = f(0.8 * float64(i))
		}
		p.Drivers = append(p.Drivers, d)
		p.Standing = append(p.Standing, Standing{Place: i + 1, Driver: d.Name, Laps: 73.25 - 1.5*float64(i), LaneLuck: f(0.3 - 0.1*float64(i)), AdjustedPlace: i + 1, Right: f(0.84 - 0.1*float64(i))})
	}
	return p
}

func TestScreensAreAsTheyWereLookedAt(t *testing.T) {
	for _, c := range []struct {
		name string
		w, h int
		page Page
		look Look
	}{
		{"four-lanes-80x24", 80, 24, club(7, 4, 2), Look{}},
		{"four-lanes-160x45", 160, 45, club(7, 4, 3), Look{}},
		{"eight-lanes-80x24", 80, 24, club(30, 8, 6), Look{From: 4}},
		{"ascii-80x24", 80, 24, club(7, 4, 2), Look{ASCII: true, Form: figure.Form{Comma: true, Mph: true}}},
		{"nothing-80x24", 80, 24, Page{Title: "Spring 1", Sentence: "No stint ran to the end, so nothing can be said about lanes."}, Look{}},
	} {
		got := strings.Join(View(c.page, c.w, c.h, c.look), "\n") + "\n"
		file := filepath.Join("testdata", c.name+".golden")
		if *update {
			if err := os.MkdirAll("testdata", 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(file)
		if err != nil {
			t.Fatalf("%v; -update writes it", err)
		}
		if string(want) != got {
			t.Errorf("%s differs; -update writes it anew, look at the change:\n%s", c.name, got)
		}
	}
}

func TestAnyWindowHoldsWhatIsDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := club(rapid.IntRange(0, 40).Draw(t, "drivers"), rapid.IntRange(1, 8).Draw(t, "lanes"), rapid.IntRange(0, 6).Draw(t, "layouts"))
		p.Sentence = rapid.String().Draw(t, "sentence")
		w, h := rapid.IntRange(-2, 220).Draw(t, "width"), rapid.IntRange(-2, 60).Draw(t, "height")
		lines := View(p, w, h, Look{From: rapid.IntRange(-3, 50).Draw(t, "from"), ASCII: rapid.Bool().Draw(t, "ascii")})
		if len(lines) > max(h, 0) {
			t.Fatalf("%d lines in a window of %d", len(lines), h)
		}
		for _, l := range lines {
			if cell.Width(l) > w {
				t.Fatalf("%q is wider than %d", l, w)
			}
		}
	})
}

func TestAsciiIsAscii(t *testing.T) {
	p := club(3, 4, 2)
	for _, l := range View(p, 100, 40, Look{ASCII: true}) {
		for _, r := range l {
			if r > 126 {
				t.Errorf("%q", l)
			}
		}
	}
}

func TestTheLastDriverIsReachedByScrolling(t *testing.T) {
	p := club(30, 4, 2)
	last := p.Drivers[29].Name
	text := strings.Join(View(p, 80, 24, Look{From: 29}), "\n")
	if !strings.Contains(text, last) {
		t.Errorf("%s is not on the screen:\n%s", last, text)
	}
	if text := strings.Join(View(p, 80, 24, Look{}), "\n"); !strings.Contains(text, "more") {
		t.Errorf("nothing says that there are more drivers:\n%s", text)
	}
}

func BenchmarkView(b *testing.B) {
	p := club(60, 8, 6)
	b.ReportAllocs()
	for b.Loop() {
		View(p, 160, 45, Look{})
	}
}
