//go:build linux || darwin

package main

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// window is a terminal in a tmux server of its own.
type window struct {
	t      *testing.T
	socket string
	store  string
	last   string // key pressed
}

// openWindow starts tmux with a shell that does nothing; the programs are started in it later.
func openWindow(t *testing.T, width, height int) *window {
	t.Helper()
	if _, err := exec.LookPath("tmux"); err != nil {
		t.Skip("tmux is not installed")
	}
	dir, err := os.MkdirTemp("", "lw") // a socket's path must be short
	if err != nil {
		t.Fatal(err)
	}
	w := &window{t: t, socket: filepath.Join(dir, "s"), store: filepath.Join(t.TempDir(), "demo.lw")}
	t.Cleanup(func() {
		pid := w.pid()
		_, _ = w.tmux("kill-server")
		if pid > 0 { // what ran in it has been hung up; a heat would go on without a screen
			if p, err := os.FindProcess(pid); err == nil {
				_ = p.Kill()
			}
		}
		_ = os.RemoveAll(dir)
	})
	if out, err := w.tmux("new-session", "-d", "-x", strconv.Itoa(width), "-y", strconv.Itoa(height), "sleep 100000"); err != nil {
		t.Skipf("tmux does not start: %v: %s", err, out)
	}
	for _, option := range [][]string{{"remain-on-exit", "on"}, {"status", "off"}} {
		if out, err := w.tmux("set-option", "-g", option[0], option[1]); err != nil {
			t.Fatalf("tmux: %v: %s", err, out)
		}
	}
	return w
}

func (w *window) tmux(args ...string) (string, error) {
	cmd := exec.Command("tmux", append([]string{"-u", "-S", w.socket, "-f", os.DevNull}, args...)...)
	cmd.Env = append(os.Environ(), "LC_ALL=C.UTF-8", "TMUX=")
	out, err := cmd.CombinedOutput()
	return string(out), err
}

// pid is of the program in the window, 0 if there is none.
func (w *window) pid() int {
	out, err := w.tmux("list-panes", "-F", "#{?pane_dead,0,#{pane_pid}}")
	if err != nil {
		return 0
	}
	n, _ := strconv.Atoi(strings.TrimSpace(out))
	return n
}

// start runs the demo in the window.
func (w *window) start(args string) {
	w.t.Helper()
	path, err := exec.LookPath("lanewright")
	if err != nil {
		w.t.Fatal(err)
	}
	line := fmt.Sprintf("exec '%s' demo --store '%s' %s", path, w.store, args)
	if out, err := w.tmux("respawn-pane", "-k", "-e", "HOME="+filepath.Dir(w.store), line); err != nil {
		w.t.Fatalf("tmux: %v: %s", err, out)
	}
}

func (w *window) screen() string {
	out, _ := w.tmux("capture-pane", "-p")
	return out
}

// see waits until the screen shows everything of want, each a regular expression, and returns it.
func (w *window) see(want ...string) string {
	w.t.Helper()
	limit := time.Now().Add(patience)
	for {
		screen := w.screen()
		missing := ""
		for _, x := range want {
			if !regexp.MustCompile(x).MatchString(screen) {
				missing = x
				break
			}
		}
		if missing == "" {
			return screen
		}
		if time.Now().After(limit) {
			w.t.Fatalf("after %v the screen does not show %q:\n%s", patience, missing, screen)
		}
		time.Sleep(30 * time.Millisecond)
	}
}

// press presses a key, or types a text, and waits until the screen shows all of want.
func (w *window) press(key string, want ...string) string {
	w.t.Helper()
	if key == w.last {
		time.Sleep(150 * time.Millisecond) // a key that comes again at once is one held down, and does its work once
	}
	w.last = key
	if out, err := w.tmux("send-keys", key); err != nil {
		w.t.Fatalf("tmux: %v: %s", err, out)
	}
	return w.see(want...)
}

// gone waits until the program has left its window, and returns its exit code.
func (w *window) gone() int {
	w.t.Helper()
	limit := time.Now().Add(patience)
	for {
		out, err := w.tmux("list-panes", "-F", "#{pane_dead} #{pane_dead_status}")
		if dead, status, _ := strings.Cut(strings.TrimSpace(out), " "); err == nil && dead == "1" {
			code, _ := strconv.Atoi(status)
			return code
		}
		if time.Now().After(limit) {
			w.t.Fatalf("the program is still there after %v:\n%s", patience, w.screen())
		}
		time.Sleep(30 * time.Millisecond)
	}
}

