// Package port keeps a serial line open: it opens, reads, stamps what it read
// with the time, hands it over, and when the line fails opens it again, for ever.
//
// One goroutine owns the line and does nothing but that; it never waits for
// whoever takes the bytes. Writing has a goroutine of its own, because a write to a
// device that does not read blocks without limit.
package port

import (
	"time"

	"go.bug.st/serial"

	"lanewright/timing"
)

// Conn is an open line. Read waits for bytes at most about PollEvery and then
// returns (0, nil). Only one goroutine may read, another may write.
type Conn interface {
	Read(b []byte) (int, error)
	Write(b []byte) (int, error)
	Close() error
}

// PollEvery is how long one Read waits at most, and so how quickly a Keeper stops.
// Polling ten times a second costs no measurable processor time.
const PollEvery = 100 * time.Millisecond

// Mode says how bytes are sent; see [timing.Mode].
type Mode = timing.Mode

// ErrMode reports a [Mode] that no port can have.
var ErrMode = timing.ErrMode

// settings are those of the serial library.
func settings(m Mode) *serial.Mode {
	m = m.Filled()
	s := &serial.Mode{BaudRate: m.Baud, DataBits: m.DataBits}
	switch m.Parity {
	case "odd":
		s.Parity = serial.OddParity
	case "even":
		s.Parity = serial.EvenParity
	}
	if m.StopBits == 2 {
		s.StopBits = serial.TwoStopBits
	}
	return s
}

// Config says which line and how.
type Config struct {
	Name string // device: /dev/serial/by-id/..., /dev/ttyUSB0, COM3
	Mode Mode

	// Dial opens the line instead of Name, for lines that are no serial port.
	Dial func() (Conn, error)

	// ModemPoll, if positive, makes the port's four handshake inputs the
	// source: they are looked at that often and every change is handed over as one
	// byte (bit 0 CTS, 1 DSR, 2 RI, 3 DCD). Bytes that come in are dropped.
	ModemPoll time.Duration

	RetryMin time.Duration // wait before the first new attempt; 0 means 250 ms
	RetryMax time.Duration // 0 means 1 s
	BusyFor  time.Duration // how long a first open waits for a busy port; 0 means 15 s
}

func (c Config) filled() Config {
	if c.RetryMin <= 0 {
		c.RetryMin = 250 * time.Millisecond
	}
	if c.RetryMax < c.RetryMin {
		c.RetryMax = max(time.Second, c.RetryMin)
	}
	if c.BusyFor == 0 {
		c.BusyFor = 15 * time.Second
	}
	return c
}
