package main

import (
	"os"

	"github.com/charmbracelet/x/term"
)

// isTerminal tells whether a person looks at f.
func isTerminal(f *os.File) bool { return term.IsTerminal(f.Fd()) }
