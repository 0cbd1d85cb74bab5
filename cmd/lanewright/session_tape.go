package main

import (
	"path/filepath"
	"strings"
	"time"

	"lanewright/timing/tape"
)

// openTape begins a tape of a night: every byte that came over the line and everything that was done, beside the store and
// independent of it. Each run of the program makes a file of its own.
func openTape(path, storePath, night string) (*tape.Writer, error) {
	start := time.Now()
	if path == "" {
		base := strings.TrimSuffix(storePath, filepath.Ext(storePath))
		path = base + "." + slug(night) + "." + start.UTC().Format("20060102-150405.000") + ".tape"
	}
	return tape.Create(path, start)
}

// actions lets the loop write what was done onto the tape. A tape that cannot be written does not stop a race; it says so when it
// is closed.
type actions struct{ *tape.Writer }

// Do writes one action.
func (a actions) Do(at time.Time, action string, args map[string]any) {
	_ = a.Writer.Do(at, action, args) // counted by the writer, told by its Close
}
