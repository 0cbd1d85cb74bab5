//go:build linux || darwin

package main

import (
	"fmt"
	"io"
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

// handCounter is a lap counter on the far end of a pseudo-terminal, written from the specification of the sentences alone (the
// package comment of timing/wire) and sharing no code with the program.
type handCounter struct {
	port   string // what the program opens
	master *os.File
	slave  *os.File // held open, so that the line lives while no program has it
	boot   uint64
	bits   uint
	lanes  int
	slowly bool // one byte at a time

	mu      sync.Mutex
	clock   func() uint64 // unwrapped ticks, microseconds
	deaf    bool          // nobody has the port open: what is said is lost
	serial  uint64
	passes  []handPass
	script  []scripted            // what is going to happen, in the order of ticks
	waiting map[string]timedOrder // by kind
	last    map[string]answer     // the answer given last, by kind
	asked   []uint64              // the numbers from which it was asked to say passes again
	started func(ticks uint64)    // called when a heat is started; mu is held
}

type handPass struct {
	number   uint64
	lane     int
	ticks    uint64 // unwrapped
	sentence string
}

// scripted is something that happens at a tick.
type scripted struct {
	at uint64 // unwrapped
	do func()
}

type timedOrder struct {
	id, what string
	at       uint64 // unwrapped
}

type answer struct{ id, words string }

// running is a clock in microseconds that shows from now.
func running(from uint64) func() uint64 {
	began := time.Now()
	return func() uint64 { return from + uint64(time.Since(began).Microseconds()) }
}

// plugIn makes the line and starts to listen. clock tells the counter's time in microseconds, ever upwards.
func plugIn(t testing.TB, lanes int, boot uint64, clock func() uint64) *handCounter {
	t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := term.MakeRaw(slave.Fd()); err != nil {
		t.Fatal(err)
	}
	fd, err := unix.Dup(int(master.Fd()))
	if err != nil {
		t.Fatal(err)
	}
	unix.CloseOnExec(fd)
	if err := unix.SetNonblock(fd, true); err != nil { // so that closing it ends a read
		t.Fatal(err)
	}
	c := &handCounter{
		port: slave.Name(), master: os.NewFile(uintptr(fd), "master"), slave: slave, boot: boot, bits: 32, lanes: lanes, clock: clock,
		waiting: map[string]timedOrder{}, last: map[string]answer{}, started: func(uint64) {},
	}
	_ = master.Close()
	heard := make(chan struct{})
	go func() {
		defer close(heard)
		c.listen()
	}()
	t.Cleanup(func() {
		_ = c.master.Close()
		_ = c.slave.Close()
		<-heard
	})
	return c
}

// letGo takes back the exclusive use that a killed program had of the line: a real device forgets it when the last program closes
// it, but ours is held open from here.
func (c *handCounter) letGo() {
	_ = unix.IoctlSetInt(int(c.slave.Fd()), unix.TIOCNXCL, 0)
}

// framed puts a sentence between dollar sign and check.
func framed(words string) string {
	check := byte(0)
	for _, b := range []byte(words) {
		check ^= b
	}
	return fmt.Sprintf("$%s*%02X\r\n", words, check)
}

// say sends a sentence; mu is held.
func (c *handCounter) say(format string, args ...any) { c.send(framed(fmt.Sprintf(format, args...))) }

// send puts bytes on the line as they are. What the other side does not take in time is lost, as it is on a serial line.
func (c *handCounter) send(text string) {
	if c.deaf {
		return
	}
	_ = c.master.SetWriteDeadline(time.Now().Add(patience))
	if !c.slowly {
		_, _ = io.WriteString(c.master, text)
		return
	}
	for i := range len(text) {
		_, _ = io.WriteString(c.master, text[i:i+1])
	}
}

func (c *handCounter) wrapped(ticks uint64) uint64 { return ticks & (1<<c.bits - 1) }

// pass counts a car and, unless it is to be lost on the line, says so; mu is held.
func (c *handCounter) pass(lane int, ticks uint64, lost bool) handPass {
	c.serial++
	p := handPass{c.serial, lane, ticks, framed(fmt.Sprintf("LWPAS,%d,1,%d,0,%d", c.serial, lane, c.wrapped(ticks)))}
	c.passes = append(c.passes, p)
	if !lost {
		c.send(p.sentence)
	}
	return p
}

// beat is the sign of life; mu is held.
func (c *handCounter) beat() {
	now := c.catchUp()
	c.say("LWBEA,%d,%d,%d", c.boot, c.serial, c.wrapped(now))
}

// listen obeys until the line is closed.
func (c *handCounter) listen() {
	var line []byte
	buf := make([]byte, 256)
	for {
		n, err := c.master.Read(buf)
		if err != nil {
			return
		}
		for _, b := range buf[:n] {
			switch {
			case b == '$':
				line = line[:0]
			case b == '\r':
			case b == '\n':
				c.command(string(line))
				line = line[:0]
			case len(line) < 80:
				line = append(line, b)
			}
		}
	}
}

// command obeys one sentence.
func (c *handCounter) command(line string) {
	words, _, ok := strings.Cut(line, "*")
	if !ok || framed(words) != "$"+line+"\r\n" {
		return // damaged: it will be repeated
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	now := c.catchUp()
	f := strings.Split(words, ",")
	switch f[0] {
	case "LWQCP":
		c.say("LWCAP,1,%d,hand counter,%d,1,1000000,1,%d,100000,1,5", c.boot, c.lanes, c.bits)
	case "LWAGN":
		from, _ := strconv.ParseUint(f[1], 10, 64)
		c.asked = append(c.asked, from)
		first := c.serial + 1
		for _, p := range c.passes {
			if p.number >= from {
				first = min(first, p.number)
				c.send(p.sentence)
			}
		}
		c.say("LWEND,%d,%d,%d", from, first, c.serial)
	case "LWSPW", "LWSLM":
		fields := 3
		if f[0] == "LWSLM" {
			fields = 4
		}
		what := strings.Join(f[2:fields], ",")
		switch {
		case c.last[f[0]].id == f[1]:
			c.say("%s", c.last[f[0]].words)
		case c.waiting[f[0]].id == f[1]:
			c.say("LWNTD,%s", f[1])
		case len(f) > fields:
			at, _ := strconv.ParseUint(f[fields], 10, 64)
			ahead := c.wrapped(at - now)
			if ahead == 0 || ahead > 1<<(c.bits-1) { // past
				c.obey(f[0], f[1], what, now)
				return
			}
			c.waiting[f[0]] = timedOrder{f[1], what, now + ahead}
			c.say("LWNTD,%s", f[1])
		default:
			c.obey(f[0], f[1], what, now)
		}
	}
}

// obey does an order at a tick and answers; mu is held.
func (c *handCounter) obey(kind, id, what string, ticks uint64) {
	delete(c.waiting, kind)
	word := map[string]string{"LWSPW": "LWPWR", "LWSLM": "LWLMP"}[kind]
	a := answer{id, fmt.Sprintf("%s,%s,%s,%d", word, id, what, c.wrapped(ticks))}
	c.last[kind] = a
	c.say("%s", a.words)
	if kind == "LWSLM" && strings.HasSuffix(what, ",1") {
		c.started(ticks)
	}
}

// catchUp lets everything happen that has come due, in the order of its ticks, so that no sentence tells a time before which
// something is still to be told. It returns the ticks up to which that is so; mu is held.
func (c *handCounter) catchUp() uint64 {
	now := c.clock()
	for {
		next, do := now+1, func() {}
		if len(c.script) > 0 && c.script[0].at < next {
			event := c.script[0]
			next, do = event.at, func() {
				c.script = c.script[1:]
				event.do()
			}
		}
		for _, kind := range []string{"LWSPW", "LWSLM"} {
			if o, ok := c.waiting[kind]; ok && o.at < next {
				next, do = o.at, func() { c.obey(kind, o.id, o.what, o.at) }
			}
		}
		if next > now {
			return now
		}
		do()
	}
}

// run lets the counter live until stop is closed, with a sign of life every so often.
func (c *handCounter) run(stop <-chan struct{}, beats time.Duration) {
	tick := time.NewTicker(5 * time.Millisecond)
	defer tick.Stop()
	last := time.Now()
	for {
		select {
		case <-stop:
			return
		case <-tick.C:
		}
		c.quickly(func() {
			c.catchUp()
			if time.Since(last) >= beats {
				last = time.Now()
				c.beat()
			}
		})
	}
}

// quickly runs fn with the counter to itself.
func (c *handCounter) quickly(fn func()) {
	c.mu.Lock()
	defer c.mu.Unlock()
	fn()
}
