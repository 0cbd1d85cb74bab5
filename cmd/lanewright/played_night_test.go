//go:build linux || darwin

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"
)

const playedSheet = `
club = "Gannet Street"
title = "Three on two"
layout = "oval.toml"
[card]
kind = "timed"
length = "6s"
lap_min = "0.2s"
coast = "0.05s"
grid = "before"
at_end = "cut"
part_of = 0
countdown = "0.5s"
hold_max = "0s"
pause = "0.2s"
ties = ["last-pass", "best-heat", "best-lap"]
power = true
[rotation]
kind = "rolling"
[[driver]]
name = "Ann"
[[driver]]
name = "Ben"
[[driver]]
name = "Cid"
`

// The evening, worked out by hand. The rolling rotation moves everybody one place on, lane 1, lane 2, sitting out, and the
// drivers begin on these places in their order. So
//
//	heat 1: Ann on lane 1, Ben on lane 2
//	heat 2: Cid on lane 1, Ann on lane 2
//	heat 3: Ben on lane 1, Cid on lane 2
//
// A heat is 6 s, cars stand before the line: the first pass starts lap 1. Power is off at 6 s, passes up to 6.05 s count.
// Times are seconds after go.
//
//	heat 1, Ann:  0.10 0.70 1.31 1.90 2.52 3.12 3.71 4.33 4.92 5.53: ten passes, 9 laps, last 5.53;
//	              laps 0.60 0.61 0.59 0.62 0.60 0.59 0.62 0.59 0.61: best 0.59. 1.313 is the sensor bouncing: no lap.
//	        Ben:  0.12 0.78 1.44 2.10 2.75 3.41 4.07 4.73 5.38 6.03: 9 laps, the last rolling over the line 0.03 s after power
//	              went, last 6.03; laps 0.66 0.66 0.66 0.65 0.66 0.66 0.66 0.65 0.65: best 0.65. 6.10 is pushed over the line by
//	              hand: no lap.
//	        both 9 laps; Ann first, 5.53 before 6.03.
//	heat 2, Cid:  0.20 0.79 1.38 1.97 2.56 3.15 3.74 4.33 4.93 5.53: 9 laps, last 5.53; laps 7 times 0.59, twice 0.60: best 0.59.
//	        Ann:  0.15 0.80 1.44 2.09 2.73 3.38 4.02 4.67 5.31 5.96: 9 laps, last 5.96; laps 0.65 and 0.64 in turn: best 0.64.
//	        both 9 laps; Cid first, 5.53 before 5.96.
//	heat 3, Ben:  0.09 and ten laps of 0.58: 0.67 1.25 1.83 2.41 2.99 3.57 4.15 4.73 5.31 5.89: 10 laps, last 5.89, best 0.58.
//	        Cid:  0.11 0.75 1.41 2.06 2.71 3.36 4.01 4.66 5.31 5.96: 9 laps, last 5.96; laps 0.64 0.66 and seven of 0.65: best 0.64.
//
// The evening: Ben 9 + 10 = 19 laps, first. Ann 9 + 9 = 18 and Cid 9 + 9 = 18; last passes Ann 5.53 + 5.96 = 11.49, Cid
// 5.53 + 5.96 = 11.49; best heat 9 and 9; best lap 0.59 and 0.59: nothing on the card parts them, they share second place.
var playedHeats = [3][]playedPass{
	heatOf( // milliseconds
		[]int{100, 700, 1310, 1313, 1900, 2520, 3120, 3710, 4330, 4920, 5530},
		[]int{120, 780, 1440, 2100, 2750, 3410, 4070, 4730, 5380, 6030, 6100},
	),
	heatOf(
		[]int{200, 790, 1380, 1970, 2560, 3150, 3740, 4330, 4930, 5530},
		[]int{150, 800, 1440, 2090, 2730, 3380, 4020, 4670, 5310, 5960},
	),
	heatOf(
		[]int{90, 670, 1250, 1830, 2410, 2990, 3570, 4150, 4730, 5310, 5890},
		[]int{110, 750, 1410, 2060, 2710, 3360, 4010, 4660, 5310, 5960},
	),
}

