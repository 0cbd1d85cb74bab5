package chart

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the expected pictures anew")

func f(v float64) *float64 { return &v }

// oval is a made-up speed over a lap of 8 m: two straights on which the car speeds up from 2 to 4 m/s and brakes.
func oval(lane int, more float64) Along {
	l := Along{Lane: lane, Label: "stays", Brakes: [][2]float64{{2500, 3000}, {6500, 7000}}}
	for i := range 81 {
		mm := float64(i) * 100
		v := 2 + more
		if at := math.Mod(mm, 4000); at < 2500 {
			v += at / 1250
		} else if at < 3000 {
			v += 2 - (at-2500)/250
		}
		l.AtMM, l.MS = append(l.AtMM, mm), append(l.MS, v)
	}
	return l
}

func evening() Through {
	t := Through{Slope: f(-0.12)}
	for h := 1; h <= 7; h++ {
		for l := 1; l <= 4; l++ {
			t.Stints = append(t.Stints, Paced{h, l, 0.4*math.Sin(float64(3*h+5*l)) - 0.12*float64(h-4)})
		}
	}
	return t
}

func lanes() []Interval {
	return []Interval{
		{Lane: 1, Value: f(-0.062), Low: f(-0.1), High: f(-0.024), Note: "a"}, {Lane: 2, Value: f(-0.01), Low: f(-0.05), High: f(0.03), Note: "ab"},
		{Lane: 3, Value: f(0.09), Low: f(0.04), High: f(0.14), Note: "b"}, {Lane: 4},
	}
}

// wellFormed reads a drawing and returns the texts and the elements in it.
func wellFormed(t testing.TB, svg []byte) (texts []string, elements map[string]int) {
	t.Helper()
	elements = map[string]int{}
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not XML: %v\n%s", err, svg)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			elements[tok.Name.Local]++
			for _, a := range tok.Attr {
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Fatalf("%s %s=%q", tok.Name.Local, a.Name.Local, a.Value)
				}
			}
		case xml.CharData:
			if s := strings.TrimSpace(string(tok)); s != "" {
				texts = append(texts, s)
			}
		}
	}
	return texts, elements
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; -update writes it", err)
	}
	if !bytes.Equal(want, got) {
		t.Errorf("%s differs; -update writes it anew, look at the change", name)
	}
}

func TestPicturesAreAsTheyWereLookedAt(t *testing.T) {
	for name, svg := range map[string][]byte{
		"along.svg": AlongSVG("Par laps on Millpond & Co <plain>", []Along{oval(1, 0), oval(2, 0.2), oval(6, 0.4)}),
		"lanes.svg": IntervalsSVG("What each lane costs", "seconds a lap", lanes()),
		"night.svg": ThroughSVG("Pace through the evening", evening()),
	} {
		golden(t, name, svg)
		texts, _ := wellFormed(t, svg)
		if len(texts) < 5 {
			t.Errorf("%s: only %q is written on it", name, texts)
		}
	}
	var text []string
	text = append(text, AlongText(oval(1, 0), 60, 6, false)...)
	text = append(text, AlongText(oval(1, 0), 60, 1, false)...)
	text = append(text, AlongText(oval(1, 0), 60, 3, true)...)
	text = append(text, IntervalsText(lanes(), 70, false)...)
	text = append(text, IntervalsText(lanes(), 70, true)...)
	text = append(text, ThroughText(evening(), 70, 9)...)
	golden(t, "text.txt", []byte(strings.Join(text, "\n")+"\n"))
}

func TestEveryLaneIsNumberedAndShaped(t *testing.T) {
	var bars []Interval
	for l := 1; l <= 8; l++ {
		bars = append(bars, Interval{Lane: l, Value: f(float64(l) / 100)})
	}
	texts, elements := wellFormed(t, IntervalsSVG("t", "s", bars))
	all := strings.Join(texts, "|")
	for l := 1; l <= 8; l++ {
		if !strings.Contains(all, "lane "+strconv.Itoa(l)) {
			t.Errorf("lane %d has no number", l)
		}
	}
	if elements["circle"] != 2 { // lanes 3 and 8
		t.Errorf("%d round marks, want 2", elements["circle"])
	}
	shapes := map[string]bool{}
	for _, row := range IntervalsText(bars, 60, false)[:8] {
		shapes[string([]rune(row)[5])] = true
	}
	if len(shapes) != 8 {
		t.Errorf("%d shapes for 8 lanes", len(shapes))
	}
}

