package main

import (
	"bytes"
	"encoding/json"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"lanewright/race"
	"lanewright/race/control"
	"lanewright/timing/describe"
	"lanewright/timing/tape"
)

// tapeFiles are the nights of testdata/tapes, with the line description of the counter where one is needed.
func tapeFiles(t testing.TB) (paths []string, formats map[string][]string) {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(tapesDir, "*.tape"))
	if err != nil || len(paths) == 0 {
		t.Fatalf("no tapes: %v", err)
	}
	formats = map[string][]string{}
	for _, n := range tapedNights {
		if n.format != "" {
			formats[n.name] = []string{"counter=" + filepath.Join("..", "..", "testdata", "captures", n.format)}
		}
	}
	return paths, formats
}

func nameOf(path string) string { return strings.TrimSuffix(filepath.Base(path), ".tape") }

func TestTapesGiveTheirResultsByteForByte(t *testing.T) {
	paths, formats := tapeFiles(t)
	if len(paths) < len(tapedNights) {
		t.Errorf("%d tapes for %d nights", len(paths), len(tapedNights))
	}
	for _, path := range paths {
		t.Run(nameOf(path), func(t *testing.T) {
			want, err := os.ReadFile(strings.TrimSuffix(path, ".tape") + ".json")
			if err != nil {
				t.Fatal(err)
			}
			args := []string{"night", "replay", path, "--json"}
			for _, f := range formats[nameOf(path)] {
				args = append(args, "--describe", f)
			}
			var out, errs bytes.Buffer
			if code := run(t.Context(), args, nil, &out, &errs); code != 0 {
				t.Fatalf("exit code %d: %s", code, errs.String())
			}
			if !bytes.Equal(out.Bytes(), want) {
				t.Errorf("printed\n%s\nwant\n%s", out.Bytes(), want)
			}
		})
	}
}

// TestTapesDoNotDependOnTheirCuts plays each tape with its bytes cut anew: one by one, and into pieces drawn at random.
func TestTapesDoNotDependOnTheirCuts(t *testing.T) {
	paths, formats := tapeFiles(t)
	for _, path := range paths {
		t.Run(nameOf(path), func(t *testing.T) {
			entries, o := tapeOf(t, path, formats[nameOf(path)])
			want := reportOf(t, entries, o)
			for seed := range uint64(8) {
				rnd := rand.New(rand.NewPCG(seed, 9))
				var cut []tape.Entry
				for _, e := range entries {
					for len(e.Heard) > 1 {
						k := 1
						if seed > 0 {
							k = 1 + rnd.IntN(len(e.Heard))
						}
						piece := e
						piece.Heard, e.Heard = e.Heard[:k], e.Heard[k:]
						cut = append(cut, piece)
						if len(e.Heard) == 0 {
							break
						}
					}
					if e.Heard == nil || len(e.Heard) > 0 {
						cut = append(cut, e)
					}
				}
				if got := reportOf(t, cut, o); !bytes.Equal(got, want) {
					t.Errorf("cut by seed %d it gives another night", seed)
				}
			}
		})
	}
}

func tapeOf(t testing.TB, path string, formats []string) ([]tape.Entry, control.ReplayOptions) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	entries, err := tape.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	o := control.ReplayOptions{Formats: map[string]*describe.Description{}}
	for _, f := range formats {
		name, file, _ := strings.Cut(f, "=")
		if o.Formats[name], err = readDescription(file); err != nil {
			t.Fatal(err)
		}
	}
	return entries, o
}

