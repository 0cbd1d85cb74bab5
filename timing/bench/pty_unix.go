//go:build linux || darwin || freebsd || openbsd || netbsd || dragonfly

package bench

import (
	"fmt"
	"os"

	"github.com/charmbracelet/x/term"
	"github.com/creack/pty"
	"golang.org/x/sys/unix"
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
	polled, err := pollable(master)
	if err != nil {
		slave.Close()
		return nil, fmt.Errorf("making %s interruptible: %w", slave.Name(), err)
	}
	return &Pty{Name: slave.Name(), Master: polled, slave: slave}, nil
}

// pollable returns f, which it closes, as a file whose Close ends a waiting Read: the
// way in which the pair is made leaves the descriptor in blocking mode, and a close
// would then wait for the read.
func pollable(f *os.File) (*os.File, error) {
	defer f.Close()
	fd, err := unix.Dup(int(f.Fd()))
	if err != nil {
		return nil, err
	}
	unix.CloseOnExec(fd)
	if err := unix.SetNonblock(fd, true); err != nil {
		unix.Close(fd)
		return nil, err
	}
	return os.NewFile(uintptr(fd), f.Name()), nil
}