func TestAnIntervalStandsWhereItsFigureIs(t *testing.T) {
	rows := IntervalsText([]Interval{{Lane: 1, Value: f(-1), Low: f(-2), High: f(0)}, {Lane: 2, Value: f(1), Low: f(0), High: f(2)}}, 49, true)
	// 41 cells from -2 to 2: ten cells a unit, from column 8 on.
	want := []string{
		"   1 #  |---------#---------|",
		"   2 ^                      |---------^---------|",
		"       -2        -1         0         1         2",
	}
	for i := range want {
		if rows[i] != want[i] {
			t.Errorf("row %d\ngot  %q\nwant %q", i, rows[i], want[i])
		}
	}
}

func TestBarsAreProportional(t *testing.T) {
	l := Along{Lane: 1, AtMM: []float64{0, 1000}, MS: []float64{0, 4}}
	if got := AlongText(l, 8, 1, false)[0]; got != " ▂▃▄▅▆▇█" && got != "▁▂▃▄▅▆▇█" {
		t.Errorf("a straight rise is drawn %q", got)
	}
	if got := AlongText(l, 4, 2, true); got[0] != "  .|" && got[0] != "  :#" || got[1][3] != '#' {
		t.Errorf("%q", got)
	}
}

func TestBrakingThroughTheLine(t *testing.T) {
	l := Along{Lane: 1, AtMM: []float64{0, 10000}, MS: []float64{3, 3}, Brakes: [][2]float64{{9500, 600}}}
	text := AlongText(l, 20, 2, true)
	if text[2] != "bb                 b" {
		t.Errorf("%q", text[2])
	}
	if _, e := wellFormed(t, AlongSVG("t", []Along{l})); e["rect"] != 3 { // paper and two bars
		t.Errorf("%d rectangles", e["rect"])
	}
}

func TestPaceThroughTheEveningAsText(t *testing.T) {
	rows := ThroughText(Through{Stints: []Paced{{1, 1, 1}, {2, 2, -1}, {3, 3, 0}, {3, 4, 0}}}, 26, 5)
	if len(rows) != 6 || !strings.Contains(rows[0], "1") || !strings.Contains(rows[4], "2") || !strings.Contains(rows[2], "+") || !strings.HasSuffix(rows[5], "heat 3") {
		t.Errorf("%q", rows)
	}
	if !(strings.LastIndexByte(rows[0], '1') < strings.LastIndexByte(rows[4], '2')) {
		t.Errorf("heat 2 does not stand right of heat 1: %q", rows)
	}
}

func TestNothingToDraw(t *testing.T) {
	nan := math.NaN()
	for name, svg := range map[string][]byte{
		"along": AlongSVG("", nil), "along nan": AlongSVG("t", []Along{{AtMM: []float64{nan, 1}, MS: []float64{1, nan}}}),
		"lanes": IntervalsSVG("", "", nil), "lanes nil": IntervalsSVG("t", "s", []Interval{{Lane: 1}, {Lane: 2, Value: f(nan)}}),
		"night": ThroughSVG("t", Through{}), "night nan": ThroughSVG("t", Through{Stints: []Paced{{1, 1, nan}}, Slope: f(nan)}),
	} {
		texts, _ := wellFormed(t, svg)
		if all := strings.Join(texts, " "); !strings.Contains(all, "noth") && !strings.Contains(all, "no stint") {
			t.Errorf("%s says %q, not that there is nothing", name, all)
		}
	}
	if AlongText(Along{}, 50, 5, false) != nil || IntervalsText(nil, 50, false) != nil || ThroughText(Through{}, 50, 9) != nil {
		t.Error("text of nothing")
	}
}

