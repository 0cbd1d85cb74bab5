package rotation

import "testing"

// slow leaves out a test under the race detector, which makes the searches
// some twenty times slower and has nothing to find here: the package starts no
// goroutine.
func slow(t *testing.T) {
	t.Helper()
	if raceOn {
		t.Skip("slow under the race detector, and there is no goroutine to watch")
	}
}
