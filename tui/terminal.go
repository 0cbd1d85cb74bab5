package tui

import (
	"errors"
	"io"
	"os"

	"github.com/charmbracelet/x/term"
)

// watched is a terminal that says when it is gone. A terminal that is closed without a hang-up ends its input, which the program
// alone would not take for an end, and refuses output.
type watched struct {
	*os.File
	gone chan struct{}
}

// watchIn watches an input if it is a terminal. The end of any other input is no end of the night.
func watchIn(in io.Reader, gone chan struct{}) io.Reader {
	if f, ok := in.(*os.File); ok && f != nil && term.IsTerminal(f.Fd()) {
		return &watched{f, gone}
	}
	return in
}

// watchOut watches an output if it is a terminal.
func watchOut(out io.Writer, gone chan struct{}) io.Writer {
	if f, ok := out.(*os.File); ok && f != nil && term.IsTerminal(f.Fd()) {
		return &watched{f, gone}
	}
	return out
}

func (w *watched) Read(p []byte) (int, error) {
	n, err := w.File.Read(p)
	w.note(err)
	return n, err
}

func (w *watched) Write(p []byte) (int, error) {
	n, err := w.File.Write(p)
	w.note(err)
	return n, err
}

// note tells of an error once; one that we made ourselves by closing is none.
func (w *watched) note(err error) {
	if err == nil || errors.Is(err, os.ErrClosed) {
		return
	}
	select {
	case w.gone <- struct{}{}:
	default:
	}
}
