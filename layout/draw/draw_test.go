package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// parse reads the drawing as XML and returns the elements by name with their attributes.
func parse(t testing.TB, svg []byte) map[string][]map[string]string {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	d.Strict = true
	out := map[string][]map[string]string{}
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatalf("not XML: %v", err)
		}
		if e, ok := tok.(xml.StartElement); ok {
			attrs := map[string]string{}
			for _, a := range e.Attr {
				if _, twice := attrs[a.Name.Local]; twice {
					t.Fatalf("attribute %s twice in <%s>", a.Name.Local, e.Name.Local)
				}
				attrs[a.Name.Local] = a.Value
			}
			out[e.Name.Local] = append(out[e.Name.Local], attrs)
		}
	}
}

func svg(t testing.TB, track layout.Track, o Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := SVG(&b, track, o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestSVGIsXML(t *testing.T) {
	out := svg(t, oval(4, 30), Options{})
	els := parse(t, out)
	if len(els["svg"]) != 1 || els["svg"][0]["width"] != "297mm" {
		t.Errorf("root %v, want A4 on its side", els["svg"])
	}
	for _, want := range []string{"Oval &lt;of&gt;", "half &amp; way", "lane 4", "road 1, piece 5, call 5"} {
		if !bytes.Contains(out, []byte(want)) {
			t.Errorf("%q is not in the drawing", want)
		}
	}
	if !bytes.Equal(out, svg(t, oval(4, 30), Options{})) {
		t.Error("drawn twice, it differs")
	}
}

// polyline reads the points of a path of straight strokes.
func polyline(t *testing.T, d string) []point {
	t.Helper()
	var pts []point
	for _, xy := range strings.Split(strings.TrimSuffix(strings.TrimPrefix(d, "M"), "Z"), "L") {
		a, b, _ := strings.Cut(xy, " ")
		x, err1 := strconv.ParseFloat(a, 64)
		y, err2 := strconv.ParseFloat(b, 64)
		if err1 != nil || err2 != nil {
			t.Fatalf("path %q", d)
		}
		pts = append(pts, point{x, y})
	}
	return pts
}

// The drawing is the geometry: the strokes of each lane, measured with a ruler at 1:10, give its length.
func TestLanesMeasureWhatTheyAreLong(t *testing.T) {
	measure(t, oval(4, 30))
	// With crossings, changers, narrow pieces and four lanes side by side; on the level, where plan and space agree.
	for _, name := range []string{"heron eight level", "millpond digital", "saltmarsh four", "kestrel six"} {
		data, ok := layout.Example(name)
		if !ok {
			t.Fatalf("no example %q", name)
		}
		p, err := layout.ReadPlan(name, data)
		if err != nil {
			t.Fatal(err)
		}
		k, _ := layout.BuiltinKit(p.Kit)
		track, _ := layout.Resolve(p, k)
		measure(t, track)
	}
}

func measure(t *testing.T, track layout.Track) {
	t.Helper()
	els := parse(t, svg(t, track, Options{Denominator: 10}))
	for _, l := range track.Lanes {
		look := LaneLook(l.Number)
		sum, strokes := 0.0, 0
		for _, p := range els["path"] {
			if p["stroke"] != look.Hex || p["stroke-width"] != "0.8" { // other white and blue lines have other widths
				continue
			}
			pts := polyline(t, p["d"])
			strokes++
			for i := 1; i < len(pts); i++ {
				sum += math.Hypot(pts[i].x-pts[i-1].x, pts[i].y-pts[i-1].y)
			}
		}
		if want := len(track.Roads[l.At.Road-1].Pieces); strokes != want {
			t.Errorf("%s lane %d: %d strokes, want one for each of %d pieces", track.Plan.Name, l.Number, strokes, want)
		}
		// Chords stray by at most 0.05 mm of paper and points are rounded to a hundredth: together under 0.3 %.
		if math.Abs(sum*10/l.LengthMM-1) > 3e-3 {
			t.Errorf("%s lane %d measures %.1f on paper, is %.1f", track.Plan.Name, l.Number, sum*10, l.LengthMM)
		}
	}
}

func TestOneToTenTakesTheSheetThatHoldsIt(t *testing.T) {
	// The table is 4 m by 2 m and a little more as it is turned: 40 cm by 22 cm of paper and borders need A2 on its side.
	els := parse(t, svg(t, oval(2, 30), Options{Denominator: 10}))
	if w, h := els["svg"][0]["width"], els["svg"][0]["height"]; w != "594mm" || h != "420mm" {
		t.Errorf("sheet %s by %s, want A2", w, h)
	}
	if w, h := sheetFor(2000, 500); w != 2000 || h != 500 {
		t.Errorf("sheet %v by %v for 2000 by 500", w, h)
	}
}

func TestEverythingStaysOnTheSheet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := Options{Denominator: float64(rapid.IntRange(0, 40).Draw(t, "denominator"))}
		s := compose(oval(rapid.IntRange(1, 8).Draw(t, "lanes"), rapid.IntRange(9, 60).Draw(t, "pieces")), o)
		for _, sh := range s.shapes {
			for _, p := range sh.points {
				if !(p.x >= 0 && p.x <= s.width && p.y >= 0 && p.y <= s.height) {
					t.Fatalf("%+v lies off the sheet of %v by %v", sh, s.width, s.height)
				}
			}
		}
	})
}

