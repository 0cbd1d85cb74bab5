package port

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"runtime"
	"time"

	"go.bug.st/serial"
)

// The ways in which a port cannot be opened. [OpenError] wraps one of them.
var (
	ErrNone   = errors.New("there is no such port")
	ErrDenied = errors.New("this user may not use the port")
	ErrBusy   = errors.New("another program has the port open")
	ErrOther  = errors.New("the port cannot be used")
)

// OpenError says why a port could not be opened and what to do about it.
type OpenError struct {
	Name  string
	Kind  error // ErrNone, ErrDenied, ErrBusy or ErrOther
	Cause error
}

func (e *OpenError) Error() string {
	var advice string
	switch e.Kind {
	case ErrNone:
		advice = "is it plugged in? `lanewright counter ports` lists the ports there are"
	case ErrDenied:
		advice = "close the program that has it, or run as a user who may"
		if runtime.GOOS == "linux" {
			advice = "add yourself to the group that owns it, usually with `sudo usermod -aG dialout $USER` (on some systems the group is uucp), then log in again"
		}
	case ErrBusy:
		advice = "close that program"
		if runtime.GOOS == "linux" {
			advice = "close that program; just after plugging in it may be ModemManager or brltty, which let go after a while or can be removed"
		}
	default:
		return fmt.Sprintf("port %s: %v (%v): expected a serial port; `lanewright counter ports` lists the ports there are", e.Name, e.Kind, e.Cause)
	}
	return fmt.Sprintf("port %s: %v: %s", e.Name, e.Kind, advice)
}

func (e *OpenError) Unwrap() []error { return []error{e.Kind, e.Cause} }

// Open opens the line once. The error is an [*OpenError] or wraps [ErrMode].
func Open(c Config) (Conn, error) {
	if c.Dial != nil {
		conn, err := c.Dial()
		if err != nil {
			return nil, &OpenError{Name: c.Name, Kind: ErrOther, Cause: err}
		}
		return conn, nil
	}
	if c.Name == "" {
		return nil, &OpenError{Name: `""`, Kind: ErrNone, Cause: fs.ErrNotExist}
	}
	if err := c.Mode.Check(); err != nil {
		return nil, fmt.Errorf("port %s: %w", c.Name, err)
	}
	p, err := serial.Open(c.Name, settings(c.Mode))
	if err != nil {
		return nil, &OpenError{Name: c.Name, Kind: kind(err), Cause: err}
	}
	if err := p.SetReadTimeout(PollEvery); err != nil {
		p.Close()
		return nil, &OpenError{Name: c.Name, Kind: ErrOther, Cause: err}
	}
	// Bytes from before the open may be waiting: they have no time. A port
	// that cannot drop them is used all the same.
	_ = p.ResetInputBuffer()
	return p, nil
}

// OpenFirst opens the line, waiting a while if another program has it: just after
// plugging in, some desktops probe every new port.
func OpenFirst(ctx context.Context, c Config) (Conn, error) {
	c = c.filled()
	until := time.Now().Add(c.BusyFor)
	for {
		conn, err := Open(c)
		if err == nil || !errors.Is(err, ErrBusy) || time.Now().After(until) {
			return conn, err
		}
		select {
		case <-ctx.Done():
			return nil, err
		case <-time.After(c.RetryMin):
		}
	}
}

func kind(err error) error {
	var pe *serial.PortError
	if errors.As(err, &pe) {
		switch pe.Code() {
		case serial.PortBusy:
			return ErrBusy
		case serial.PortNotFound:
			return ErrNone
		case serial.PermissionDenied:
			return ErrDenied
		}
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return ErrNone
	case errors.Is(err, fs.ErrPermission):
		return ErrDenied
	}
	return ErrOther
}
