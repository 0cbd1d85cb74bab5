//go:build linux || darwin

package main

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/charmbracelet/x/term"
	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// eveningCounter is the hand-made counter of an evening whose every pass the test decides. Between heats its clock runs with ours;
// from the moment a heat starts, or goes on, it stands still and moves only where the test puts it, so that no lap depends on how busy
// the machine is. Its line has a name of its own that outlives the pseudo-terminal behind it.
type eveningCounter struct {
	*handCounter
	t    *testing.T
	name string // what the program opens: a symbolic link

	tick struct {
		sync.Mutex
		now     uint64
		running bool
		real    time.Time
	}

	// Of the heat being driven, guarded by handCounter.mu.
	going  bool   // between a start and the end
	start  uint64 // tick of go
	held   uint64 // sum of the holds
	heldAt uint64 // tick of the hold, 0 if none
	lamps  string // the answers seen last
	power  string
	began  int // heats started so far
	backs  int // times a heat went on
}

// newEveningCounter puts the counter on its line and lets its clock run.
func newEveningCounter(t *testing.T, name string, lanes int) *eveningCounter {
	t.Helper()
	e := &eveningCounter{t: t, name: name}
	e.tick.now, e.tick.running, e.tick.real = 7_000_000, true, time.Now()
	e.handCounter = plugIn(t, lanes, 4242, e.read)
	if err := os.Symlink(e.port, name); err != nil {
		t.Fatal(err)
	}
	stop, stopped := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(stopped)
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for n := 0; ; n++ {
			select {
			case <-stop:
				return
			case <-tick.C:
				e.quickly(func() {
					e.pace()
					if n%40 == 0 {
						e.beat()
					}
				})
			}
		}
	}()
	t.Cleanup(func() {
		close(stop)
		<-stopped
		_ = os.Remove(name)
	})
	return e
}

func (e *eveningCounter) read() uint64 {
	e.tick.Lock()
	defer e.tick.Unlock()
	return e.tick.now
}

// put sets the clock; it never goes back.
func (e *eveningCounter) put(now uint64, running bool) {
	e.tick.Lock()
	defer e.tick.Unlock()
	e.tick.now, e.tick.running, e.tick.real = max(now, e.tick.now), running, time.Now()
}

// pace lets the clock run as far as real time went, stopping at every order to be done on the way; mu is held.
func (e *eveningCounter) pace() {
	e.tick.Lock()
	to, running := e.tick.now, e.tick.running
	if running {
		to += uint64(time.Since(e.tick.real).Microseconds())
	}
	e.tick.Unlock()
	if running {
		e.reach(to, true)
	}
	e.notice()
}

// reach moves the clock to a tick by way of all that is to be done before; mu is held. It ends early if the clock was stopped there.
func (e *eveningCounter) reach(to uint64, running bool) {
	for {
		next := to
		for _, kind := range []string{"LWSPW", "LWSLM"} {
			if o, ok := e.waiting[kind]; ok {
				next = min(next, o.at)
			}
		}
		e.put(next, running)
		e.catchUp()
		e.notice()
		e.tick.Lock()
		turned := e.tick.running != running
		e.tick.Unlock()
		if turned || next == to {
			return
		}
	}
}

// notice reads from its own answers whether a heat started, was held or went on; mu is held.
func (e *eveningCounter) notice() {
	ticks := func(words string) uint64 {
		n, _ := strconv.ParseUint(words[strings.LastIndexByte(words, ',')+1:], 10, 64)
		return n
	}
	if a := e.last["LWSLM"].words; a != e.lamps {
		e.lamps = a
		switch f := strings.Split(a, ","); f[3] {
		case "1":
			e.going, e.start, e.held, e.heldAt = true, ticks(a), 0, 0
			e.began++
			e.put(0, false)
		case "2":
			e.held += ticks(a) - e.heldAt
			e.heldAt = 0
			e.backs++
			e.put(0, false)
		}
	}
	if a := e.last["LWSPW"].words; a != e.power {
		e.power = a
		if e.going && e.heldAt == 0 && strings.Trim(strings.Split(a, ",")[2], "0") == "" {
			e.heldAt = ticks(a)
			e.put(0, true)
		}
	}
}

// started waits until so many heats have been started, wentOn until so many times a heat went on.
func (e *eveningCounter) started(n int) { e.until("a start", func() bool { return e.began >= n }) }
func (e *eveningCounter) wentOn(n int)  { e.until("going on", func() bool { return e.backs >= n }) }
func (e *eveningCounter) stopped() {
	e.until("the power to go off", func() bool { return e.heldAt != 0 })
}

func (e *eveningCounter) until(what string, is func() bool) {
	e.t.Helper()
	limit := time.Now().Add(patience)
	for {
		ok := false
		e.quickly(func() { ok = is() })
		if ok {
			return
		}
		if time.Now().After(limit) {
			e.t.Fatalf("the counter has waited %v for %s", patience, what)
		}
		time.Sleep(5 * time.Millisecond)
	}
}

// at is the tick of a driven time of the heat in milliseconds; mu is held.
func (e *eveningCounter) at(ms int) uint64 { return e.start + e.held + uint64(ms)*1000 }

// drive says a car's pass at a driven time.
func (e *eveningCounter) drive(lane, ms int) {
	e.quickly(func() {
		e.reach(e.at(ms), false)
		e.pass(lane, e.at(ms), false)
	})
}

// over lets the heat end: the clock runs past its length, and on.
func (e *eveningCounter) over(ms int) {
	e.quickly(func() {
		to := e.at(ms)
		e.reach(to, false)
		e.going, e.heldAt = false, 0 // the power that goes off now is that of the end
		e.reach(to, false)
		e.put(0, true)
		e.beat()
	})
}

// push is a car pushed over the line by hand between heats.
func (e *eveningCounter) push(lane int) {
	e.quickly(func() { e.pace(); e.pass(lane, e.read(), false) })
}

// unplug takes the line away, name first, so that nobody else's terminal is opened in its place.
func (e *eveningCounter) unplug() {
	_ = os.Remove(e.name)
	e.quickly(func() {
		e.deaf = true
		_ = e.master.Close()
		_ = e.slave.Close()
	})
}

// plugAgain brings the line back under the same name.
func (e *eveningCounter) plugAgain() {
	e.t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		e.t.Fatal(err)
	}
	if _, err := term.MakeRaw(slave.Fd()); err != nil {
		e.t.Fatal(err)
	}
	fd, err := unix.Dup(int(master.Fd()))
	if err != nil {
		e.t.Fatal(err)
	}
	unix.CloseOnExec(fd)
	if err := unix.SetNonblock(fd, true); err != nil {
		e.t.Fatal(err)
	}
	_ = master.Close()
	e.quickly(func() {
		e.master, e.slave, e.port, e.deaf = os.NewFile(uintptr(fd), "master"), slave, slave.Name(), false
	})
	heard := make(chan struct{})
	go func() {
		defer close(heard)
		e.listen()
	}()
	e.t.Cleanup(func() {
		_ = os.Remove(e.name)
		_ = e.master.Close()
		_ = e.slave.Close()
		<-heard
	})
	if err := os.Symlink(slave.Name(), e.name); err != nil {
		e.t.Fatal(err)
	}
}

func (e *eveningCounter) String() string {
	return fmt.Sprintf("started %d, went on %d, held at %d, clock %d, asked again %v, answered %v, waiting %v", e.began, e.backs, e.heldAt, e.read(), e.asked, e.last, e.waiting)
}