func TestEmptyAndBrokenTracksStillDraw(t *testing.T) {
	broken := oval(2, 20)
	broken.Roads[0].Pieces[3].Centre = curve.Path{curve.Line{Start: curve.Pose{X: math.NaN()}, LengthMM: math.Inf(1)}}
	broken.Roads[0].Pieces[4].Stay = nil
	for name, track := range map[string]layout.Track{"empty": {}, "broken": broken, "roads without pieces": {Roads: make([]layout.Road, 2)}} {
		parse(t, svg(t, track, Options{}))
		var b bytes.Buffer
		if err := PDF(&b, track, Options{}); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		Cells(track, 80, 24, CellOptions{})
		Cells(track, 0, -3, CellOptions{ASCII: true})
	}
}

func TestPDFIsTheSameEachTime(t *testing.T) {
	var a, b bytes.Buffer
	track := oval(3, 30)
	track.Plan.Name = "Überholspur 𝔛 ✓"
	if err := PDF(&a, track, Options{}); err != nil {
		t.Fatal(err)
	}
	if err := PDF(&b, track, Options{}); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("written twice, it differs")
	}
	if !bytes.HasPrefix(a.Bytes(), []byte("%PDF-1.")) || !bytes.HasSuffix(bytes.TrimSpace(a.Bytes()), []byte("%%EOF")) {
		t.Error("no PDF")
	}
	if bytes.Count(a.Bytes(), []byte("/Type /Page\n")) != 1 {
		t.Errorf("%d pages, want 1", bytes.Count(a.Bytes(), []byte("/Type /Page\n")))
	}
}

func TestCellsFillTheirRoomAndNoMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 120).Draw(t, "w"), rapid.IntRange(1, 50).Draw(t, "h")
		o := CellOptions{ASCII: rapid.Bool().Draw(t, "ascii")}
		g := Cells(oval(rapid.IntRange(1, 8).Draw(t, "lanes"), 30), w, h, o)
		if len(g.Rows) != h || len(g.Lane) != h || len(g.Call) != h {
			t.Fatalf("%d rows, want %d", len(g.Rows), h)
		}
		for y, row := range g.Rows {
			if utf8.RuneCountInString(row) != w || len(g.Lane[y]) != w || len(g.Call[y]) != w {
				t.Fatalf("row %d is %d wide, want %d", y, utf8.RuneCountInString(row), w)
			}
			for _, r := range row {
				if o.ASCII && (r < ' ' || r > '~') {
					t.Fatalf("%q is not ASCII", row)
				}
			}
		}
	})
}

func TestCellsShowAnOval(t *testing.T) {
	g := Cells(oval(2, 15), 40, 12, CellOptions{ASCII: true})
	// Lane 1 (#) runs inside, lane 2 (^) outside, anticlockwise from the timing line.
	want := []string{
		"          ^^^^^^^^^^^^^^^^^^^^          ",
		"      ^^^######################^^^      ",
		"    ^^^##                      ##^^^    ",
		"   ^^##                          ##^^   ",
		"   ^##                            ##^   ",
		"   ^#                              #^   ",
		"   ^#                              #^   ",
		"   ^##                            ##^   ",
		"   ^^##                          ##^^   ",
		"    ^^^##                      ##^^^    ",
		"      ^^^######|###############^^^      ",
		"          ^^^^^|>^^^^^^^^^^^^^          ",
	}
	if got := g.String(); got != strings.Join(want, "\n") {
		t.Errorf("got\n%s", got)
	}
	for y, row := range g.Rows {
		for x, r := range row {
			if lane := map[rune]int{'#': 1, '^': 2}[r]; g.Lane[y][x] != lane {
				t.Errorf("row %d column %d shows %q for lane %d", y, x, r, g.Lane[y][x])
			}
		}
	}
}

func BenchmarkSVG200Pieces(b *testing.B) {
	track := oval(4, 200)
	b.ReportAllocs()
	for b.Loop() {
		if err := SVG(io.Discard, track, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPDF200Pieces(b *testing.B) {
	track := oval(4, 200)
	b.ReportAllocs()
	for b.Loop() {
		if err := PDF(io.Discard, track, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCells200Pieces(b *testing.B) {
	track := oval(4, 200)
	b.ReportAllocs()
	for b.Loop() {
		Cells(track, 100, 30, CellOptions{})
	}
}
