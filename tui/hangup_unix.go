//go:build unix

package tui

import (
	"os"
	"os/signal"
	"syscall"
)

// notifyHangUp asks for the signal that a closed terminal sends.
func notifyHangUp(c chan os.Signal) { signal.Notify(c, syscall.SIGHUP) }
