package port

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"go.bug.st/serial"

	"lanewright/timing"
)

// log is a sink that writes down what it gets.
type log struct {
	mu    sync.Mutex
	start time.Time
	lines []string
}

func (l *log) add(at time.Time, format string, args ...any) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.lines = append(l.lines, fmt.Sprintf("%v ", at.Sub(l.start))+fmt.Sprintf(format, args...))
}
func (l *log) Heard(at time.Time, b []byte) { l.add(at, "heard %q", b) }
func (l *log) Port(at time.Time, s timing.State, detail string) {
	l.add(at, "%v: %s", s, detail)
}
func (l *log) all() []string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return slices.Clone(l.lines)
}

// script is a line that gives one answer for each read.
type script struct {
	reads  []string // "" is a read that waits in vain, "!x" an error
	wrote  chan string
	closed *int
	modem  func() byte
}

func (s *script) Read(b []byte) (int, error) {
	if len(s.reads) == 0 || s.reads[0] == "" {
		time.Sleep(PollEvery)
		if len(s.reads) > 0 {
			s.reads = s.reads[1:]
		}
		return 0, nil
	}
	r := s.reads[0]
	s.reads = s.reads[1:]
	if r[0] == '!' {
		if r == "!panic" {
			panic("index out of range")
		}
		return 0, errors.New(r[1:])
	}
	return copy(b, r), nil
}

func (s *script) Write(b []byte) (int, error) {
	if s.wrote == nil {
		return 0, io.ErrClosedPipe
	}
	n := min(len(b), 3) // a device may take only part of it
	s.wrote <- string(b[:n])
	return n, nil
}

func (s *script) Close() error { *s.closed++; return nil }

func (s *script) GetModemStatusBits() (*serial.ModemStatusBits, error) {
	if s.modem == nil {
		return nil, errors.New("inappropriate ioctl for device")
	}
	v := s.modem()
	return &serial.ModemStatusBits{CTS: v&1 > 0, DSR: v&2 > 0, RI: v&4 > 0, DCD: v&8 > 0}, nil
}

func TestKeepsOpenForEver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &log{start: time.Now()}
		opened, closed := 0, 0
		lines := [][]string{{"a", "", "b", "!input/output error"}, {"c", "!panic"}, nil, nil, nil, {"d", ""}}
		dial := func() (Conn, error) {
			opened++
			if len(lines) == 0 {
				return nil, errors.New("nothing there")
			}
			reads := lines[0]
			lines = lines[1:]
			if reads == nil {
				return nil, errors.New("nothing there")
			}
			return &script{reads: reads, closed: &closed}, nil
		}
		k := Keep(Config{Name: "x", Dial: dial}, nil, l)
		time.Sleep(6 * time.Second)
		k.Close()
		want := []string{
			"0s opening: x",
			"0s silent: x", `0s heard "a"`, `100ms heard "b"`, "100ms lost: the line was cut: input/output error",
			"350ms silent: x", `350ms heard "c"`, "350ms lost: reading the port: index out of range",
			"600ms lost: port x: the port cannot be used (nothing there): expected a serial port; `lanewright counter ports` lists the ports there are",
			"3.1s silent: x", `3.1s heard "d"`, // waits of 250 ms, 250, 500, 1 s, 1 s
			"6s closed: ",
		}
		if got := l.all(); !slices.Equal(got, want) {
			t.Errorf("got\n%q\nwant\n%q", got, want)
		}
		if opened != 6 || closed != 3 {
			t.Errorf("opened %d times, closed %d times", opened, closed)
		}
		k.Close() // again does nothing
	})
}

func TestSayNeverBlocks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		closed := 0
		s := &script{wrote: make(chan string), closed: &closed}
		k := Keep(Config{Name: "x"}, s, &log{start: time.Now()})
		synctest.Wait()
		if err := k.Say([]byte("hello")); err != nil {
			t.Error(err)
		}
		synctest.Wait()
		full := 0
		for range 2 * queueMax { // the device takes nothing
			if errors.Is(k.Say([]byte("x")), ErrFull) {
				full++
			}
		}
		if full != queueMax {
			t.Errorf("refused %d of %d", full, 2*queueMax)
		}
		if got := <-s.wrote + <-s.wrote; got != "hello" {
			t.Errorf("wrote %q", got)
		}
		go func() { // let the rest go, so that the bubble ends
			for range s.wrote {
			}
		}()
		k.Close()
		if !errors.Is(k.Say([]byte("x")), ErrNotOpen) || closed != 1 {
			t.Error("said something to a closed line")
		}
		close(s.wrote)
	})
}

func TestModemLinesBecomeBytes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		closed := 0
		start := time.Now()
		l := &log{start: start}
		s := &script{closed: &closed, modem: func() byte {
			switch ms := time.Since(start).Milliseconds(); {
			case ms < 20:
				return 0
			case ms < 40:
				return 0b1010
			}
			return 0b0010
		}}
		k := Keep(Config{Name: "x", ModemPoll: 5 * time.Millisecond}, s, l)
		time.Sleep(time.Second)
		k.Close()
		want := []string{"0s opening: x", "0s silent: x", `0s heard "\x00"`, `20ms heard "\n"`, `40ms heard "\x02"`, "1s closed: "}
		if got := l.all(); !slices.Equal(got, want) {
			t.Errorf("got %q", got)
		}
	})
}

// hush is a sink that counts.
type hush struct{ n, chunks int }

func (h *hush) Heard(_ time.Time, b []byte)          { h.n += len(b); h.chunks++ }
func (h *hush) Port(time.Time, timing.State, string) {}

// endless gives 100 bytes at every read.
type endless struct{ left int }

func (e *endless) Read(b []byte) (int, error) {
	if e.left == 0 {
		return 0, io.EOF
	}
	e.left--
	return copy(b, bytes.Repeat([]byte{'x'}, 100)), nil
}
func (e *endless) Write(b []byte) (int, error) { return len(b), nil }
func (e *endless) Close() error                { return nil }

func BenchmarkHandOver(b *testing.B) {
	h := &hush{}
	k := &Keeper{c: Config{}.filled(), sink: h, stop: make(chan struct{})}
	b.ReportAllocs()
	b.ResetTimer()
	_ = k.use(&endless{b.N})
	if h.chunks != b.N {
		b.Fatal(h.chunks)
	}
}
