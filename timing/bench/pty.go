package bench

import (
	"errors"
	"io"
)

// ErrNoPty says that this system has no pseudo-terminals; use [Counter.Dial].
var ErrNoPty = errors.New("this system has no pseudo-terminals")

// Pty is a pseudo-terminal pair: a counter speaks over Master, a program opens Name
// as its serial port. Close it to pull the plug.
type Pty struct {
	Name   string
	Master io.ReadWriteCloser
	slave  io.Closer // kept open, so that the line lives while no program has it
}

// Close pulls the plug.
func (p *Pty) Close() error {
	err := p.Master.Close()
	if p.slave != nil {
		if serr := p.slave.Close(); err == nil {
			err = serr
		}
	}
	return err
}
