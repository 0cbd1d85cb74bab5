package store

import (
	"errors"
	"flag"
	"math/rand/v2"
	"strconv"
	"testing"
	"time"
)

var killRounds = flag.Int("kills", 20, "rounds of the kill test: go test -run Kill -kills 300 ./store")

func asSeqError(err error, target **SeqError) bool { return errors.As(err, target) }

// A second process appends and prints what was acknowledged; it is killed at a
// random moment. Everything it printed must be there, numbered without a gap,
// and be what was appended.
func TestKilledProgramLosesNothing(t *testing.T) {
	path := tempStore(t)
	seed := uint64(time.Now().UnixNano())
	rng := rand.New(rand.NewPCG(seed, 1))
	acknowledged, tail := uint64(0), uint64(0)
	for round := range *killRounds {
		cmd := child(t, "append", path)
		out, _ := start(t, cmd)
		// Kill after so many acknowledgements and a little, never by the clock alone:
		// the test must mean something on a slow machine too. The first
		// rounds fall into creation and opening.
		acks, pause := rng.IntN(150), time.Duration(rng.IntN(3000))*time.Microsecond
		if round < 3 {
			acks, pause = 0, pause*time.Duration(round)
		}
		for n := 0; n < acks && out.Scan(); n++ {
			acknowledged = max(acknowledged, number(t, out.Text()))
		}
		time.Sleep(pause)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		for out.Scan() {
			acknowledged = max(acknowledged, number(t, out.Text()))
		}
		_ = cmd.Wait()

		s, err := Open(path, Options{faults: &faults{noReserve: true}})
		if err != nil {
			t.Fatalf("seed %d, round %d: %v", seed, round, err)
		}
		if j, err := s.Night("n"); err == nil {
			if got := uint64(len(readAll(t, j))); got < acknowledged {
				t.Errorf("seed %d, round %d: %d records acknowledged, %d there", seed, round, acknowledged, got)
			} else if got > acknowledged {
				tail++
				acknowledged = got // shown now
			}
		} else if acknowledged > 0 {
			t.Fatalf("seed %d, round %d: %v", seed, round, err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	checkGood(t, path)
	t.Logf("%d kills, %d records, 0 lost; %d times a tail was durable that had not been acknowledged yet", *killRounds, acknowledged, tail)
}

func number(t *testing.T, line string) uint64 {
	n, err := strconv.ParseUint(line, 10, 64)
	if err != nil {
		t.Fatalf("child said %q", line)
	}
	return n
}
