//go:build race

package tui

// raced says that the race detector watches: drawing is ten times slower then, and draws in one goroutine.
const raced = true
