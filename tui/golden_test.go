package tui

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"

	"lanewright/race"
)

var update = flag.Bool("update", false, "write the expected screens and pictures anew")

// golden compares a text with the one that was looked at and kept.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", filepath.FromSlash(name))
	if *update {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; -update writes it", err)
	}
	if string(want) != got {
		t.Errorf("%s differs (-update writes it anew; look at the change):\n%s", name, firstDifference(string(want), got))
	}
}

func firstDifference(want, got string) string {
	w, g := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(w), len(g)) {
		a, b := "", ""
		if i < len(w) {
			a = w[i]
		}
		if i < len(g) {
			b = g[i]
		}
		if a != b {
			return "line " + itoa(i+1) + "\nwant " + a + "\ngot  " + b
		}
	}
	return ""
}

// views are the screens that are kept, by name.
var views = []struct {
	name  string
	lanes int
	phase race.Phase
	keys  []string
}{
	{"desk-green-4", 4, race.Green, nil},
	{"desk-green-8", 8, race.Green, nil},
	{"desk-call", 4, race.TrackCall, nil},
	{"desk-first", 4, race.SignOn, nil},
	{"desk-staged", 4, race.Staged, nil},
	{"desk-ready", 4, race.Idle, nil},
	{"desk-finish", 4, race.Finish, nil},
	{"desk-over", 4, race.Over, nil},
	{"desk-lane", 4, race.Green, []string{"3"}},
	{"desk-penalty", 4, race.Green, []string{"3", "p"}},
	{"desk-question", 4, race.Green, []string{"j"}},
	{"desk-help", 4, race.Green, []string{"?"}},
	{"desk-search", 4, race.Green, []string{":", "v", "o"}},
	{"board-green-4", 4, race.Green, []string{"g", "b"}},
	{"board-green-8", 8, race.Green, []string{"g", "b"}},
	{"board-call", 6, race.TrackCall, []string{"g", "b"}},
	{"board-lamps", 4, race.Lamps, []string{"g", "b"}},
	{"board-last", 4, race.Green, []string{"g", "b", "v"}},
	{"board-gap", 3, race.Green, []string{"g", "b", "v", "v"}},
	{"board-ready", 4, race.Idle, []string{"g", "b"}},
	{"signon", 4, race.SignOn, []string{"g", "s", "b"}},
	{"signon-list", 4, race.SignOn, []string{"g", "s", "esc", "down"}},
	{"rotation", 4, race.Idle, []string{"r"}},
	{"rulings", 4, race.Green, []string{"g", "u"}},
	{"tape", 4, race.Green, []string{"g", "t"}},
	{"plan", 4, race.Idle, []string{"g", "p"}},
	{"results-heat", 4, race.Idle, []string{"g", "h"}},
	{"results-night", 4, race.Idle, []string{"g", "h", "tab"}},
	{"results-laps", 4, race.Idle, []string{"g", "h", "right"}},
	{"digital-desk", 6, race.Green, nil},
	{"digital-board", 6, race.Green, []string{"g", "b"}},
	{"results-season", 4, race.Idle, []string{"g", "h", "tab", "tab", "tab", "tab", "tab"}},
	{"rotation-driver", 4, race.Idle, []string{"r", "down", "right", "right"}},
	{"setup", 4, race.Practice, []string{"g", "n"}},
}

// Every screen as a person sees it, without colour, at four sizes.
func TestScreensAreAsTheyWere(t *testing.T) {
	for _, size := range [][2]int{{80, 24}, {160, 45}, {40, 12}, {200, 60}} {
		for _, v := range views {
			if size[0] == 200 && v.name != "desk-green-4" && v.name != "board-green-4" && v.name != "board-green-8" {
				continue
			}
			s := clubNight(v.lanes, v.phase)
			if strings.HasPrefix(v.name, "digital") {
				s = digitalNight(v.lanes, v.phase)
			}
			if v.name == "desk-first" {
				s.Entries, s.Ahead, s.Standings, s.Next, s.Undo, s.JustNow = nil, nil, nil, "", "", s.JustNow[:1]
			}
			g := newRig(s, func(o *Options) { o.Settings.NoColor = true }).size(size[0], size[1])
			g.press(v.keys...)
			g.clock = evening
			frame := g.View().Content
			if len(g.broken) > 0 {
				t.Errorf("%s failed: %v", v.name, g.broken)
			}
			if strings.Contains(frame, "\x1b[3") || strings.Contains(frame, "\x1b[4") && strings.Contains(frame, "8;") {
				t.Errorf("%s has colours in spite of NO_COLOR", v.name)
			}
			golden(t, v.name+"-"+itoa(size[0])+"x"+itoa(size[1])+".golden", ansi.Strip(frame)+"\n")
		}
	}
}
