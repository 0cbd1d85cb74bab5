//go:build linux || darwin || freebsd || openbsd || netbsd || dragonfly

package bench

import (
	"fmt"

	"github.com/charmbracelet/x/term"
	"github.com/creack/pty"
)

// OpenPty makes a pseudo-terminal pair in raw mode: before the first byte, because a
// fresh one echoes and edits what goes through it.
func OpenPty() (*Pty, error) {
	master, slave, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("making a pseudo-terminal: %w", err)
	}
	raw, err := slave.SyscallConn()
	if err == nil {
		cerr := raw.Control(func(fd uintptr) { _, err = term.MakeRaw(fd) })
		if err == nil {
			err = cerr
		}
	}
	if err != nil {
		master.Close()
		slave.Close()
		return nil, fmt.Errorf("putting %s into raw mode: %w", slave.Name(), err)
	}
	return &Pty{Name: slave.Name(), Master: master, slave: slave}, nil
}