type playedPass struct{ lane, ms int }

// heatOf merges the passes of lanes 1, 2, ... in the order of their times.
func heatOf(lanes ...[]int) []playedPass {
	var all []playedPass
	at := make([]int, len(lanes))
	for {
		next := -1
		for l := range lanes {
			if at[l] < len(lanes[l]) && (next < 0 || lanes[l][at[l]] < lanes[next][at[next]]) {
				next = l
			}
		}
		if next < 0 {
			return all
		}
		all = append(all, playedPass{next + 1, lanes[next][at[next]]})
		at[next]++
	}
}

// playedResult is what a row of the results says about a driver.
type playedResult struct {
	Place  int
	Shared bool
	Name   string
	Laps   int
	LastMS int64
	BestMS int64
}

// TestPlayedNight plays a whole night into a pseudo-terminal from another process, byte by byte, with trouble on the line, and
// compares the results with those worked out above.
func TestPlayedNight(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	sheet := writePlayed(t, dir, playedSheet)

	// The counter's clock wraps during heat 1.
	c := plugIn(t, 2, 4711, running(1<<32-3_000_000))
	c.slowly = true

	heat := 0
	c.started = func(start uint64) {
		if heat < len(playedHeats) {
			playHeat(c, heat+1, start, playedHeats[heat])
		}
		heat++
	}
	stop := make(chan struct{})
	var playing sync.WaitGroup
	defer playing.Wait()
	defer close(stop)
	playing.Go(func() { c.run(stop, time.Second) })

	store := filepath.Join(dir, "club.lw")
	p := launch(t, "night", "run", sheet, "--port", c.port, "--store", store, "--night", "played", "--headless", "--events", "--json")
	if code := p.end(); code != 0 {
		t.Fatalf("exit code %d; it said %q", code, p.complaint())
	}

	var events []eventLine
	lines := p.printed()
	for len(lines) > 0 && strings.HasPrefix(lines[0], `{"n":`) {
		events = append(events, parseEvent(t, lines[0]))
		lines = lines[1:]
	}
	printed := strings.Join(lines, "\n")
	checkPlayedEvents(t, c, events)
	checkPlayedResults(t, printed)
	if shown := run1(t, "night", "show", store, "--json"); strings.TrimSpace(shown) != strings.TrimSpace(printed) {
		t.Errorf("night show says something else than the night itself:\n%s\n%s", shown, printed)
	}
	// What was shown as it happened is word for word what the journal holds.
	if kept := strings.Split(strings.TrimSpace(run1(t, "night", "events", store)), "\n"); !reflect.DeepEqual(kept, p.printed()[:len(events)]) {
		t.Errorf("the journal holds %d events, %d were shown, and they are not the same", len(kept), len(events))
	}
}

// playHeat plans the passes of a heat, with what goes wrong on a line.
func playHeat(c *handCounter, heat int, start uint64, passes []playedPass) {
	for i, p := range passes {
		ticks := start + uint64(p.ms)*1000
		c.script = append(c.script, scripted{ticks, func() {
			switch {
			case heat == 1 && i%4 == 1: // noise, half a sentence, a foreign one, one with a wrong check
				c.send("\x00\xfe\x80~~\r\n")
				c.send("$LWPAS,9,1,")
				c.send("$GPGLL,5057.970,N,00146.110,E,142451,A*27\r\n")
				c.send("$LWPAS,3,1,2,0,77*00\r\n")
			case heat == 2 && (i == 5 || i == 6 || i == 12): // lost on the line
				c.pass(p.lane, ticks, true)
				return
			}
			said := c.pass(p.lane, ticks, false)
			if heat == 3 && i%3 == 0 { // said twice
				c.send(said.sentence)
			}
		}})
	}
}

