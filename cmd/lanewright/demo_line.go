package main

import (
	"context"
	"errors"
	"io"
	"sync"

	"lanewright/timing/bench"
	"lanewright/timing/port"
)

// benchLine is a simulated counter on a line: a real pseudo-terminal where the system has them.
type benchLine struct {
	port  port.Config
	real  bool   // a serial device, not a pipe within the program
	start func() // switches the counter on; call it when somebody listens, or what it says first is lost
	close func() error
}

// plugBench puts a simulated counter on a line of its own, still switched off.
func plugBench(ctx context.Context, c bench.Config) (*benchLine, error) {
	counter := bench.New(c)
	l := &benchLine{}
	var end io.ReadWriteCloser
	pty, err := bench.OpenPty()
	switch {
	case err == nil:
		l.port, l.real, end, l.close = port.Config{Name: pty.Name}, true, pty.Master, pty.Close
	case errors.Is(err, bench.ErrNoPty):
		host, far := bench.Pipe()
		l.port = port.Config{Name: "inside the program", Dial: func() (port.Conn, error) { return host, nil }}
		end, l.close = far, far.Close
	default:
		return nil, err
	}
	run, stop := context.WithCancel(ctx)
	var runs sync.WaitGroup
	l.start = func() {
		runs.Go(func() { _ = counter.Run(run, end) }) // ends with the line
	}
	closeLine := l.close
	l.close = func() error {
		stop()
		err := closeLine()
		runs.Wait()
		return err
	}
	return l, nil
}
