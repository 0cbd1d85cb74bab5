package listen

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lanewright/timing"
	"lanewright/timing/bench"
	"lanewright/timing/port"
)

// torn is a line that is cut after so many bytes, in the middle of a write.
type torn struct {
	io.ReadWriter
	left int
	cut  func()
}

func (t *torn) Write(b []byte) (int, error) {
	if len(b) < t.left {
		t.left -= len(b)
		return t.ReadWriter.Write(b)
	}
	n, _ := t.ReadWriter.Write(b[:t.left])
	t.left = 0
	t.cut()
	return n, io.ErrClosedPipe
}

// replug makes a new pseudo-terminal stand under the stable name.
func replug(t *testing.T, name string) *bench.Pty {
	t.Helper()
	p, err := bench.OpenPty()
	if err != nil {
		t.Skip(err)
	}
	if err := os.Symlink(p.Name, name+".new"); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(name+".new", name); err != nil {
		t.Fatal(err)
	}
	return p
}

// collect reads messages until enough says so, or fails after a minute.
func collect(t *testing.T, s *Source, all *[]timing.Message, enough func(m timing.Message) bool) {
	t.Helper()
	limit := time.After(time.Minute)
	for {
		select {
		case m, ok := <-s.Messages():
			if !ok {
				t.Fatal("the source ended")
			}
			*all = append(*all, m)
			if enough(m) {
				return
			}
		case <-limit:
			t.Fatalf("waited a minute; heard %d messages, the last %+v", len(*all), (*all)[max(0, len(*all)-5):])
		}
	}
}

// TestUnplugged pulls the plug fifty times in the middle of a sentence while
// cars go on passing, over a real serial device opened by the serial library.
// Nothing may be lost, nothing come twice, and the clock must go on.
func TestUnplugged(t *testing.T) {
	times := 50
	if testing.Short() {
		times = 10
	}
	name := filepath.Join(t.TempDir(), "counter")
	pty := replug(t, name)
	// Lanes lap in 1.0 to 1.3 s, sixty times as fast: 200 passes a second. The ring
	// is deep enough for a machine that stalls.
	laps := func(_, lane, _ int) time.Duration { return time.Duration(900+100*lane) * time.Millisecond }
	k := bench.New(bench.Config{Boot: 4, Speed: 60, Ring: 8192, Laps: laps})
	run := func(pty *bench.Pty, bytes int) chan error {
		done := make(chan error, 1)
		go func() {
			done <- k.Run(context.Background(), &torn{pty.Master, bytes, func() { pty.Close() }})
		}()
		return done
	}
	done := run(pty, 600)
	s, err := Listen(context.Background(), Config{
		Port:  port.Config{Name: name, RetryMin: 2 * time.Millisecond, RetryMax: 10 * time.Millisecond},
		Speed: 60,
	})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var all []timing.Message
	collect(t, s, &all, func(m timing.Message) bool { _, ok := m.(timing.Status); return ok })
	if _, err := s.Power(15); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Lamps(0, timing.Start); err != nil {
		t.Fatal(err)
	}
	collect(t, s, &all, func(m timing.Message) bool { _, ok := m.(timing.LampAck); return ok })
	for i := range times {
		if err := <-done; err == nil {
			t.Fatal("the line was not cut")
		}
		collect(t, s, &all, func(m timing.Message) bool { p, ok := m.(timing.Port); return ok && p.State == timing.Lost })
		// Time goes on without a line; Run hears of it when it starts again.
		time.Sleep(30 * time.Millisecond)
		pty = replug(t, name)
		done = run(pty, 300+7*i) // always elsewhere in a sentence
	}
	err = <-done
	pty = replug(t, name)
	done = run(pty, 1<<30)
	var last uint64
	collect(t, s, &all, func(m timing.Message) bool {
		b, ok := m.(timing.Beat)
		if ok && last == 0 {
			last = b.Last
		}
		return ok && b.Last > last
	})
	got := passes(all)
	compare(t, k.Made(), got)
	if uint64(len(got)) < last {
		t.Errorf("%d passes heard, the counter made %d", len(got), last)
	}
	again, lost := 0, 0
	for _, m := range all {
		switch m := m.(type) {
		case timing.Pass:
			if m.Again {
				again++
			}
			if m.Segment != 1 {
				t.Fatalf("segment %d: %+v", m.Segment, m)
			}
		case timing.Missing:
			t.Errorf("%+v", m)
		case timing.Port:
			if m.State == timing.Lost {
				lost++
			}
		}
	}
	if lost < times || again < times {
		t.Errorf("%d times lost, %d passes asked for again", lost, again)
	}
	t.Logf("unplugged %d times (%v); %d passes, %d of them on request, none lost", lost, err, len(got), again)
	pty.Close()
	<-done
}