func anyFloat(t *rapid.T, name string) float64 {
	return rapid.OneOf(rapid.Float64Range(-10, 10), rapid.Float64(), rapid.SampledFrom([]float64{0, math.NaN(), math.Inf(1), math.Inf(-1), 1e300})).Draw(t, name)
}

// Any figures and any words give a drawing that is XML, the same one each time, and text that stays within its width.
func TestAnyFiguresCanBeDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		title := rapid.String().Draw(t, "title")
		width, height := rapid.IntRange(-3, 120).Draw(t, "width"), rapid.IntRange(-1, 20).Draw(t, "height")
		ascii := rapid.Bool().Draw(t, "ascii")
		var along []Along
		var bars []Interval
		var through Through
		for range rapid.IntRange(0, 4).Draw(t, "n") {
			lane := rapid.IntRange(-1, 12).Draw(t, "lane")
			l := Along{Lane: lane, Label: title, Brakes: [][2]float64{{anyFloat(t, "b0"), anyFloat(t, "b1")}}}
			for range rapid.IntRange(0, 6).Draw(t, "points") {
				l.AtMM, l.MS = append(l.AtMM, anyFloat(t, "at")), append(l.MS, anyFloat(t, "v"))
			}
			along = append(along, l)
			b := Interval{Lane: lane, Note: title}
			if rapid.Bool().Draw(t, "known") {
				b.Value = f(anyFloat(t, "value"))
			}
			if rapid.Bool().Draw(t, "sure") {
				b.Low, b.High = f(anyFloat(t, "low")), f(anyFloat(t, "high"))
			}
			bars = append(bars, b)
			through.Stints = append(through.Stints, Paced{rapid.IntRange(-1, 300).Draw(t, "heat"), lane, anyFloat(t, "percent")})
			through.Slope = f(anyFloat(t, "slope"))
		}
		for _, make := range []func() []byte{
			func() []byte { return AlongSVG(title, along) }, func() []byte { return IntervalsSVG(title, title, bars) }, func() []byte { return ThroughSVG(title, through) },
		} {
			svg := make()
			if !bytes.Equal(svg, make()) {
				t.Fatal("the same data, another drawing")
			}
			d := xml.NewDecoder(bytes.NewReader(svg))
			for {
				if _, err := d.Token(); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					t.Fatalf("%v\n%s", err, svg)
				}
			}
			if bytes.Contains(svg, []byte("NaN")) && !strings.Contains(title, "NaN") {
				t.Fatalf("NaN in\n%s", svg)
			}
		}
		var rows []string
		for _, l := range along {
			rows = append(rows, AlongText(l, width, height, ascii)...)
		}
		rows = append(rows, IntervalsText(bars, width, ascii)...)
		rows = append(rows, ThroughText(through, width, height)...)
		for _, r := range rows {
			if utf8.RuneCountInString(r) > width {
				t.Fatalf("%q is wider than %d", r, width)
			}
		}
	})
}

func BenchmarkAlongSVG(b *testing.B) {
	var lines []Along
	for lane := 1; lane <= 8; lane++ {
		l := Along{Lane: lane}
		for i := range 4000 {
			l.AtMM, l.MS = append(l.AtMM, float64(i)*10), append(l.MS, 3+math.Sin(float64(i)/100))
		}
		lines = append(lines, l)
	}
	b.ReportAllocs()
	for b.Loop() {
		AlongSVG("t", lines)
	}
}

func TestInlineIsTheDrawingAlone(t *testing.T) {
	svg := ThroughSVG("a ?>\n b", evening())
	got := Inline(svg)
	if !bytes.HasPrefix(got, []byte("<svg ")) || len(got) >= len(svg) {
		t.Fatalf("%.60s", got)
	}
	wellFormed(t, got)
	if !bytes.Equal(Inline(got), got) {
		t.Error("twice is not once")
	}
	for _, bad := range []string{"<script", "href=", "<style", "url("} {
		if bytes.Contains(got, []byte(bad)) {
			t.Errorf("%s in a drawing", bad)
		}
	}
}
