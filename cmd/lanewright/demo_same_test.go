package main

import (
	"encoding/json"
	"strings"
	"sync"
	"testing"
)

// TestDemoSameSeedSameNight runs the demo's night in several processes at once, at different speeds: the same seed gives the same
// bytes however busy the machine is, and another seed another night.
func TestDemoSameSeedSameNight(t *testing.T) {
	t.Parallel()
	runs := []struct{ seed, speed string }{{"7", "60"}, {"7", "150"}, {"7", "600"}, {"8", "600"}}
	if testing.Short() {
		runs = runs[1:]
	}
	printed := make([]string, len(runs))
	var all sync.WaitGroup
	for i, r := range runs {
		p := launch(t, "demo", "--headless", "--json", "--speed", r.speed, "--seed", r.seed)
		all.Go(func() {
			<-p.done
			printed[i] = strings.Join(p.printed(), "\n")
			if p.err != nil {
				t.Errorf("seed %s at speed %s: %v; it said %q", r.seed, r.speed, p.err, p.complaint())
			}
		})
	}
	all.Wait()
	if t.Failed() {
		return
	}
	var got resultsAnswer
	if err := json.Unmarshal([]byte(printed[0]), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Heats) != 7 || len(got.Standings) != 7 || got.Standings[0].Laps < 20 {
		t.Errorf("that was no whole night: %s", printed[0])
	}
	last := len(runs) - 1
	for i, r := range runs[:last] {
		if printed[i] != printed[0] {
			t.Errorf("seed %s at speed %s gives another night than at speed %s:\n%s\n%s", r.seed, r.speed, runs[0].speed, printed[i], printed[0])
		}
	}
	if printed[last] == printed[0] {
		t.Error("another seed gives the same night")
	}
}
