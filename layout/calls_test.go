package layout

import (
	"strings"
	"testing"
)

// laidDown tells what a call lays: the pieces of each road, runs of like ones together, roads apart by a bar.
func laidDown(track Track, from int) string {
	roads := make([]string, len(track.Roads))
	for i, r := range track.Roads {
		var names []string
		for _, pl := range r.Pieces {
			if pl.Call > from {
				names = append(names, pl.Piece)
			}
		}
		roads[i] = strings.Join(names, ", ")
	}
	return strings.Join(roads, " | ")
}

func TestCallsLayPieces(t *testing.T) {
	sectional, _ := BuiltinKit("module 90")
	routed, _ := BuiltinKit("routed 100")
	tests := []struct {
		kit   Kit
		roads int
		call  string
		want  string
	}{
		{sectional, 1, "straight 3", "straight full, straight full, straight full"},
		{sectional, 1, "Straight", "straight full"},
		{sectional, 1, "half", "straight half"},
		{sectional, 1, "quarter 2", "straight quarter, straight quarter"},
		{sectional, 1, "straight half 2", "straight half, straight half"},
		{sectional, 1, "straight 180 mm", "straight half"},
		{sectional, 1, "left 120", "left 60 ring 1, left 60 ring 1"},
		{sectional, 1, "right 105 ring 1", "right 60 ring 1, right 30 ring 1, right 15 ring 1"},
		{sectional, 1, "left 60 ring 2", "left 30 ring 2, left 30 ring 2"},
		{sectional, 1, "left 1x60 ring 2", "left 60 ring 2"},
		{sectional, 1, "left 30+60+2x15 ring 1", "left 30 ring 1, left 60 ring 1, left 15 ring 1, left 15 ring 1"},
		{sectional, 1, "left 90 radius 630", "left 30 ring 3, left 30 ring 3, left 30 ring 3"},
		{sectional, 1, "left 45° ring 4", "left 15 ring 4, left 15 ring 4, left 15 ring 4"},
		{sectional, 1, "hairpin right", "hairpin right"},
		{sectional, 1, "chicane", "narrow-in, narrow-out"},
		{sectional, 1, "chicane 2", "narrow-in, straight full, straight full, narrow-out"},
		{sectional, 2, "chicane quarter 2 road 2", "straight half, straight half, straight half | narrow-in, straight quarter, straight quarter, narrow-out"},
		{routed, 1, "chicane 900 to 60", "narrow-in 300, straight 300, narrow-out 300"},
		{sectional, 1, "narrow in, quarter, narrow out", "narrow-in, straight quarter, narrow-out"},
		{sectional, 1, "shift right, shift left", "shift right, shift left"},
		{sectional, 1, "ramp up 2, ramp down", "ramp up, ramp up, ramp down"},
		{sectional, 1, "sensor hill, trap main", "sensor, trap"},
		{sectional, 1, "changer double", "changer both"},
		{sectional, 1, "changer right in left 60 ring 2", "changer right in left 60 ring 2"},
		{sectional, 1, "right 60 ring 2 with changer left", "changer left in right 60 ring 2"},
		// Common practice, no source: on four lanes 60 degrees is one piece inside and two of 30 outside.
		{sectional, 2, "left 60 ring 1", "left 60 ring 1 | left 30 ring 2, left 30 ring 2"},
		{sectional, 2, "right 60 ring 1", "right 30 ring 2, right 30 ring 2 | right 60 ring 1"},
		{sectional, 3, "left 30 ring 2", "left 30 ring 2 | left 30 ring 3 | left 15 ring 4, left 15 ring 4"},
		{sectional, 4, "right 15 ring 1", "right 15 ring 4 | right 15 ring 3 | right 15 ring 2 | right 15 ring 1"},
		{sectional, 2, "crossing road 2", "straight full | crossing"},
		{sectional, 2, "changer left road 1", "changer left | straight full"},
		{sectional, 2, "left 60 ring 2 changer right road 1", "changer right in left 60 ring 2 | left 30 ring 3, left 30 ring 3"},
		{sectional, 2, "road 1: straight | road 2: quarter 4", "straight full | straight quarter, straight quarter, straight quarter, straight quarter"},
		{sectional, 2, "road 2: half 2 | road 1: straight", "straight full | straight half, straight half"},
		{sectional, 3, "road 1: left 30 ring 1 | road 2 and 3: left 30 ring 2", "left 30 ring 1 | left 30 ring 2 | left 30 ring 3"},
		{routed, 1, "straight 900", "straight 900"},
		{routed, 1, "left 210 radius 900", "left 210 radius 900"},
		{routed, 2, "left 90 radius 900", "left 90 radius 900 | left 90 radius 1520"},
		{routed, 1, "crossing 400 lanes 3 2", "crossing 400"},
		{routed, 1, "changer left 400 lanes 1 2", "changer left 400"},
		{routed, 1, "narrow-in 300 to 60, straight 500, narrow-out 300", "narrow-in 300, straight 500, narrow-out 300"},
		{routed, 1, "shift left 300 by 30", "shift left"},
		{routed, 2, "crossing 400 lanes 1 2 road 2", "straight 400 | crossing 400"},
		{routed, 1, "sensor hill 200 at 50, trap 500", "sensor 200, trap 500"},
	}
	for _, tt := range tests {
		timing := "timing"
		if tt.kit.Routed {
			timing = "timing 300"
		}
		p := Plan{File: "call.toml", Roads: tt.roads, Calls: []Call{ParseCall(timing), ParseCall(tt.call)}}
		track, findings := Resolve(p, tt.kit)
		if got := laidDown(track, 1); got != tt.want {
			t.Errorf("%q lays %q, want %q; findings %v", tt.call, got, tt.want, findings)
		}
		for _, f := range findings {
			switch f.Code {
			case CodeOpen, CodeOpenHeight, CodeOpenSpacing, CodeLanesJoined:
			default:
				t.Errorf("%q: finding %v", tt.call, f)
			}
		}
	}
}

