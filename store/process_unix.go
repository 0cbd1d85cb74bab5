//go:build !windows

package store

import (
	"errors"
	"os"
	"syscall"
)

// dropFile closes a file that the library has lost track of. The lock has to go
// first: the memory map left behind keeps the open file, and with it the lock,
// alive.
func dropFile(f *os.File) {
	_ = syscall.Flock(int(f.Fd()), syscall.LOCK_UN)
	_ = f.Close()
}

// alive reports whether process pid exists.
func alive(pid int) bool {
	err := syscall.Kill(pid, 0)
	return err == nil || errors.Is(err, syscall.EPERM)
}
