package paper

import (
	"bytes"
	"encoding/csv"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"lanewright/race"
)

var update = flag.Bool("update", false, "rewrite the expected files in testdata")

// night is an invented evening with everything that sheets have trouble with.
func night() *race.Snapshot {
	return &race.Snapshot{
		Taken: time.Date(2026, 3, 14, 21, 30, 0, 0, time.UTC), Title: "Spring meeting", Club: "Heron Lane Club", Layout: "Saltmarsh Four", Heat: 2,
		Lanes:   []race.LaneState{{Lane: 1}, {Lane: 2}},
		Entries: []race.EntryRow{{Driver: 1, Name: "Ada Quill"}, {Driver: 2, Name: "=Zoë Łuk"}, {Driver: 3, Name: "山田 太郎"}},
		Ahead: []race.HeatRow{
			{Heat: 1, Drivers: []int{1, 2}, Names: []string{"Ada Quill", "=Zoë Łuk"}, Marshals: []string{"山田 太郎"}, State: "run"},
			{Heat: 2, Drivers: []int{2, 3}, Names: []string{"=Zoë Łuk", "山田 太郎"}, Marshals: []string{"Ada Quill"}, State: "run"},
			{Heat: 3, Drivers: []int{3, 0}, Names: []string{"山田 太郎", ""}, State: "ahead"},
		},
		Standings: []race.ResultRow{
			{Place: 1, Shared: true, Driver: 2, Name: "=Zoë Łuk", Class: "GT", Laps: 61, Part: 4, PartOf: 100, Best: 5301999 * time.Microsecond, Heats: 2, ByLane: []int{31, 30}, Gap: "leader", Reason: "equal to the end of the tie chain"},
			{Place: 1, Shared: true, Driver: 1, Name: "Ada Quill", Class: "Truck", Laps: 61, Part: 4, PartOf: 100, Best: 65301 * time.Millisecond, Heats: 2, ByLane: []int{30, -1}},
			{Place: 3, Driver: 3, Name: "山田 太郎", Laps: 12, Part: -1, Heats: 1},
		},
		Rulings: []race.RulingRow{{Heat: 1, Lane: 2, Driver: "=Zoë Łuk", Text: "lap given", Why: "sensor missed", By: "Ada"}, {Heat: 1, Text: "lap taken", Undone: true}},
		Draw:    race.DrawInfo{Proof: "every pair meets once"},
	}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs; got:\n%s", path, got)
	}
}

func TestSheetsReadAsExpected(t *testing.T) {
	s := night()
	for _, d := range []Document{Heats(s), Marshals(s), Results(s)} {
		var b bytes.Buffer
		if err := Plain(&b, d); err != nil {
			t.Fatal(err)
		}
		golden(t, d.Name+".golden", b.Bytes())
		b.Reset()
		if err := CSV(&b, d.Tables[0]); err != nil {
			t.Fatal(err)
		}
		golden(t, d.Name+".csv.golden", b.Bytes())
	}
}

func TestCSVCanBeReadBackAndHoldsNoFormula(t *testing.T) {
	var b bytes.Buffer
	if err := CSV(&b, Results(night()).Tables[0]); err != nil {
		t.Fatal(err)
	}
	if !bytes.HasPrefix(b.Bytes(), []byte("\xef\xbb\xbf")) || !bytes.Contains(b.Bytes(), []byte("\r\n")) {
		t.Error("want a byte order mark and lines ending in CR LF")
	}
	rows, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(b.Bytes(), []byte("\xef\xbb\xbf")))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		for _, f := range row {
			if strings.Trim(f, "-.") != "" && strings.ContainsRune("=+-@", rune(f[0])) {
				t.Errorf("field %q would be run by a spreadsheet", f)
			}
		}
	}
	// Cut, not rounded: 5.301999 s is shown as 5.301 and kept as 5301999 microseconds.
	if !strings.Contains(b.String(), "5.301,5301999") {
		t.Errorf("the best lap is not there both as text and as microseconds:\n%s", b.String())
	}
}

func TestHTMLIsWellFormedAndSelfContained(t *testing.T) {
	s := night()
	s.Standings[1].Name = "<img src=x onerror=alert(1)>"
	var b bytes.Buffer
	if err := HTML(&b, "Spring meeting", Heats(s), Marshals(s), Results(s)); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "<img") {
		t.Error("a name became markup")
	}
	if strings.Contains(b.String(), "http://") || strings.Contains(b.String(), "https://") || strings.Contains(b.String(), "src=\"") {
		t.Error("the file needs something from outside")
	}
	root, err := html.Parse(&b)
	if err != nil {
		t.Fatal(err)
	}
	var tables int
	var walk func(*html.Node)
	walk = func(n *html.Node) {
		if n.Data == "table" {
			tables++
		}
		for c := n.FirstChild; c != nil; c = c.NextSibling {
			walk(c)
		}
	}
	walk(root)
	if tables != 5 { // heats, marshals, results and its two classes
		t.Errorf("%d tables, want 5", tables)
	}
}

func TestPDFIsTheSameEveryTime(t *testing.T) {
	s := night()
	for range 200 { // more rows than a page holds
		s.Ahead = append(s.Ahead, race.HeatRow{Heat: len(s.Ahead) + 1, Names: []string{"Ada Quill", strings.Repeat("Wide ", 30)}, State: "ahead"})
	}
	var first, second bytes.Buffer
	if err := PDF(&first, Heats(s), Results(s)); err != nil {
		t.Fatal(err)
	}
	if err := PDF(&second, Heats(s), Results(s)); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Error("two runs made different bytes")
	}
	if !bytes.HasPrefix(first.Bytes(), []byte("%PDF-")) || bytes.Count(first.Bytes(), []byte("/Type /Page\n")) < 5 {
		t.Errorf("%d bytes, %d pages: want a PDF of several pages", first.Len(), bytes.Count(first.Bytes(), []byte("/Type /Page\n")))
	}
	if path := os.Getenv("PAPER_PDF"); path != "" {
		if err := os.WriteFile(path, first.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func TestEmptyNightStillMakesSheets(t *testing.T) {
	var b bytes.Buffer
	s := &race.Snapshot{}
	for _, d := range []Document{Heats(s), Marshals(s), Results(s), LastHeat(s)} {
		if err := Plain(&b, d); err != nil {
			t.Fatal(err)
		}
	}
	if err := PDF(&b, Heats(s), Results(s)); err != nil {
		t.Fatal(err)
	}
}
