//go:build !race

package tui

const raced = false
