package layout

import (
	"errors"
	"strings"
	"testing"
)

// What is wrong with a file is said with its line, and all of it at once.
func TestBadFiles(t *testing.T) {
	const frame = "road_width = 180\nlane_spacing = 84\n"
	tests := []struct {
		name, kind, text string
		code             string
		line             int
		says             string
	}{
		{"no TOML", "plan", "kit = module", CodeNotTOML, 1, "TOML"},
		{"a binary file", "kit", "\x7fELF\x00\x01", CodeNotTOML, 1, "TOML"},
		{"an empty plan", "plan", "", CodeMissing, 1, "kit"},
		{"no course", "plan", "kit = \"module 90\"", CodeMissing, 1, "course"},
		{"a course of numbers", "plan", "kit = \"x\"\ncourse = [\n\"straight\",\n3]", CodeWrongType, 4, "quotes"},
		{"a course that is a table", "plan", "kit = \"x\"\n[course]\n", CodeWrongType, 2, "list of calls"},
		{"a key misspelt", "plan", "kit = \"x\"\ncourse = []\nraods = 2", CodeUnknownKey, 3, "did you mean roads?"},
		{"five roads", "plan", "kit = \"x\"\ncourse = []\nroads = 5", CodeOutOfRange, 3, "from 1 to 4"},
		{"half a road", "plan", "kit = \"x\"\ncourse = []\nroads = 1.5", CodeOutOfRange, 3, "whole number"},
		{"inches", "plan", "kit = \"x\"\ncourse = []\n[start]\nx = \"30 in\"", CodeWrongUnit, 4, "mm, not in"},
		{"not a number", "plan", "kit = \"x\"\ncourse = []\n[start]\nx = nan", CodeOutOfRange, 4, "nan"},
		{"a table without size", "plan", "kit = \"x\"\ncourse = []\n[[table]]\nat = [0, 0]", CodeMissing, 3, "size"},
		{"a table in three dimensions", "plan", "kit = \"x\"\ncourse = []\n[[table]]\nsize = [1, 2, 3]", CodeWrongType, 4, "3 numbers"},
		{"a flat table", "plan", "kit = \"x\"\ncourse = []\n[[table]]\nsize = [0, 100]", CodeOutOfRange, 4, "0 mm"},
		{"tables inline", "plan", "kit = \"x\"\ncourse = []\ntable = [{size = [100, \"2 ft\"]}]", CodeWrongUnit, 3, "ft"},
		{"no width", "kit", "lane_spacing = 84", CodeMissing, 1, "road_width"},
		{"centimetres", "kit", "road_width = \"18 cm\"\nlane_spacing = 84", CodeWrongUnit, 1, "mm, not cm"},
		{"metres", "kit", "road_width = 0.18\nlane_spacing = 84", CodeOutOfRange, 1, "0.18 mm"},
		{"lanes beyond the road", "kit", "road_width = 80\nlane_spacing = 84", CodeKitShape, 1, "do not fit"},
		{"a ring without radius", "kit", frame + "[[curve]]\nring = 1\nangle = 60", CodeMissing, 3, "radius"},
		{"a radius to the inner lane", "kit", frame + "[[curve]]\nring = 1\nangle = 60\nradius = 80", CodeKitShape, 3, "half the road width"},
		{"a negative length", "kit", frame + "[[straight]]\nname = \"full\"\nlength = -360", CodeOutOfRange, 5, "-360 mm"},
		{"a straight of no length", "kit", frame + "[[straight]]\nname = \"full\"\nlength = 0", CodeOutOfRange, 5, "0 mm"},
		{"a straight called ring", "kit", frame + "[[straight]]\nname = \"ring\"\nlength = 360", CodeWrongType, 4, "ring"},
		{"a straight twice", "kit", frame + "[[straight]]\nname = \"a\"\nlength = 1\n[[straight]]\nname = \"a\"\nlength = 2", CodeTwice, 6, "line 3"},
		{"an unknown shape", "kit", frame + "shape = \"wobble\"", CodeWrongType, 3, "two arcs"},
		{"a crossing too short", "kit", frame + "[[crossing]]\nlength = 50", CodeKitShape, 3, "does not fit"},
		{"a changer to nowhere", "kit", frame + "[[changer]]\nlength = 360", CodeWrongType, 3, "side"},
		{"a line off its piece", "kit", frame + "[[timing]]\nlength = 180\nat = 200", CodeOutOfRange, 5, "200 mm"},
		{"a line too many", "kit", frame + "[[timing]]\nlength = 180\nat = [1, 2, 3]", CodeTimingPlace, 5, "3 places for 2 lanes"},
		{"a trap the wrong way round", "kit", frame + "[[trap]]\nlength = 180\nfirst = 100\nsecond = 50", CodeTimingPlace, 3, "after the first"},
		{"pieces of a routed kit", "kit", frame + "routed = true\n[[straight]]\nname = \"full\"\nlength = 3", CodeKitShape, 4, "no pieces"},
		{"measured lanes too few", "kit", frame + "[[straight]]\nname = \"full\"\nlength = 3\nmeasured = 4", CodeWrongType, 6, "1 lengths for 2 lanes"},
		{"a stock of halves", "kit", frame + "[[straight]]\nname = \"full\"\nlength = 3\nstock = 1.5", CodeOutOfRange, 6, "whole number"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var err error
			if tt.kind == "kit" {
				_, err = ReadKit("file.toml", []byte(tt.text))
			} else {
				_, err = ReadPlan("file.toml", []byte(tt.text))
			}
			var bad *BadFile
			if !errors.As(err, &bad) {
				t.Fatalf("error %v", err)
			}
			f := find(bad.Findings, tt.code)
			if f == nil || f.Line != tt.line || f.File != "file.toml" || f.Level != Error || !strings.Contains(f.Text+"; "+f.Way, tt.says) || !BadInput(f.Code) {
				t.Errorf("findings %v, want %s on line %d saying %q", bad.Findings, tt.code, tt.line, tt.says)
			}
			if strings.Count(err.Error(), "\n") != len(bad.Findings)-1 {
				t.Errorf("not one line each: %v", err)
			}
		})
	}
	_, err := ReadPlan("large.toml", make([]byte, fileMost+1))
	if err == nil || !strings.Contains(err.Error(), "at most") {
		t.Errorf("error %v", err)
	}
}

