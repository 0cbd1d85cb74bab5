package main

import (
	"context"
	"errors"
	"io"

	"lanewright/timing/bench"
	"lanewright/timing/port"
)

// benchLine is a simulated counter on a line: a real pseudo-terminal where the system has them.
type benchLine struct {
	port  port.Config
	real  bool // a serial device, not a pipe within the program
	close func() error
	done  chan struct{}
}

// startBench sets a simulated counter going on a line of its own.
func startBench(ctx context.Context, c bench.Config) (*benchLine, error) {
	counter := bench.New(c)
	l := &benchLine{done: make(chan struct{})}
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
	go func() {
		defer close(l.done)
		_ = counter.Run(run, end) // ends with the line
	}()
	closeLine := l.close
	l.close = func() error {
		stop()
		err := closeLine()
		<-l.done
		return err
	}
	return l, nil
}
