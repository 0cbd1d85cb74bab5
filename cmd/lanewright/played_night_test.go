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
length = "60s"
lap_min = "2s"
coast = "0.5s"
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
// A heat is 60 s, cars stand before the line: the first pass starts lap 1. Power is off at 60 s, passes up to 60.5 s count.
// Times are milliseconds after go.
//
//	heat 1, Ann:  1.0 7.0 13.1 19.0 25.2 31.2 37.1 43.3 49.2 55.3: ten passes, 9 laps, last 55.3;
//	              laps 6.0 6.1 5.9 6.2 6.0 5.9 6.2 5.9 6.1: best 5.9. 13.13 is the sensor bouncing: no lap.
//	        Ben:  1.2 7.8 14.4 21.0 27.5 34.1 40.7 47.3 53.8 60.3: 9 laps, the last rolling over the line 0.3 s after power went,
//	              last 60.3; laps 6.6 6.6 6.6 6.5 6.6 6.6 6.6 6.5 6.5: best 6.5. 61.0 is pushed over the line by hand: no lap.
//	        both 9 laps; Ann first, 55.3 before 60.3.
//	heat 2, Cid:  2.0 7.9 13.8 19.7 25.6 31.5 37.4 43.3 49.3 55.3: 9 laps, last 55.3; laps 7 times 5.9, twice 6.0: best 5.9.
//	        Ann:  1.5 8.0 14.4 20.9 27.3 33.8 40.2 46.7 53.1 59.6: 9 laps, last 59.6; laps 6.5 and 6.4 in turn: best 6.4.
//	        both 9 laps; Cid first, 55.3 before 59.6.
//	heat 3, Ben:  0.9 and ten laps of 5.8: 6.7 12.5 18.3 24.1 29.9 35.7 41.5 47.3 53.1 58.9: 10 laps, last 58.9, best 5.8.
//	        Cid:  1.1 7.5 14.1 20.6 27.1 33.6 40.1 46.6 53.1 59.6: 9 laps, last 59.6; laps 6.4 6.6 and seven of 6.5: best 6.4.
//
// The evening: Ben 9 + 10 = 19 laps, first. Ann 9 + 9 = 18 and Cid 9 + 9 = 18; last passes Ann 55.3 + 59.6 = 114.9, Cid
// 55.3 + 59.6 = 114.9; best heat 9 and 9; best lap 5.9 and 5.9: nothing on the card parts them, they share second place.
var playedHeats = [3][]playedPass{
	heatOf(
		[]int{1000, 7000, 13100, 13130, 19000, 25200, 31200, 37100, 43300, 49200, 55300},
		[]int{1200, 7800, 14400, 21000, 27500, 34100, 40700, 47300, 53800, 60300, 61000},
	),
	heatOf(
		[]int{2000, 7900, 13800, 19700, 25600, 31500, 37400, 43300, 49300, 55300},
		[]int{1500, 8000, 14400, 20900, 27300, 33800, 40200, 46700, 53100, 59600},
	),
	heatOf(
		[]int{900, 6700, 12500, 18300, 24100, 29900, 35700, 41500, 47300, 53100, 58900},
		[]int{1100, 7500, 14100, 20600, 27100, 33600, 40100, 46600, 53100, 59600},
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
	LastMS int64 // 0: not looked at
	BestMS int64
}

// TestPlayedNight plays a whole night into a pseudo-terminal from another process, byte by byte, with trouble on the line, and
// compares the results with those worked out above.
func TestPlayedNight(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	sheet := writePlayed(t, dir, playedSheet)

	// The counter's clock is its own: a heat of a minute goes by as fast as it can be told. It wraps during heat 1.
	var clock struct {
		sync.Mutex
		now uint64
	}
	clock.now = 1<<32 - 20_000_000
	read := func() uint64 {
		clock.Lock()
		defer clock.Unlock()
		return clock.now
	}
	leap := func(to uint64) {
		clock.Lock()
		defer clock.Unlock()
		clock.now = max(clock.now, to)
	}
	c := plugIn(t, 2, 4711, read)
	c.slowly = true

	store := filepath.Join(dir, "club.lw")
	p := launch(t, "night", "run", sheet, "--port", c.port, "--store", store, "--night", "played", "--headless", "--events", "--json")
	stop := make(chan struct{})
	var playing sync.WaitGroup
	defer playing.Wait()
	defer close(stop)
	playing.Go(func() {
		alive := time.NewTicker(50 * time.Millisecond)
		defer alive.Stop()
		heat := 0
		for {
			select {
			case <-stop:
				return
			case <-p.done:
				return
			case <-alive.C: // a second of the counter's
				leap(read() + 1_000_000)
				c.quickly(func() { c.step(); c.beat() })
			case start := <-c.starts:
				if heat < len(playedHeats) {
					playHeat(c, heat+1, start, playedHeats[heat], leap)
				}
				heat++
				leap(start + 62_000_000)
				c.quickly(func() { c.step(); c.beat() })
			}
		}
	})
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

// playHeat says the passes of a heat, with what goes wrong on a line.
func playHeat(c *handCounter, heat int, start uint64, passes []playedPass, leap func(uint64)) {
	for i, p := range passes {
		ticks := start + uint64(p.ms)*1000
		leap(ticks)
		c.quickly(func() {
			c.step()
			switch {
			case heat == 1 && i%4 == 1: // noise, half a sentence, a foreign one, one with a wrong check
				c.send("\x00\xfe\x80~~\r\n")
				c.send("$LWPAS,9,1,")
				c.send("$GPGLL,5057.970,N,00146.110,E,142451,A*27\r\n")
				c.send("$LWPAS,3,1,2,0,77*00\r\n")
			case heat == 2 && i == 5, heat == 2 && i == 6, heat == 2 && i == 12: // lost on the line
				c.pass(p.lane, ticks, true)
				return
			}
			said := c.pass(p.lane, ticks, false)
			if heat == 3 && i%3 == 0 { // said twice
				c.send(said.sentence)
			}
		})
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
		{{1, false, "Ann", 9, 55300, 5900}, {2, false, "Ben", 9, 60300, 6500}},
		{{1, false, "Cid", 9, 55300, 5900}, {2, false, "Ann", 9, 59600, 6400}},
		{{1, false, "Ben", 10, 58900, 5800}, {2, false, "Cid", 9, 59600, 6400}},
	}
	if len(got.Heats) != len(heats) {
		t.Fatalf("%d heats, want %d", len(got.Heats), len(heats))
	}
	for h, want := range heats {
		if rows := playedRows(got.Heats[h].Results); !reflect.DeepEqual(rows, want) {
			t.Errorf("heat %d:\n got %+v\nwant %+v", h+1, rows, want)
		}
	}
	night := []playedResult{{1, false, "Ben", 19, 119200, 5800}, {2, true, "Ann", 18, 114900, 5900}, {2, true, "Cid", 18, 114900, 5900}}
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