// Every wrong call is one finding with its call, a stable code and something to go by.
func TestWrongCalls(t *testing.T) {
	sectional, _ := BuiltinKit("module 90")
	routed, _ := BuiltinKit("routed 100")
	tests := []struct {
		kit        Kit
		call, code string
		says       string
	}{
		{sectional, "", CodeCallUnclear, "ends where a piece should stand"},
		{sectional, "straigth 3", CodePieceMissing, "did you mean straight?"},
		{sectional, "quater", CodePieceMissing, "did you mean quarter?"},
		{sectional, "straight 0", CodeOutOfRange, "more than 0"},
		{sectional, "straight -2", CodeOutOfRange, "sign"},
		{sectional, "straight 2.5", CodeOutOfRange, "whole number"},
		{sectional, "straight 400", CodeTooManyPieces, "counts pieces"},
		{sectional, "straight 3 cm", CodeWrongUnit, "3 cm"},
		{sectional, "straight 300 mm", CodePieceMissing, "half 180 mm"},
		{sectional, "left 60 rad ring 1", CodeWrongUnit, "degrees"},
		{sectional, "left 60 mm ring 1", CodeWrongUnit, "degrees"},
		{sectional, "left ring 1", CodeCallUnclear, "angle"},
		{sectional, "left 120 ring 7", CodeRingMissing, "ring 4 radius 810"},
		{sectional, "left 30 ring 4", CodeRingMissing, "ring 5, 1 road outside ring 4"},
		{sectional, "left 40 ring 1", CodeAngleMissing, "30 or 45 degrees"},
		{sectional, "left 3x90 ring 1", CodeAngleMissing, "60, 30, 15"},
		{sectional, "left 60 radius 300", CodeRingMissing, "300.0 mm"},
		{sectional, "left 36000 ring 1", CodeTooManyPieces, "pieces"},
		{sectional, "hairpin left", CodeRingMissing, "360.0 mm"},
		{sectional, "hairpin", CodeCallUnclear, "left or right"},
		{sectional, "changer up", CodeCallUnclear, "left, right or both"},
		{sectional, "left 60 ring 1 changer left", CodePieceMissing, "changer right in left 60 ring 2"},
		{sectional, "crossing lanes 1 3", CodeLaneMissing, "2 lanes"},
		{sectional, "crossing road 3", CodeRoadMissing, "2 roads"},
		{sectional, "road 3: straight", CodeRoadMissing, "2 roads"},
		{sectional, "road 1: straight", CodeRoadMissing, "not road 2"},
		{sectional, "road 1: straight | road 1: half", CodeRoadTwice, "twice"},
		{sectional, "straight | half", CodeCallUnclear, "which road"},
		{sectional, "road 1: left 60 | road 2: left 30 ring 2", CodeBendDisagrees, "road 1 turns by 60 degrees in this call, road 2 by 30"},
		{sectional, "road 1: straight | road 2: quarter 3", CodeRoadsPart, "90.0 mm behind"},
		{sectional, "road 1: left 30 ring 1 | road 2: left 30 ring 3", CodeRoadsPart, "mm"},
		{sectional, "left 120 ring 1 = 3+4 pieces", CodeBelief, "2 x left 60 ring 1"},
		{sectional, "left 120 ring 1 = 3 pieces", CodeBelief, "2+4"},
		{sectional, "left 120 ring 1 = 1+2+3 pieces", CodeBelief, "pieces for 3 roads"},
		{sectional, "left 60+60 ring 1 = 90", CodeBelief, "90 degrees"},
		{sectional, "left 120 = right 120", CodeBelief, "to the right"},
		{sectional, "straight 2 = 700 mm", CodeBelief, "720.0 mm"},
		{sectional, "straight = 36 cm", CodeWrongUnit, "cm"},
		{sectional, "rise 90", CodeCallUnclear, "over"},
		{sectional, "rise 9 cm over straight", CodeWrongUnit, "9 cm"},
		{sectional, "rise 90 over left 180 ring 1", CodeGradeHigh, "12.56 %"},
		{sectional, "narrow-out", CodeSpacing, "84.0 mm"},
		{sectional, "crossroads", CodeCrossroads, "right angle"},
		{sectional, "timing", CodeTimingTwice, "call 1"},
		{sectional, "sensor at 100", CodeTimingPlace, "90.0 mm"},
		{sectional, "sensor at 1 2 3", CodeTimingPlace, "3 places"},
		{sectional, "straight 3 4", CodeCallUnclear, "\"4\""},
		{sectional, "bridge", CodeCallUnclear, "no piece"},
		{sectional, "rise 20 over chicane", CodeCallUnclear, "a rise has no meaning"},
		{sectional, "straight -3", CodeOutOfRange, "is -3"},
		{routed, "chicane 900", CodeOutOfRange, "length in mm"},
		{sectional, "straight 2 ring 1", CodeCallUnclear, "ring has no meaning"},
		{sectional, "crossing radius 300", CodeCallUnclear, "radius has no meaning"},
		{sectional, "left 60 at 30", CodeCallUnclear, "at has no meaning"},
		{sectional, "straight lanes 1 2", CodeCallUnclear, "lanes has no meaning"},
		{sectional, "left 60 by 30", CodeCallUnclear, "to has no meaning"},
		{sectional, "left 60 road 1", CodeCallUnclear, "road by road"},
		{routed, "straight 3", CodeOutOfRange, "length in mm"},
		{routed, "straight", CodeOutOfRange, "straight 900"},
		{routed, "left 90", CodeCallUnclear, "radius"},
		{routed, "left 90 ring 1", CodeRingMissing, "no rings"},
		{routed, "left 90 radius 200", CodeRadiusSmall, "leaves no bend"},
		{routed, "crossing 400", CodeLaneMissing, "which two lanes"},
		{routed, "crossing 400 lanes 1 3", CodeLaneMissing, "no neighbours"},
		{routed, "crossing 50 lanes 1 2", CodeOutOfRange, "does not fit"},
		{routed, "narrow-in 300", CodeCallUnclear, "to 60"},
		{routed, "narrow-in 300 to 120", CodeSpacing, "120.0 mm"},
		{routed, "shift left 300", CodeCallUnclear, "by how much"},
		{routed, "ramp up", CodePieceMissing, "rise 90 over"},
		{routed, "half", CodePieceMissing, "half"},
	}
	for _, tt := range tests {
		timing := "timing"
		if tt.kit.Routed {
			timing = "timing 300"
		}
		c := ParseCall(tt.call)
		c.Line = 7
		p := Plan{File: "call.toml", Roads: 2, Calls: []Call{ParseCall(timing), c}}
		_, findings := Resolve(p, tt.kit)
		f := find(findings, tt.code)
		if f == nil {
			t.Errorf("%q: findings %v, want %s", tt.call, findings, tt.code)
			continue
		}
		if f.Call != 2 || f.Line != 7 || f.File != "call.toml" || !strings.Contains(f.Text+"; "+f.Way, tt.says) {
			t.Errorf("%q: %+v does not say %q", tt.call, *f, tt.says)
		}
	}
}

