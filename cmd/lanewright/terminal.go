package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/charmbracelet/x/term"

	"lanewright/tui"
)

// isTerminal tells whether a person looks at f.
func isTerminal(f *os.File) bool { return term.IsTerminal(f.Fd()) }

// needScreen returns an error when out cannot hold the screens; instead says what can be done without them.
func needScreen(out io.Writer, instead string) error {
	f, ok := out.(*os.File)
	if !ok || !isTerminal(f) {
		return errors.New("the screens need a terminal; without one use: " + instead)
	}
	width, height, err := term.GetSize(f.Fd())
	if err != nil || width == 0 && height == 0 { // a terminal that does not know tells the screens later
		return nil
	}
	if width < tui.LeastWidth || height < tui.LeastHeight {
		return fmt.Errorf("the terminal is too small: %d columns and %d rows, the screens need %d and %d; make the window larger, or use: %s",
			width, height, tui.LeastWidth, tui.LeastHeight, instead)
	}
	return nil
}
