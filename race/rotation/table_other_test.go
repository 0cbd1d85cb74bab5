//go:build !unix

package rotation

import "time"

var began = time.Now()

// processorTime falls back on the clock.
func processorTime() time.Duration { return time.Since(began) }
