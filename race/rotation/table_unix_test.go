//go:build unix

package rotation

import (
	"syscall"
	"time"
)

// processorTime is what the process has used so far, which other programs on
// the machine do not blur.
func processorTime() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