// A call keeps its line, in a list of texts and in a text of several lines, comments and all.
func TestLinesOfCalls(t *testing.T) {
	for name, text := range map[string]string{
		"list":   "kit = \"module 90\"\n# a comment\ncourse = [\n  \"timing\", # here\n\n  \"straight 2\",\n  \"left 40\",\n]\n",
		"text":   "kit = \"module 90\"\n\ncourse = '''\ntiming   # the line\n\nstraight 2\nleft 40 # no such\n'''\n",
		"basic":  "kit = \"module 90\"\n\ncourse = \"\"\"\ntiming   # the line\n\nstraight 2\nleft 40 # no such\n\"\"\"\n",
		"marked": "\xef\xbb\xbfkit = \"module 90\"\r\n\r\ncourse = '''\r\ntiming\r\n\r\nstraight 2\r\nleft 40\r\n'''\r\n",
		"inline": "kit = \"module 90\"\n\n\ncourse = '''timing\n\nstraight 2\nleft 40'''\n",
	} {
		p, err := ReadPlan("lines.toml", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		if len(p.Calls) != 3 || p.Calls[0].Line != 4 || p.Calls[1].Line != 6 || p.Calls[2].Line != 7 {
			t.Errorf("%s: lines %d %d %d", name, p.Calls[0].Line, p.Calls[1].Line, p.Calls[2].Line)
		}
	}
}

func TestTimingIsMissing(t *testing.T) {
	track, findings := resolveText(t, "none.toml", "kit = \"module 90\"\nroads = 2\ncourse = [\"straight\", \"left 180\", \"straight\", \"left 180\"]\n")
	if len(findings) != 1 || findings[0].Code != CodeTimingMissing || findings[0].Road != 0 || findings[0].Call != 1 || findings[0].Line != 3 {
		t.Errorf("findings %v", findings)
	}
	if len(track.Lanes) != 4 || !track.Closes {
		t.Errorf("lanes %v", track.Lanes)
	}
	_, findings = resolveText(t, "one.toml", "kit = \"module 90\"\nroads = 2\ncourse = [\"timing road 1\", \"straight\", \"left 180\", \"straight\", \"half\", \"left 180\"]\n")
	if len(findings) != 1 || findings[0].Code != CodeTimingMissing || findings[0].Road != 2 {
		t.Errorf("findings %v", findings)
	}
}

// Sensors count on from the timing line in the order of the course, alike on all roads; a trap has two.
func TestSensors(t *testing.T) {
	track, _ := resolveText(t, "sensors.toml", "kit = \"module 90\"\nroads = 2\ncourse = [\"timing\", \"sensor hill\", \"trap main\", \"sensor at 10 20\"]\n")
	for _, r := range track.Roads {
		var got []string
		for _, pl := range r.Pieces {
			for _, s := range pl.Sensors {
				got = append(got, s.Name)
				if s.Number != len(got) {
					t.Errorf("sensor %q has number %d", s.Name, s.Number)
				}
			}
		}
		if want := "timing,hill,main in,main out,sensor 5"; strings.Join(got, ",") != want {
			t.Errorf("sensors %v, want %s", got, want)
		}
		trap := r.Pieces[2].Sensors
		near(t, "trap", trap[1].AtMM[0]-trap[0].AtMM[0], 100, 0)
		if at := r.Pieces[3].Sensors[0].AtMM; at[0] != 10 || at[1] != 20 {
			t.Errorf("sensor at %v", at)
		}
	}
}
