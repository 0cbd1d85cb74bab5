//go:build !unix

package tui

import "os"

// notifyHangUp does nothing: a closed terminal sends no signal here, its input ends.
func notifyHangUp(chan os.Signal) {}
