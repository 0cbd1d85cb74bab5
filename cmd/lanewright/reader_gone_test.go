//go:build linux || darwin

package main

import (
	"bufio"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"
)

// TestReaderOfEventsGoesAway closes the pipe of --events in the middle of a heat: the night goes on to its end, and all of it is in
// the store.
func TestReaderOfEventsGoesAway(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	sheet := writePlayed(t, dir, strings.Replace(playedSheet, `length = "6s"`, `length = "2s"`, 1))
	store := filepath.Join(dir, "club.lw")

	c := plugIn(t, 2, 99, running(1))
	c.started = func(start uint64) {
		for i := range uint64(20) {
			at := start + 50_000 + i*100_000
			c.script = append(c.script, scripted{at, func() { c.pass(1+int(i%2), at, false) }})
		}
	}
	stop := make(chan struct{})
	var racing sync.WaitGroup
	defer racing.Wait()
	defer close(stop)
	racing.Go(func() { c.run(stop, 200*time.Millisecond) })

	path, err := exec.LookPath("lanewright")
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(path, "night", "run", sheet, "--port", c.port, "--store", store, "--night", "gone", "--headless", "--events")
	cmd.Env = append(os.Environ(), "HOME="+dir)
	var said strings.Builder
	cmd.Stderr = &said
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() {
		lines := bufio.NewScanner(out)
		for lines.Scan() && !isEvent("pass")(lines.Text()) {
		}
		_ = out.Close()
		ended <- cmd.Wait()
	}()
	t.Cleanup(func() { _ = cmd.Process.Kill() })

	select {
	case err = <-ended:
	case <-time.After(patience):
		t.Fatalf("the night has not ended after %v; it said %q", patience, said.String())
	}
	if err != nil {
		t.Fatalf("the night ended with %v; it said %q", err, said.String())
	}
	if !strings.Contains(said.String(), "nobody reads the events any more") {
		t.Errorf("it said %q, nothing of the reader who is gone", said.String())
	}
	passes, accepted := 0, 0
	for _, line := range strings.Split(run1(t, "night", "events", store), "\n") {
		if isEvent("pass")(line) {
			passes++
		}
		if isEvent("accepted")(line) {
			accepted++
		}
	}
	if passes != len(c.passes) || accepted != 3 {
		t.Errorf("the store has %d passes and %d heats, the counter made %d passes in 3", passes, accepted, len(c.passes))
	}
}
