//go:build !race

package store

// raceOn is true under the race detector, where the exhaustive tests of code
// without goroutines do a tenth.
const raceOn = false
