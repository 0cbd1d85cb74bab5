package store

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"testing"
)

// Some tests need a second process. The test binary plays it: with the name of
// a part in this variable it runs that part instead of the tests.
const childVar = "LANEWRIGHT_STORE_CHILD"

var children = map[string]func(args []string) error{
	"append": childAppend,
	"hold":   childHold,
}

func TestMain(m *testing.M) {
	if part := os.Getenv(childVar); part != "" {
		if err := children[part](os.Args[1:]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// child prepares the test binary as a second process playing part.
func child(t testing.TB, part string, args ...string) *exec.Cmd {
	t.Helper()
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), exe, args...)
	cmd.Env = append(os.Environ(), childVar+"="+part)
	cmd.Stderr = os.Stderr
	return cmd
}

// start starts cmd and returns its output and its input.
func start(t testing.TB, cmd *exec.Cmd) (*bufio.Scanner, io.WriteCloser) {
	t.Helper()
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	return bufio.NewScanner(out), in
}

// childHold opens a store and keeps it until its input ends.
func childHold(args []string) error {
	s, err := Open(args[0], Options{Program: "lane-test"})
	if err != nil {
		return err
	}
	fmt.Println("open")
	_, _ = io.Copy(io.Discard, os.Stdin)
	return s.Close()
}

// childAppend appends to night "n" for ever, from several goroutines, and
// prints each number after it was acknowledged.
func childAppend(args []string) error {
	s, err := Open(args[0], Options{faults: &faults{noReserve: true}})
	if err != nil {
		return err
	}
	j, err := s.Night("n")
	if err != nil {
		if j, err = s.CreateNight(ctx, "n", nil); err != nil {
			return err
		}
	}
	// One goroutine numbers, so that every record can be its number's sample;
	// the appends of one number each then overlap.
	numbers, failed := make(chan uint64), make(chan error)
	for range 4 {
		go func() {
			for n := range numbers {
				for {
					_, err := j.Append(ctx, sample(n))
					var gap *SeqError
					if asSeqError(err, &gap) && gap.Seq > gap.Next {
						continue // overtook the one before
					}
					if err != nil {
						failed <- err
						return
					}
					break
				}
				fmt.Println(n) // one write, unbuffered
			}
		}()
	}
	for n := j.Last() + 1; ; n++ {
		select {
		case numbers <- n:
		case err := <-failed:
			return err
		}
		if n%64 == 0 {
			if _, err := s.Put(ctx, KindClub, "club", fmt.Appendf(nil, "%d", n)); err != nil {
				return err
			}
			if err := s.Checkpoint(); err != nil {
				return err
			}
		}
	}
}
