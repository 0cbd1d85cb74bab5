//go:build linux || darwin

package main

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
)

// refused checks that a run has ended with exit code 2 and said one sentence with all of want, and that folder holds nothing but the
// files named.
func refused(t *testing.T, code int, said, folder string, files []string, want ...string) {
	t.Helper()
	if code != 2 {
		t.Errorf("exit code %d, want 2", code)
	}
	said = strings.TrimSpace(strings.ReplaceAll(said, "\r\n", "\n"))
	if strings.Count(said, "\n") != 0 || !strings.HasPrefix(said, "lanewright: ") {
		t.Errorf("%q is not one sentence", said)
	}
	for _, w := range want {
		if !strings.Contains(said, w) {
			t.Errorf("%q says nothing of %q", said, w)
		}
	}
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		known := false
		for _, f := range files {
			known = known || e.Name() == f
		}
		if !known {
			t.Errorf("%s was written", e.Name())
		}
	}
}

// TestPortThatMayNotBeOpened: a device that belongs to others. Run by root, the test has the program run as somebody else.
func TestPortThatMayNotBeOpened(t *testing.T) {
	t.Parallel()
	dir, err := os.MkdirTemp("", "lw") // everybody may look into it, unlike the folders of tests
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	if err := os.Chmod(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	writePlayed(t, dir, playedSheet)
	c := plugIn(t, 2, 1, func() uint64 { return 0 })
	if err := os.Chmod(c.port, 0); err != nil {
		t.Skipf("the permissions of a pseudo-terminal cannot be taken away here: %v", err)
	}
	path, err := exec.LookPath("lanewright")
	if err != nil {
		t.Fatal(err)
	}
	files := []string{"night.toml", "oval.toml", "lanewright"}
	cmd := exec.Command(path, "night", "run", "night.toml", "--headless", "--port", c.port, "--store", "club.lw")
	if os.Geteuid() == 0 {
		binary, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		cmd.Path = filepath.Join(dir, "lanewright")
		if err := os.WriteFile(cmd.Path, binary, 0o755); err != nil {
			t.Fatal(err)
		}
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "HOME="+dir)
	var said strings.Builder
	cmd.Stderr = &said
	if err := cmd.Start(); err != nil {
		t.Skipf("the program cannot be run as somebody else: %v", err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	_ = cmd.Wait()
	refused(t, cmd.ProcessState.ExitCode(), said.String(), dir, files, c.port, "may not use", "group")
}

// TestTerminalTooSmall: a window in which no screen has room.
func TestTerminalTooSmall(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	writePlayed(t, dir, playedSheet)
	for _, args := range [][]string{{"demo", "--store", "club.lw"}, {"--store", "club.lw"}} {
		path, err := exec.LookPath("lanewright")
		if err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(path, args...)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "HOME="+dir, "TERM=xterm")
		screen, err := pty.StartWithSize(cmd, &pty.Winsize{Cols: 20, Rows: 4})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = cmd.Process.Kill(); _ = screen.Close() })
		hang := time.AfterFunc(patience, func() { _ = cmd.Process.Kill() })
		shown, _ := io.ReadAll(screen) // a pseudo-terminal ends with an error
		_ = cmd.Wait()
		hang.Stop()
		refused(t, cmd.ProcessState.ExitCode(), string(shown), dir, []string{"night.toml", "oval.toml"}, "too small", "20 columns and 4 rows", "24 and 6", "larger")
	}
}
