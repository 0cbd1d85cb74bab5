package sheet

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lanewright/race"
)

func examples(t testing.TB) map[string][]byte {
	paths, err := filepath.Glob("../../testdata/nights/*.toml")
	if err != nil || len(paths) < 4 {
		t.Fatalf("examples: %v %v", paths, err)
	}
	out := map[string][]byte{}
	for _, p := range paths {
		data, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		out[filepath.Base(p)] = data
	}
	return out
}

func TestExamplesCanBeRaced(t *testing.T) {
	for name, data := range examples(t) {
		s, err := Read(name, data)
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		f := Frozen{Layout: race.LayoutInfo{Name: "x", Lanes: make([]race.LaneInfo, 6)}, ShortestMM: 8000, LongestMM: 9000}
		for i := range f.Layout.Lanes {
			f.Layout.Lanes[i].LengthMM = 9000
		}
		events, err := s.Begin("n1", f, 0)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if len(events) < 1+len(s.Drivers) {
			t.Errorf("%s: %d events", name, len(events))
		}
		if _, err := os.Stat(filepath.Join("../../testdata/nights", s.Layout)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestSheetSaysWhatItSays(t *testing.T) {
	s, err := Read("club-evening.toml", examples(t)["club-evening.toml"])
	if err != nil {
		t.Fatal(err)
	}
	c := s.Card
	if s.Club != "Mill Lane Slot Racers" || s.Scale != 32 || len(s.Drivers) != 10 || c.Length != 3*time.Minute || c.LapMin != 2500*time.Millisecond ||
		c.Coast != 500*time.Millisecond || !c.Power || c.Drops != 2 || len(c.Points) != 15 || s.Counters[0].Device != "/dev/ttyUSB0" || s.Lanes[3] != "blue" {
		t.Errorf("read %+v", s)
	}
	if s.Drivers[7].Shares != "Ivy Ironside" || s.Drivers[8].Shares != "Hal Hewer" || s.Drivers[5].Comes != 3 || s.Drivers[6].Leaves != 8 {
		t.Errorf("read %+v", s.Drivers)
	}
}

func TestWrongSheetsGetOneSentenceWithTheLine(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"no layout", "scale = 32\n", "x.toml: no layout"},
		{"unknown key", "layout = \"l\"\nclub = \"c\"\nscail = 32\n", "x.toml:3: unknown key \"scail\"; did you mean \"scale\"?"},
		{"unknown key of the card", "layout = \"l\"\n[card]\nlengt = \"3m\"\n", "x.toml:3: unknown key \"card.lengt\"; did you mean \"card.length\"?"},
		{"driver twice", "layout = \"l\"\n[[driver]]\nname = \"Ann\"\n[[driver]]\nname = \"Ben\"\n[[driver]]\nname = \"Ann\"\n", "x.toml:7: driver Ann is entered twice, first in line 3"},
		{"driver without a name", "layout = \"l\"\n[[driver]]\nshort = \"A\"\n", "x.toml:2: driver 1 has no name"},
		{"heat kind", "layout = \"l\"\n[card]\n\nkind = \"endurance\"\n", "x.toml:4: rule card: kind is endurance"},
		{"time without unit", "layout = \"l\"\n[card]\nlength = 180\n", "x.toml:3: card.length: integer stands here, expected text in quotes"},
		{"time that is none", "layout = \"l\"\n[card]\nlength = \"three minutes\"\n", "x.toml:3: length: \"three minutes\" is not a time"},
		{"tie step", "layout = \"l\"\n[card]\nties = [\"coin\"]\n", "x.toml:3: rule card: ties is coin"},
		{"not TOML", "layout = \n", "x.toml:1: "},
		{"shares with a stranger", "layout = \"l\"\n[[driver]]\nname = \"Ann\"\nshares = \"Zoe\"\n", "x.toml:4: Ann shares a car with Zoe, who is not on the sheet"},
		{"car number on an analogue night", "layout = \"l\"\n[[driver]]\nname = \"Ann\"\ncar_number = 2\n", "x.toml:4: Ann has a car number, but the night is not digital"},
		{"rotation", "layout = \"l\"\n[rotation]\nkind = \"random\"\n", "x.toml:3: rotation \"random\""},
		{"short rotation without heats", "layout = \"l\"\n[rotation]\nkind = \"short\"\n", "x.toml:3: a short rotation needs heats"},
		{"scale", "layout = \"l\"\nscale = -1\n", "x.toml:2: scale -1"},
		{"not UTF-8", "layout = \"l\"\nclub = \"\xff\"\n", "x.toml:2: not UTF-8"},
		{"parity", "layout = \"l\"\n[counter]\nparity = \"mark\"\n", "x.toml:3: parity"},
		{"control character in a name", "layout = \"l\"\n[[driver]]\nname = \"A\\u0007\"\n", "x.toml:3: the name of driver 1 has a control character"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read("x.toml", []byte(c.text))
			var se *Error
			if !errors.As(err, &se) || !strings.HasPrefix(err.Error(), c.want) {
				t.Errorf("got %v, want %s...", err, c.want)
			}
		})
	}
}

func FuzzRead(f *testing.F) {
	for _, data := range examples(f) {
		f.Add(data)
	}
	f.Add([]byte("layout = \"l\"\n[[driver]]\nname = \"A\"\nshares = \"A\"\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Read("x.toml", data)
		if err != nil {
			var se *Error
			if !errors.As(err, &se) {
				t.Fatalf("error of type %T: %v", err, err)
			}
			return
		}
		fr := Frozen{Layout: race.LayoutInfo{Lanes: []race.LaneInfo{{LengthMM: 9000}, {LengthMM: 9000}, {LengthMM: 9000}, {LengthMM: 9000}}}, ShortestMM: 1, LongestMM: 2}
		if _, err := s.Begin("n", fr, 0); err != nil {
			var se *Error
			if !errors.As(err, &se) {
				t.Fatalf("error of type %T: %v", err, err)
			}
		}
	})
}
