package listen

import (
	"context"
	"errors"
	"path/filepath"
	"runtime"
	"slices"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"lanewright/timing"
	"lanewright/timing/bench"
	"lanewright/timing/port"
)

func TestFirstOpen(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("other names there")
	}
	_, err := Listen(context.Background(), Config{Port: port.Config{Name: filepath.Join(t.TempDir(), "none")}})
	if !errors.Is(err, port.ErrNone) {
		t.Errorf("%v", err)
	}
}

func TestPatience(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := bench.New(bench.Config{Boot: 1})
		var plugged atomic.Bool
		dial := func() (port.Conn, error) {
			if !plugged.Load() {
				return nil, errors.New("not there")
			}
			return k.Dial()
		}
		s, err := Listen(context.Background(), Config{Port: port.Config{Dial: dial}, Patient: true})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := s.PowerAt(1, time.Second); err == nil {
			t.Error("a time was given to an unknown clock")
		}
		time.Sleep(time.Minute)
		plugged.Store(true)
		var states []timing.State
		until(t, s, func(m timing.Message) bool {
			p, ok := m.(timing.Port)
			if ok {
				states = append(states, p.State)
			}
			return ok && p.State == timing.Talking
		})
		if want := []timing.State{timing.Opening, timing.Lost, timing.Silent, timing.Talking}; !slices.Equal(states, want) {
			t.Errorf("states %v, want %v", states, want)
		}
		s.Close()
	})
}

// TestOnePort opens a pseudo-terminal by the serial library itself.
func TestOnePort(t *testing.T) {
	pty, err := bench.OpenPty()
	if err != nil {
		t.Skip(err)
	}
	if _, err := pty.Master.Write([]byte("stale bytes from before")); err != nil {
		t.Fatal(err)
	}
	conn, err := port.Open(port.Config{Name: pty.Name, Mode: port.Mode{Baud: 9600}})
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	buf := make([]byte, 100)
	if n, err := conn.Read(buf); n != 0 || err != nil { // nothing for a while is no error
		t.Errorf("read %q, %v", buf[:n], err)
	}
	if _, err := pty.Master.Write([]byte("fresh\x00\n\r")); err != nil {
		t.Fatal(err)
	}
	var got []byte
	for len(got) < 8 {
		n, err := conn.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, buf[:n]...)
	}
	if string(got) != "fresh\x00\n\r" { // a fresh terminal would have edited it
		t.Errorf("read %q", got)
	}
	if _, err := conn.Write([]byte("\r\n\x03out")); err != nil {
		t.Fatal(err)
	}
	got = got[:0]
	for len(got) < 6 {
		n, err := pty.Master.Read(buf)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, buf[:n]...)
	}
	if string(got) != "\r\n\x03out" {
		t.Errorf("the counter reads %q", got)
	}
	pty.Close()
	for { // bytes may still be there, then an error must come
		if _, err := conn.Read(buf); err != nil {
			break
		}
	}
}
