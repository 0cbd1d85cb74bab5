//go:build unix

package tui

import (
	"context"
	"errors"
	"io"
	"os"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"
	"github.com/charmbracelet/x/ansi"
	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"

	"lanewright/race"
)

// terminal is a whole program on an emulated terminal.
type terminal struct {
	t    *testing.T
	emu  *vt.SafeEmulator
	keys *os.File
	done chan error
	rig  *rig
}

// left keeps the terminals of programs that were killed: their readers may still look at them.
var left []*os.File

func start(t *testing.T, ctx context.Context, w, h int, phase race.Phase) *terminal {
	t.Helper()
	emu := vt.NewSafeEmulator(w, h)
	go io.Copy(io.Discard, emu) //nolint:errcheck // its answers to the program's questions
	keys, tty, err := pty.Open()
	if err != nil {
		t.Skipf("no pseudo-terminal here: %v", err)
	}
	if err := pty.Setsize(keys, &pty.Winsize{Cols: uint16(w), Rows: uint16(h)}); err != nil {
		t.Fatal(err)
	}
	keys = closable(t, keys)
	go io.Copy(emu, keys) //nolint:errcheck // ends with the terminal
	x := &terminal{t: t, emu: emu, keys: keys, done: make(chan error, 1), rig: newRig(clubNight(4, phase), func(o *Options) { o.Now = time.Now })}
	go func() {
		x.done <- Run(ctx, x.rig.Root, tty, tty, tea.WithColorProfile(colorprofile.ASCII), tea.WithEnvironment([]string{"TERM=xterm-256color"}))
	}()
	t.Cleanup(func() { keys.Close() })
	left = append(left, tty)
	return x
}

// closable returns the same terminal as a file that can be closed while it is being read.
func closable(t *testing.T, f *os.File) *os.File {
	fd, err := syscall.Dup(int(f.Fd()))
	if err == nil {
		err = syscall.SetNonblock(fd, true)
	}
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	return os.NewFile(uintptr(fd), "terminal")
}

// shows waits until a text stands on the terminal.
func (x *terminal) shows(text string) {
	x.t.Helper()
	for end := time.Now().Add(60 * time.Second); time.Now().Before(end); time.Sleep(5 * time.Millisecond) {
		if strings.Contains(ansi.Strip(x.emu.Render()), text) {
			return
		}
	}
	x.t.Fatalf("%q never shows:\n%s", text, ansi.Strip(x.emu.Render()))
}

func (x *terminal) types(s string) {
	x.t.Helper()
	if _, err := io.WriteString(x.keys, s); err != nil {
		x.t.Fatal(err)
	}
}

func (x *terminal) ends() error {
	x.t.Helper()
	select {
	case err := <-x.done:
		return err
	case <-time.After(60 * time.Second):
		x.t.Fatal("Run does not end")
		return nil
	}
}

// The program on a terminal: a track call, going on, another screen, leaving.
func TestTheProgramOnATerminal(t *testing.T) {
	x := start(t, context.Background(), 100, 30, race.Green)
	x.shows("GREEN")
	x.types(" ")
	x.shows("TRACK CALL")
	x.types("\r")
	x.shows(" GREEN")
	x.types("gr")
	x.shows("Rotation")
	x.types("\x03")
	x.shows("ctrl+c again quits")
	time.Sleep(2 * holdGap)
	x.types("\x03")
	if err := x.ends(); err != nil {
		t.Errorf("leaving gives %v", err)
	}
}

// A terminal that hangs up ends the screens and says that the night goes on.
func TestAHangUpEndsTheScreensOnly(t *testing.T) {
	x := start(t, context.Background(), 80, 24, race.Green)
	x.shows("GREEN")
	if err := syscall.Kill(os.Getpid(), syscall.SIGHUP); err != nil {
		t.Fatal(err)
	}
	if err := x.ends(); !errors.Is(err, ErrScreenGone) {
		t.Errorf("got %v", err)
	}
	x.rig.steward.feed.Publish(clubNight(4, race.Finish))
}

func TestTheEndOfTheContextEndsTheScreens(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	x := start(t, ctx, 80, 24, race.Idle)
	x.shows("READY")
	stop()
	if err := x.ends(); err != nil {
		t.Errorf("got %v", err)
	}
}

// A terminal that is closed ends the screens as a hang-up does.
func TestAClosedTerminalEndsTheScreensOnly(t *testing.T) {
	x := start(t, context.Background(), 80, 24, race.Green)
	x.shows("GREEN")
	x.keys.Close()
	if err := x.ends(); !errors.Is(err, ErrScreenGone) {
		t.Errorf("got %v", err)
	}
}

// Run ends in a moment even if the terminal reads nothing.
func TestAStalledTerminalDoesNotHoldUpTheEnd(t *testing.T) {
	read, write, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer read.Close() // lets go of the program left behind
	ctx, stop := context.WithCancel(context.Background())
	g := newRig(clubNight(8, race.Green), func(o *Options) { o.Now = time.Now })
	done := make(chan error, 1)
	go func() {
		done <- Run(ctx, g.Root, nil, write, tea.WithWindowSize(300, 100), tea.WithColorProfile(colorprofile.TrueColor))
	}()
	for i := range 200 { // enough to fill the pipe
		g.steward.feed.Publish(clubNight(1+i%8, race.Green))
		time.Sleep(time.Millisecond)
	}
	stop()
	select {
	case err := <-done:
		if err != nil {
			t.Errorf("got %v", err)
		}
	case <-time.After(60 * time.Second):
		t.Fatal("Run waits for a terminal that reads nothing")
	}
	runtime.KeepAlive(read)
}
