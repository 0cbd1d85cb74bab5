//go:build linux || darwin

package main

import (
	"encoding/json"
	"flag"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

var (
	killRounds = flag.Int("kill-rounds", 20, "so many times the program is killed in the middle of a heat")
	killSeed   = flag.Uint64("kill-seed", 0, "of the moments at which it is killed; 0 takes one from the clock")
)

const killedSheet = `
title = "Lights out"
layout = "oval.toml"
[card]
kind = "timed"
length = "20m"
lap_min = "2ms"
coast = "0.5s"
grid = "before"
part_of = 0
countdown = "0.2s"
hold_max = "0s"
pause = "0.1s"
power = true
[rotation]
kind = "rolling"
[[driver]]
name = "Ann"
[[driver]]
name = "Ben"
`

// TestKilledNight kills the program again and again while a heat is driven, and starts it again with the same store and the same
// counter, which has gone on counting. In the end every pass that was ever shown counts, none counts twice, and those that nobody
// heard because no program ran have been asked for.
func TestKilledNight(t *testing.T) {
	if testing.Short() {
		t.Skip("twenty starts of the program")
	}
	t.Parallel()
	seed := *killSeed
	if seed == 0 {
		seed = uint64(time.Now().UnixNano())
	}
	t.Logf("moments from -kill-seed=%d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))

	dir := t.TempDir()
	sheet := writePlayed(t, dir, killedSheet)
	store := filepath.Join(dir, "club.lw")

	// The counter's clock runs as ours; at the end of each heat it leaps.
	real, leapt := running(1), uint64(0)
	var clock sync.Mutex
	read := func() uint64 {
		clock.Lock()
		defer clock.Unlock()
		return real() + leapt
	}
	leap := func(by uint64) {
		clock.Lock()
		defer clock.Unlock()
		leapt += by
	}
	c := plugIn(t, 2, 815, read)
	driving, last := false, false // both under the counter's lock; last: every heat from now on is over at once
	c.started = func(uint64) { driving = true }
	stop := make(chan struct{})
	var racing sync.WaitGroup
	defer racing.Wait()
	defer close(stop)
	racing.Go(func() {
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for n := 1; ; n++ {
			select {
			case <-stop:
				return
			case <-tick.C:
			}
			c.quickly(func() {
				now := c.catchUp()
				if driving {
					c.pass(1+n%2, now, false)
				}
				if n%20 == 0 {
					c.beat()
				}
				if driving && last {
					driving = false
					leap(20*60*1e6 + 1e6)
					c.beat()
				}
			})
		}
	})

	args := []string{"night", "run", sheet, "--port", c.port, "--store", store, "--night", "killed", "--headless", "--events"}
	shown := map[uint64]eventLine{} // by number of the pass
	twice := 0
	take := func(p *process) (passes int) {
		for _, line := range p.printed() {
			if !isEvent("pass")(line) {
				continue
			}
			e := parseEvent(t, line)
			if _, ok := shown[e.Number]; ok {
				twice++
				t.Errorf("pass %d was shown twice", e.Number)
			}
			shown[e.Number] = e
			passes++
		}
		return passes
	}
	var perRound []int
	for round := range *killRounds {
		c.quickly(func() { c.letGo(); c.deaf = false })
		p := launch(t, args...)
		if round == 0 {
			p.await("the start of the heat", 0, isEvent("went"))
		}
		// Sometimes it is killed while it still opens store and port, sometimes after it has told a while.
		if rng.IntN(4) > 0 {
			p.await("a pass", 0, isEvent("pass"))
		}
		time.Sleep(time.Duration(rng.Int64N(int64(400 * time.Millisecond))))
		p.kill()
		c.quickly(func() { c.deaf = true })
		if code := p.cmd.ProcessState.ExitCode(); code != -1 {
			t.Fatalf("round %d: it ended by itself with code %d before it was killed; it said %q", round+1, code, p.complaint())
		}
		perRound = append(perRound, take(p))
	}

	// The last time it may go on to the end of the night.
	c.quickly(func() { c.letGo(); c.deaf = false })
	p := launch(t, args...)
	p.await("a pass", 0, isEvent("pass"))
	c.quickly(func() { last = true })
	if code := p.end(); code != 0 {
		t.Fatalf("exit code %d; it said %q", code, p.complaint())
	}
	perRound = append(perRound, take(p))

	kept := map[uint64]eventLine{}
	again := 0
	laps, ended := map[int]int{1: -1, 2: -1}, false // of heat 1 by lane, from the passes: the first one only starts lap 1
	for _, line := range strings.Split(strings.TrimSpace(run1(t, "night", "events", store)), "\n") {
		if isEvent("passes-missing")(line) {
			t.Errorf("passes are missing: %s", line)
		}
		ended = ended || isEvent("finished")(line)
		if !isEvent("pass")(line) {
			continue
		}
		e := parseEvent(t, line)
		if !ended {
			laps[e.Lane]++
		}
		if _, ok := kept[e.Number]; ok {
			t.Errorf("pass %d is in the journal twice", e.Number)
		}
		if e.Again {
			again++
		}
		kept[e.Number] = e
	}
	for number, e := range shown {
		k, ok := kept[number]
		if !ok || k.N != e.N || k.Ticks != e.Ticks || k.Lane != e.Lane || k.Raw != e.Raw {
			t.Errorf("pass %d was shown as %+v and the journal has %+v", number, e, k)
		}
	}

	var results resultsAnswer
	if err := json.Unmarshal([]byte(run1(t, "night", "show", store, "--json")), &results); err != nil {
		t.Fatal(err)
	}
	made := 0
	c.quickly(func() {
		for _, p := range c.passes {
			made++
			if k, ok := kept[p.number]; !ok || k.Ticks != c.wrapped(p.ticks) || k.Lane != p.lane {
				t.Errorf("the counter made pass %+v, the journal has %+v", p, k)
			}
		}
	})
	got := map[int]int{}
	for _, r := range results.Heats[0].Results {
		got[r.Driver] = r.Laps // Ann, 1, on lane 1, Ben, 2, on lane 2
	}
	if got[1] != laps[1] || got[2] != laps[2] {
		t.Errorf("heat 1 has %v laps, the passes make %v", got, laps)
	}
	t.Logf("killed %d times: the counter made %d passes, %d were shown, %d shown twice, %d kept, %d of them said again; shown per round %v",
		*killRounds, made, len(shown), twice, len(kept), again, perRound)
}