// driven matches a lane line of the desk with at least so many laps: "■ 1  Edda Rook   P1   2   6.881 ...".
func driven(laps string) string { return `1  \S.*P\d\s+` + laps + `\s+\d+\.\d` }

// TestDemoInTmux drives a demo night from the keyboard of a real terminal: call the track, resume, end the heat, next heat,
// results, quit, start again.
func TestDemoInTmux(t *testing.T) {
	if testing.Short() {
		t.Skip("plays most of two heats")
	}
	t.Parallel()
	w := openWindow(t, 80, 24)
	w.start("--speed 6 --seed 7")
	w.see("SIGN-ON", "Ada Quill", "Zoë Łukas", "enter  make the draw")
	w.press("Enter", "READY", "enter  call heat 1 to the line")
	w.press("Enter", "STAGED", "enter  start heat 1")
	w.press("Enter", "GREEN", `\d left`, driven("[1-9]"))
	w.press("Space", "TRACK CALL", "enter  resume")
	w.press("Enter", "GREEN")
	w.see("GREEN", driven("[3-9]"))
	w.press(":", "what do you want to do")
	w.press("end the heat", "end the heat now")
	w.press("Enter", "enter  the heat ends now")
	w.press("Enter", "FINISH", "enter  accept heat 1")
	w.press("Enter", "READY", "enter  call heat 2 to the line", "Standings so far", `P1 +\S`)
	w.press("Enter", "STAGED", "heat 2 of 7", "enter  start heat 2")
	w.press("g", "go to", "Sheets")
	results := w.press("h", "Sheets", "Results of heat 1", `P1\s`)
	w.press("q", "Desk", "enter  start heat 2")
	w.press("q")
	if code := w.gone(); code != 0 {
		t.Errorf("exit code %d after quitting", code)
	}

	// What the results page said is what the store says.
	var kept resultsAnswer
	if err := json.Unmarshal([]byte(run1(t, "night", "show", w.store, "--json")), &kept); err != nil {
		t.Fatal(err)
	}
	if kept.Heats[0].State != "run" || len(kept.Heats[0].Results) != 4 {
		t.Fatalf("heat 1 in the store: %+v", kept.Heats[0])
	}
	for _, r := range kept.Heats[0].Results {
		if !regexp.MustCompile(fmt.Sprintf(`P%d.*%s.*\b%d\b`, r.Place, r.Name, r.Laps)).MatchString(results) {
			t.Errorf("the store has %s at place %d with %d laps, the screen showed:\n%s", r.Name, r.Place, r.Laps, results)
		}
	}

	// Started again it is where it was: heat 2 at the line, heat 1 behind it.
	w.start("--speed 20 --seed 7")
	w.see("STAGED", "heat 2 of 7", "enter  start heat 2")
	w.press("Enter", "FINISH", driven("[7-9]"), "enter  accept heat 2") // to its end by itself
	w.press("Enter", "READY", "enter  call heat 3 to the line", `P4 +\S`)
	w.press("q")
	if code := w.gone(); code != 0 {
		t.Errorf("exit code %d after quitting for good", code)
	}
}

// TestDemoInALargeWindow uses more room, and finds a heat that was being driven when it was left.
func TestDemoInALargeWindow(t *testing.T) {
	if testing.Short() {
		t.Skip("plays a heat")
	}
	t.Parallel()
	w := openWindow(t, 160, 45)
	w.start("--speed 4")
	w.see("SIGN-ON", "enter  make the draw")
	w.press("Enter", "READY")
	w.press("Enter", "STAGED")
	screen := w.press("Enter", "GREEN", driven("[1-9]"), "scale speed", `km/h`, "Pace: the last laps")
	if wide := strings.Count(screen, "\n"); wide < 44 {
		t.Errorf("only %d lines are used of 45:\n%s", wide, screen)
	}
	w.press("C-c", "ctrl.c again quits")
	w.press("C-c")
	if code := w.gone(); code != 0 {
		t.Errorf("exit code %d after quitting in a heat", code)
	}

	// The counter was off meanwhile: the heat is held, and goes on when the director says so.
	w.start("--speed 4")
	w.see("TRACK CALL", "heat 1 of 7", "enter  resume", driven("[1-9]"))
	w.press("Enter", "GREEN", driven("[2-9]"))
	w.press(":", "what do you want to do")
	w.press("end the heat", "end the heat now")
	w.press("Enter", "enter  the heat ends now")
	w.press("Enter", "FINISH", "enter  accept heat 1")
	w.press("Enter", "READY", "enter  call heat 2 to the line")
	w.press("q")
	if code := w.gone(); code != 0 {
		t.Errorf("exit code %d after quitting", code)
	}
}
