package tui

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"

	"lanewright/tui/action"
)

// ErrScreenGone says that the terminal is gone. The night needs none: the caller keeps timing.
var ErrScreenGone = errors.New("the terminal is gone; the night goes on without a screen")

// grace is how long the end of the screens may take: a terminal that reads nothing must not hold up anybody.
const grace = time.Second

// frames a second at most. Fewer cost less while nothing happens, more show a key sooner: at 45 a key shows after 15 ms in the
// middle and an idle screen takes about a hundredth of a processor (BenchmarkKeyToTerminal, BenchmarkProcessorShare).
const frames = 45

// Run shows the screens until they are left or ctx ends. It returns nil when a person has left them or ctx has ended,
// [ErrScreenGone] when the terminal hung up, was closed or failed, and [tea.ErrInterrupted] when the process was interrupted from outside.
func Run(ctx context.Context, root *Root, in io.Reader, out io.Writer, extra ...tea.ProgramOption) error {
	defer root.Close()
	gone := make(chan struct{}, 1)
	in, out = watchIn(in, gone), watchOut(out, gone)
	opts := append([]tea.ProgramOption{tea.WithFPS(frames), tea.WithInput(in), tea.WithOutput(out), profileOption(root.set, out)}, extra...)
	p := tea.NewProgram(root, opts...)
	hup := make(chan os.Signal, 1)
	notifyHangUp(hup)
	defer signal.Stop(hup)
	ended := make(chan error, 1)
	go func() {
		_, err := p.Run()
		ended <- err
	}()
	select {
	case err := <-ended:
		return verdict(ctx, err)
	case <-hup:
	case <-gone:
	case <-ctx.Done():
	}
	go p.Quit() // blocks if the program hangs on its terminal
	t := time.NewTimer(grace)
	defer t.Stop()
	select {
	case <-ended:
	case <-t.C: // it is writing to a terminal that reads nothing: leave it behind
		go p.Kill()
	}
	if ctx.Err() != nil {
		return nil
	}
	return ErrScreenGone
}

// verdict turns what the program says into what the caller needs to know.
func verdict(ctx context.Context, err error) error {
	switch {
	case err == nil, ctx.Err() != nil:
		return nil
	case errors.Is(err, tea.ErrInterrupted):
		return err
	case errors.Is(err, tea.ErrProgramPanic):
		return fmt.Errorf("%w: %w", ErrScreenGone, err)
	}
	return fmt.Errorf("%w: %w", ErrScreenGone, err)
}

// profileOption settles how many colours are shown. Settings go before the environment; NO_COLOR counts whatever its value, as
// its convention says (no-color.org), which the detection of the library reads more narrowly.
func profileOption(s Settings, out io.Writer) tea.ProgramOption {
	if s.NoColor || os.Getenv("NO_COLOR") != "" {
		return tea.WithColorProfile(colorprofile.ASCII) // keeps bold and inverse
	}
	return tea.WithColorProfile(colorprofile.Detect(out, os.Environ()))
}

// Keys returns every key with where it works and what it does, for the manual page.
func Keys() []action.Line { return New(Options{}).acts.Lines() }
