//go:build unix

package main

import (
	"os/signal"
	"syscall"
)

// outliveReaders makes a write to a pipe that nobody reads any more fail, instead of ending the program as it does by default for
// standard output.
func outliveReaders() { signal.Ignore(syscall.SIGPIPE) }
