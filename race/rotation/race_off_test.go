//go:build !race

package rotation

const raceOn = false
