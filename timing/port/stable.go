package port

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
)

// Stable returns a name under which the port will be found again: after an
// unplugging ttyUSB0 may come back as ttyUSB1. On Linux that is its link in
// /dev/serial/by-id, or in /dev/serial/by-path where twins without a serial number
// share one; elsewhere, and for any other name, it is the name itself.
func Stable(name string) string {
	if runtime.GOOS != "linux" {
		return name
	}
	return stable(name, "/dev/serial")
}

func stable(name, dir string) string {
	base := filepath.Base(name)
	if filepath.Dir(name) != "/dev" || !(strings.HasPrefix(base, "ttyUSB") || strings.HasPrefix(base, "ttyACM")) {
		return name
	}
	for _, by := range []string{"by-id", "by-path"} {
		links, _ := filepath.Glob(filepath.Join(dir, by, "*"))
		for _, l := range links {
			if to, err := os.Readlink(l); err == nil && filepath.Base(to) == base {
				return l
			}
		}
	}
	return name
}

// openDetail says what people should know of a port that has just been opened.
func openDetail(name string) string {
	if ms := latency(name, "/sys"); ms > 1 {
		return fmt.Sprintf("%s; its USB chip holds bytes back for up to %d ms, which matters for counters without a clock (set latency_timer to 1)", name, ms)
	}
	return name
}

// latency returns the buffer timer of a USB serial chip in milliseconds, 0 if
// there is none. Only Linux tells.
func latency(name, sys string) int {
	if to, err := filepath.EvalSymlinks(name); err == nil {
		name = to
	}
	text, err := os.ReadFile(filepath.Join(sys, "bus/usb-serial/devices", filepath.Base(name), "latency_timer"))
	if err != nil {
		return 0
	}
	ms, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return 0
	}
	return ms
}