func TestKitOddities(t *testing.T) {
	k, err := ReadKit("odd.toml", []byte(`road_width = 180
lane_spacing = 84
[[curve]]
ring = 1
radius = 270
angle = 60
[[curve]]
ring = 1
radius = 275
angle = 30
[[curve]]
ring = 2
radius = 470
angle = 30
`))
	if err != nil {
		t.Fatal(err)
	}
	got := CheckKit(k)
	if len(got) != 2 || got[0].Line != 7 || got[1].Line != 11 || got[1].Code != CodeRingStep || !strings.Contains(got[1].Text, "200.0 mm outside") {
		t.Errorf("findings %v", got)
	}
	for _, name := range BuiltinKits() {
		k, ok := BuiltinKit(strings.ToUpper(name))
		if odd := CheckKit(k); !ok || len(odd) > 0 {
			t.Errorf("%s: %v %v", name, ok, odd)
		}
	}
	f := UnknownKit(Plan{File: "p.toml", Kit: "modul 90"})
	if !strings.Contains(f.String(), `did you mean "module 90"?`) || f.Code != CodeUnknownKit {
		t.Errorf("finding %v", f)
	}
	if _, ok := BuiltinKit("../../etc/passwd"); ok {
		t.Error("a kit from outside")
	}
}

// Stock lines must name pieces of the kit.
func TestStock(t *testing.T) {
	_, findings := resolveText(t, "stock.toml", `kit = "module 90"
course = ["timing", "straight", "left 180", "straight", "half", "left 180"]
[stock]
"straight full" = 3
"curve 60 ring 1" = 6
"curve 75 ring 1" = 2
`)
	if f := find(findings, CodeUnknownStock); f == nil || f.Line != 6 || len(findings) != 1 {
		t.Errorf("findings %v", findings)
	}
}

// Every code is explained once, and every code explained is stable: a letter more here means a change that breaks programs.
func TestMeanings(t *testing.T) {
	seen := map[string]bool{}
	for _, m := range Meanings {
		if seen[m.Code] || m.Text == "" || strings.Trim(m.Code, "abcdefghijklmnopqrstuvwxyz-") != "" {
			t.Errorf("code %q", m.Code)
		}
		seen[m.Code] = true
	}
	if BadInput("no-such-code") || BadInput(CodeOpen) || !BadInput(CodeRingMissing) {
		t.Error("bad input and bad layouts are mixed up")
	}
}

func TestLevels(t *testing.T) {
	for _, l := range []Level{Note, Warning, Error} {
		text, _ := l.MarshalText()
		var back Level
		if err := back.UnmarshalText(text); err != nil || back != l {
			t.Errorf("%v comes back as %v, %v", l, back, err)
		}
	}
	var l Level
	if l.UnmarshalText([]byte("fatal")) == nil {
		t.Error("fatal is no level")
	}
}