func reportOf(t testing.TB, entries []tape.Entry, o control.ReplayOptions) []byte {
	t.Helper()
	played, err := control.Replay(t.Context(), entries, o)
	if err != nil {
		t.Fatal(err)
	}
	if len(played.Refused) > 0 {
		t.Errorf("refused: %v", played.Refused)
	}
	b, err := json.Marshal(played.Night.Report())
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// TestTapesWorkedOutByHand compares five of the results with what follows from the laps that the cars were made to drive.
//
// plain. 30 s, first pass only starts lap 1, passes up to 30.5 s count; power goes at 30 s and a car rolls on for 0.8 s, slowing down evenly,
// which takes it 0.4 s of driving further.
//
//	lane 1: first pass at 0.6, then every 4.0: 4.6, 8.6, ..., 28.6: 7 laps, last 28.6. The next would be at 32.6: 2.6 s of way are left at
//	30 s, and 0.4 can be rolled.
//	lane 2: first pass at 0.7, then every 4.5: 5.2, ..., 27.7: 6 laps, last 27.7; the next would be at 32.2.
//	The rolling draw is Ann and Ben, Cid and Ann, Ben and Cid, by lane: everybody drives each lane once, 7 + 6 = 13 laps, last passes
//	28.6 + 27.7 = 56.3, best heat 7, best lap 4.0: all three are level on everything the card knows, and share first place.
//
// track-calls. The start that is taken back moves no car. In heat 1 power goes a little after 8.5 s (the order has to get there): lane 1 is
// due at 8.6 and rolls over the line, at 8.6 and a little, which is inside the coast window: its second lap counts. In the call nothing
// counts, nor does the call out of the countdown change anything. The 30 s go on: from 8.5 s, at which the cars stand (each 0.4 s of
// driving further by rolling), 21.5 s are left. Lane 1 has 0.1 s of the roll's 0.4 behind it before the line, 0.3 in the new lap, so it needs
// 3.7 s to the next pass, then 4.0 each: at 12.2, 16.2, 20.2, 24.2, 28.2 of driven time: with those at 4.6 and 8.6 this is 7 laps. Lane 2 passed at
// 0.7 and 5.2, next due 9.7: 1.2 of way at the call, 0.8 when it stands: 9.3, 13.8, 18.3, 22.8, 27.3: 6 laps. Heat 2 is a plain one: 7 and 6.
// With a quarter of a lap given by part in heat 1 on lane 1: Ann 7.25 + 6, Ben 6 + 7.
//
// lap-heat. Past the line the first pass completes lap 1: lane 1 passes at 4, 8, ..., 24: home with lap 6 at 24.0. Lane 2 passes at 4.5, 9,
// ..., 22.5, 5 laps, and finishes the lap it is on at 27.0: 6 laps. So each of two drivers has 6 + 6 laps, last passes 24 + 27 = 51.
//
// arrival. The same by gates without a clock: 7 and 6 laps; the best laps are printed to the hundredth.
//
// described. Gates time heat and cars; a pass of lane 1 at 0.6 s after the script saw go, then every 4.0; lane 2 at 0.7, every 4.5, until 30 s:
// as in plain, 7 and 6 laps, 13 for both.
func TestTapesWorkedOutByHand(t *testing.T) {
	type row struct {
		name  string
		place int
		laps  int
		part  int // -1: none
		last  float64
	}
	for name, nights := range map[string]struct {
		heats     [][]row
		standings []row
	}{
		"plain": {
			[][]row{
				{{"Ann Archer", 1, 7, -1, 28.6}, {"Ben Barrow", 2, 6, -1, 27.7}},
				{{"Cid Cooper", 1, 7, -1, 28.6}, {"Ann Archer", 2, 6, -1, 27.7}},
				{{"Ben Barrow", 1, 7, -1, 28.6}, {"Cid Cooper", 2, 6, -1, 27.7}},
			},
			[]row{{"Ann Archer", 1, 13, -1, 56.3}, {"Ben Barrow", 1, 13, -1, 56.3}, {"Cid Cooper", 1, 13, -1, 56.3}},
		},
		"track-calls": {
			[][]row{
				{{"Ann Archer", 1, 7, 25, 0}, {"Ben Barrow", 2, 6, -1, 0}},
				{{"Ben Barrow", 1, 7, -1, 28.6}, {"Ann Archer", 2, 6, -1, 27.7}},
			},
			[]row{{"Ann Archer", 1, 13, 25, 0}, {"Ben Barrow", 2, 13, 0, 0}},
		},
		"lap-heat": {
			[][]row{
				{{"Ann Archer", 1, 6, -1, 24}, {"Ben Barrow", 2, 6, -1, 27}},
				{{"Ben Barrow", 1, 6, -1, 24}, {"Ann Archer", 2, 6, -1, 27}},
			},
			[]row{{"Ann Archer", 1, 12, -1, 51}, {"Ben Barrow", 1, 12, -1, 51}},
		},
		"arrival": {
			[][]row{
				{{"Ann Archer", 1, 7, -1, 0}, {"Ben Barrow", 2, 6, -1, 0}},
				{{"Ben Barrow", 1, 7, -1, 0}, {"Ann Archer", 2, 6, -1, 0}},
			},
			[]row{{"Ann Archer", 0, 13, -1, 0}, {"Ben Barrow", 0, 13, -1, 0}},
		},
		"described": {
			[][]row{
				{{"Ann Archer", 1, 7, -1, 0}, {"Ben Barrow", 2, 6, -1, 0}},
				{{"Ben Barrow", 1, 7, -1, 0}, {"Ann Archer", 2, 6, -1, 0}},
			},
			[]row{{"Ann Archer", 0, 13, -1, 0}, {"Ben Barrow", 0, 13, -1, 0}},
		},
	} {
		b, err := os.ReadFile(filepath.Join(tapesDir, name+".json"))
		if err != nil {
			t.Fatal(err)
		}
		var got resultsAnswer
		if err := json.Unmarshal(b, &got); err != nil {
			t.Fatal(err)
		}
		check := func(where string, rows []rowAnswer, want []row) {
			t.Helper()
			if len(rows) != len(want) {
				t.Errorf("%s, %s: %d rows, want %d", name, where, len(rows), len(want))
				return
			}
			for _, w := range want {
				found := false
				for _, r := range rows {
					if r.Name != w.name {
						continue
					}
					found = true
					part := -1
					if r.Part != nil {
						part = *r.Part
					}
					if w.place > 0 && r.Place != w.place || r.Laps != w.laps || part != w.part && !(w.part <= 0 && part <= 0) ||
						w.last > 0 && (r.LastUS == nil || *r.LastUS != int64(w.last*1e6+0.5)) {
						t.Errorf("%s, %s: %+v, want %+v", name, where, r, w)
					}
				}
				if !found {
					t.Errorf("%s, %s: no row of %s", name, where, w.name)
				}
			}
		}
		if len(got.Heats) != len(nights.heats) {
			t.Errorf("%s: %d heats, want %d", name, len(got.Heats), len(nights.heats))
			continue
		}
		for i, h := range got.Heats {
			check("heat", h.Results, nights.heats[i])
		}
		check("night", got.Standings, nights.standings)
	}
}

// TestStoreRebuiltFromTapesShowsTheSame makes a store from each tape and compares what is shown from it; of the arrival-timed night, digits too.
func TestStoreRebuiltFromTapesShowsTheSame(t *testing.T) {
	paths, formats := tapeFiles(t)
	for _, path := range paths {
		name := nameOf(path)
		t.Run(name, func(t *testing.T) {
			file := filepath.Join(t.TempDir(), "rebuilt.lw")
			args := []string{"store", "rebuild", path, "--out", file}
			for _, f := range formats[name] {
				args = append(args, "--describe", f)
			}
			ask := func(args ...string) string {
				t.Helper()
				var out, errs bytes.Buffer
				if code := run(t.Context(), args, nil, &out, &errs); code != 0 {
					t.Fatalf("%q: exit code %d: %s", args, code, errs.String())
				}
				return out.String()
			}
			ask(args...)
			want, err := os.ReadFile(strings.TrimSuffix(path, ".tape") + ".json")
			if err != nil {
				t.Fatal(err)
			}
			if got := ask("night", "show", file, "--json"); got != string(want) {
				t.Errorf("shown\n%s\nwant\n%s", got, want)
			}
			lap := ask("night", "explain", file, "--heat", "1", "--lane", "1", "--lap", "2")
			fine := name != "arrival"
			if !strings.Contains(lap, "lap 2: ") || strings.Contains(lap, "cut to thousandths") != fine && name != "track-calls" && name != "restarted-counter" ||
				strings.Contains(lap, "no more digits are deserved") == fine {
				t.Errorf("explained as\n%s", lap)
			}
		})
	}
}

// BenchmarkReplay plays the plain night and says how much quicker than life that is.
func BenchmarkReplay(b *testing.B) {
	entries, o := tapeOf(b, filepath.Join(tapesDir, "plain.tape"), nil)
	long := entries[len(entries)-1].At.Sub(entries[0].At)
	b.ReportAllocs()
	var n *race.Night
	for b.Loop() {
		played, err := control.Replay(b.Context(), entries, o)
		if err != nil {
			b.Fatal(err)
		}
		n = played.Night
	}
	if n.Phase() != race.Over {
		b.Fatalf("the night is at %s", n.Phase())
	}
	b.ReportMetric(long.Seconds()/(b.Elapsed().Seconds()/float64(b.N)), "x-real-time")
}
