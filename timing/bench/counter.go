package bench

import (
	"context"
	"errors"
	"io"
	"net"
	"os"
	"sync"
	"time"

	"lanewright/timing/port"
)

// Counter runs a [Machine] against this computer's clock.
type Counter struct {
	c     Config
	epoch time.Time
	mu    sync.Mutex // guards m
	m     *Machine
	hello []byte // what it says when it has just been switched on
	lines sync.WaitGroup
}

// New switches a counter on.
func New(c Config) *Counter {
	c = c.filled()
	m, hello := NewMachine(c)
	return &Counter{c: c, epoch: time.Now(), m: m, hello: hello}
}

// SetHeat sets the number of the heat that the next start begins.
func (k *Counter) SetHeat(n int) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.m.SetHeat(n)
}

// Made returns every pass made so far, bounces and phantoms included.
func (k *Counter) Made() []Pass {
	k.mu.Lock()
	defer k.mu.Unlock()
	return append([]Pass(nil), k.m.Made()...)
}

// ticks returns the tick that the clock shows now.
func (k *Counter) ticks() uint64 {
	gone := time.Duration(float64(time.Since(k.epoch)) * k.c.Speed)
	t := k.c.rate().Ticks(gone)
	if t > 0 && k.c.rate().Time(t) > gone {
		t--
	}
	return k.c.Start + t
}

// wait returns how long it is until tick, never less than a nanosecond, so that
// time moves on even where the two conversions are cut differently.
func (k *Counter) wait(tick uint64) time.Duration {
	at := time.Duration(float64(k.c.rate().Time(tick-k.c.Start))/k.c.Speed) + 1
	return max(at-time.Since(k.epoch), 1)
}

// Run speaks over rw until reading or writing fails, whose error it returns, or
// ctx ends. Between two Runs time goes on, and what happens is kept in the ring
// only. Only one Run at a time. A read of rw may still be waiting when Run returns
// because of ctx; close rw.
func (k *Counter) Run(ctx context.Context, rw io.ReadWriter) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	heard := make(chan []byte)
	failed := make(chan error, 1)
	go func() {
		buf := make([]byte, 1024)
		for {
			n, err := rw.Read(buf)
			if n > 0 {
				select {
				case heard <- append([]byte(nil), buf[:n]...):
				case <-ctx.Done():
					return
				}
			}
			if err != nil {
				failed <- err
				return
			}
		}
	}()

	k.mu.Lock()
	out := append([]byte(nil), k.hello...)
	k.hello = nil
	k.m.Advance(k.ticks(), nil)
	k.mu.Unlock()
	for {
		if len(out) > 0 {
			if _, err := rw.Write(out); err != nil {
				return err
			}
			out = out[:0]
		}
		k.mu.Lock()
		next := k.m.Next()
		k.mu.Unlock()
		timer := time.NewTimer(k.wait(next))
		var said []byte
		select {
		case <-ctx.Done():
			timer.Stop()
			return ctx.Err()
		case err := <-failed:
			timer.Stop()
			return err
		case said = <-heard:
			timer.Stop()
		case <-timer.C:
		}
		k.mu.Lock()
		// What happened before a command is said before it.
		out = k.m.Advance(k.ticks(), out)
		out = k.m.Take(said, out)
		k.mu.Unlock()
	}
}

// Dial connects to the counter by a line inside this process; the counter speaks over
// it until it is closed. It fits port.Config.Dial.
func (k *Counter) Dial() (port.Conn, error) {
	host, far := Pipe()
	k.lines.Wait() // the line before must be gone
	k.lines.Go(func() {
		_ = k.Run(context.Background(), far) // ends when host is closed
		far.Close()
	})
	return host, nil
}

// Pipe makes a line inside the process. It has no buffer: what one side writes
// waits until the other side reads.
func Pipe() (host port.Conn, counter io.ReadWriteCloser) {
	a, b := net.Pipe()
	return pipeEnd{a}, b
}

// pipeEnd makes Read return (0, nil) after a while, as a port does.
type pipeEnd struct{ net.Conn }

func (p pipeEnd) Read(b []byte) (int, error) {
	if err := p.SetReadDeadline(time.Now().Add(port.PollEvery)); err != nil {
		return 0, err
	}
	n, err := p.Conn.Read(b)
	if errors.Is(err, os.ErrDeadlineExceeded) {
		err = nil
	}
	return n, err
}
