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