func checkPlayedEvents(t *testing.T, c *handCounter, events []eventLine) {
	t.Helper()
	again := 0
	var passes []eventLine
	for i, e := range events {
		if e.N != uint64(i+1) {
			t.Fatalf("event %d has number %d", i+1, e.N)
		}
		switch e.Event {
		case "pass":
			passes = append(passes, e)
			if e.Again {
				again++
			}
		case "drawn":
			var heats [][]int
			for _, h := range e.Heats {
				heats = append(heats, h.Drivers)
			}
			if want := [][]int{{1, 2}, {3, 1}, {2, 3}}; !reflect.DeepEqual(heats, want) {
				t.Fatalf("the draw is %v, worked out was %v", heats, want)
			}
		case "passes-missing":
			t.Errorf("passes are missing: %+v", e)
		}
	}
	if len(passes) != len(c.passes) {
		t.Fatalf("%d passes were written down, the counter made %d", len(passes), len(c.passes))
	}
	for i, made := range c.passes {
		e := passes[i]
		if e.Number != made.number || e.Lane != made.lane || e.Ticks != c.wrapped(made.ticks) || e.Boot != c.boot || e.Segment != 1 {
			t.Errorf("pass %d was written down as %+v", made.number, e)
		}
		if want := strings.TrimSpace(made.sentence); e.Raw != want {
			t.Errorf("pass %d: raw %q, the counter said %q", made.number, e.Raw, want)
		}
	}
	// Three were lost; asked again from the first of a gap, the counter says all from there on.
	if again < 3 || len(c.asked) < 2 {
		t.Errorf("%d passes were said again after %d requests, want at least 3 and 2", again, len(c.asked))
	}
}

func checkPlayedResults(t *testing.T, printed string) {
	t.Helper()
	var got resultsAnswer
	if err := json.Unmarshal([]byte(printed), &got); err != nil {
		t.Fatalf("results %q: %v", printed, err)
	}
	heats := [][]playedResult{
		{{1, false, "Ann", 9, 5530, 590}, {2, false, "Ben", 9, 6030, 650}},
		{{1, false, "Cid", 9, 5530, 590}, {2, false, "Ann", 9, 5960, 640}},
		{{1, false, "Ben", 10, 5890, 580}, {2, false, "Cid", 9, 5960, 640}},
	}
	if len(got.Heats) != len(heats) {
		t.Fatalf("%d heats, want %d", len(got.Heats), len(heats))
	}
	for h, want := range heats {
		if rows := playedRows(got.Heats[h].Results); !reflect.DeepEqual(rows, want) {
			t.Errorf("heat %d:\n got %+v\nwant %+v", h+1, rows, want)
		}
	}
	night := []playedResult{{1, false, "Ben", 19, 11920, 580}, {2, true, "Ann", 18, 11490, 590}, {2, true, "Cid", 18, 11490, 590}}
	if rows := playedRows(got.Standings); !reflect.DeepEqual(rows, night) {
		t.Errorf("standings:\n got %+v\nwant %+v", rows, night)
	}
}

func playedRows(rows []rowAnswer) []playedResult {
	var list []playedResult
	for _, r := range rows {
		p := playedResult{Place: r.Place, Shared: r.Shared, Name: r.Name, Laps: r.Laps}
		if r.LastUS != nil {
			p.LastMS = *r.LastUS / 1000
		}
		if r.BestUS != nil {
			p.BestMS = *r.BestUS / 1000
		}
		list = append(list, p)
	}
	return list
}

// writePlayed writes a night sheet and the oval beside it.
func writePlayed(t testing.TB, dir, sheet string) string {
	t.Helper()
	plan, err := os.ReadFile(filepath.Join("..", "..", "testdata", "layouts", "millpond-oval.toml"))
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "night.toml")
	for name, data := range map[string][]byte{filepath.Join(dir, "oval.toml"): plan, path: []byte(sheet)} {
		if err := os.WriteFile(name, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return path
}

// run1 runs the program to its end and returns what it printed; it must end well.
func run1(t *testing.T, args ...string) string {
	t.Helper()
	p := launch(t, args...)
	if code := p.end(); code != 0 {
		t.Fatalf("%s: exit code %d; it said %q", fmt.Sprint(args), code, p.complaint())
	}
	return strings.Join(p.printed(), "\n") + "\n"
}
