//go:build unix

package layout

import (
	"syscall"
	"time"
)

// cpuTime is what this process has taken of all processors: on a machine that others use, too, it says more than a clock.
func cpuTime() time.Duration {
	var r syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &r) != nil {
		return 0
	}
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}
