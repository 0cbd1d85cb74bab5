package layout

import (
	"errors"
	"strings"
	"testing"

	"lanewright/layout/curve"
)

var fuzzCalls = []string{
	"straight 3", "left 120 ring 1", "quarter 2", "half", "crossing road 2", "changer left road 1", "timing", "timing at 80 90", "rise 90 over left 270 ring 2",
	"left 120 ring 1 = 2+4 pieces", "road 1: left 60+2x30 ring 1 | road 2 and 3: left 30 ring 2, half apart", "hairpin right", "narrow-in, quarter, narrow-out",
	"left 60 ring 2 changer right", "changer both in left 60 radius 450", "straight 900", "left 210 radius 900", "crossing 400 lanes 2 3", "shift left 300 by 30",
	"sensor hill 200 at 50", "trap", "crossroads", "ramp down 2", "straight 3 cm", "left 1e9 ring 1", "= 3", "|", ",", "left 60 ring 1 = left 60, 2 pieces", "°", "\x00\xff",
}

// No call, however odd, makes the resolver panic or hang; whatever it says is one line with a code that is explained.
func FuzzCall(f *testing.F) {
	for _, c := range fuzzCalls {
		f.Add(c, "straight", uint8(2), true)
		f.Add(c, "left 180 ring 1", uint8(4), false)
	}
	sectional, _ := BuiltinKit("module 90")
	routed, _ := BuiltinKit("routed 100")
	f.Fuzz(func(t *testing.T, a, b string, roads uint8, sections bool) {
		k := routed
		if sections {
			k = sectional
		}
		p := Plan{File: "fuzz.toml", Roads: int(roads%6) - 1, Calls: []Call{ParseCall("timing 300"), ParseCall(a), ParseCall(b)}}
		track, findings := Resolve(p, k)
		checkFindings(t, findings)
		checkTrack(t, track)
	})
}

func checkFindings(t *testing.T, findings []Finding) {
	t.Helper()
	known := map[string]bool{}
	for _, m := range Meanings {
		known[m.Code] = true
	}
	for _, f := range findings {
		if !known[f.Code] || f.Text == "" || strings.ContainsAny(f.String(), "\n\r\x00") || f.Code == CodeSelfCheck || !finite(f.Amount) {
			t.Fatalf("finding %+v", f)
		}
	}
}

// checkTrack holds a track to what every reader of it relies on.
func checkTrack(t *testing.T, track Track) {
	t.Helper()
	for _, road := range track.Roads {
		for k, pl := range road.Pieces {
			if pl.Index != k+1 || pl.Road != road.Number || len(pl.Stay) != road.Positions || len(pl.Centre) == 0 || pl.Piece == "" || pl.Part == "" {
				t.Fatalf("piece %+v", pl)
			}
			for _, s := range append(append([]Strand(nil), pl.Stay...), pl.Change...) {
				if s.From < 1 || s.From > road.Positions || s.To < 1 || s.To > road.Positions || !finite(s.LengthMM) || s.LengthMM < 0 || len(s.Plan) == 0 {
					t.Fatalf("strand %+v of %s", s, pl.Piece)
				}
			}
			for _, s := range pl.Sensors {
				if len(s.AtMM) != road.Positions || s.Number < 1 {
					t.Fatalf("sensor %+v", s)
				}
			}
		}
	}
	seen := 0
	for _, s := range track.Slots {
		seen += len(s.Lanes)
	}
	if seen != len(track.Lanes) {
		t.Fatalf("%d lanes, %d in slots", len(track.Lanes), seen)
	}
	for _, l := range track.Lanes {
		if l.EndsIn < 1 || l.EndsIn > len(track.Lanes) || !finite(l.LengthMM) {
			t.Fatalf("lane %+v", l)
		}
	}
}

// Plan files: an error is a *BadFile with explained findings, anything else resolves.
func FuzzReadPlan(f *testing.F) {
	for _, name := range Examples() {
		data, _ := Example(name)
		f.Add(data)
	}
	f.Add([]byte("kit = 3"))
	f.Add([]byte("course = [1, 2]\nkit = \"x\"\n[[table]]\nsize = 4\n[start]\nx = \"3 m\"\n"))
	f.Add([]byte("a.b.c = {d = [{}]}\n[[stock]]\n"))
	f.Add([]byte("course = \"\"\"\nstraight\\\n 3\n\"\"\""))
	sectional, _ := BuiltinKit("module 90")
	routed, _ := BuiltinKit("routed 100")
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := ReadPlan("fuzz.toml", data)
		if err != nil {
			var bad *BadFile
			if !errors.As(err, &bad) || len(bad.Findings) == 0 {
				t.Fatalf("error %v", err)
			}
			checkFindings(t, bad.Findings)
			return
		}
		for _, k := range []Kit{sectional, routed} {
			track, findings := Resolve(p, k)
			checkFindings(t, findings)
			checkTrack(t, track)
		}
	})
}

// Kit files: what is accepted can be laid, every piece of it.
func FuzzReadKit(f *testing.F) {
	for _, name := range BuiltinKits() {
		data, _ := BuiltinKitFile(name)
		f.Add(data)
	}
	f.Add([]byte("road_width = nan\nlane_spacing = inf"))
	f.Add([]byte("road_width = \"18 cm\"\nlane_spacing = 84\n[[curve]]\nring = 1.5\n[[changer]]\nmove = 3"))
	f.Add([]byte("road_width = 100\nlane_spacing = 30\nlanes = 3\n[[crossing]]\nlength = 50\nlanes = [3, 2]\n[[narrow_in]]\nlength = 90\nto = 10\nshape = \"clothoids\""))
	calls := []string{"straight", "left 60", "hairpin left", "crossing", "changer left", "narrow-in", "narrow-out", "shift right", "timing", "sensor", "trap", "crossroads", "ramp up"}
	f.Fuzz(func(t *testing.T, data []byte) {
		k, err := ReadKit("fuzz.toml", data)
		if err != nil {
			var bad *BadFile
			if !errors.As(err, &bad) || len(bad.Findings) == 0 {
				t.Fatalf("error %v", err)
			}
			checkFindings(t, bad.Findings)
			return
		}
		checkFindings(t, CheckKit(k))
		p := Plan{File: "fuzz-plan.toml", Roads: 2}
		for _, c := range calls {
			p.Calls = append(p.Calls, ParseCall(c))
		}
		track, findings := Resolve(p, k)
		checkFindings(t, findings)
		checkTrack(t, track)
		for _, road := range track.Roads {
			for _, pl := range road.Pieces {
				for _, s := range append(append([]Strand(nil), pl.Stay...), pl.Change...) {
					if end := s.Plan.End(); !finite(end.X) || !finite(curve.Wrap(end.Heading)) {
						t.Fatalf("strand of %s ends at %v", pl.Piece, end)
					}
				}
			}
		}
	})
}
