//go:build linux || darwin

package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"
	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"

	"lanewright/store"
)

// glass is the program on a pseudo-terminal, its screen drawn by an emulator, the keys counted.
type glass struct {
	t      *testing.T
	master *os.File
	emu    *vt.SafeEmulator
	last   string
	keys   int
	left   chan error // what Wait said
}

// look starts the program on a screen of its own.
func look(t *testing.T, width, height int, args ...string) *glass {
	t.Helper()
	path, err := exec.LookPath("lanewright")
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(path, args...)
	cmd.Env = append(os.Environ(), "HOME="+t.TempDir(), "TERM=xterm-256color", "NO_COLOR=1")
	master, err := pty.StartWithSize(cmd, &pty.Winsize{Cols: uint16(width), Rows: uint16(height)})
	if err != nil {
		t.Fatal(err)
	}
	g := &glass{t: t, master: master, emu: vt.NewSafeEmulator(width, height), left: make(chan error, 1)}
	go func() { _, _ = io.Copy(g.emu, master) }()
	go func() { _, _ = io.Copy(master, g.emu) }() // what a terminal answers when it is asked
	go func() { g.left <- cmd.Wait() }()
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		<-g.left
		_ = master.Close()
		_ = g.emu.Close()
	})
	return g
}

func (g *glass) screen() string { return ansi.Strip(g.emu.Render()) }

// see waits until the screen shows all of want, each a regular expression.
func (g *glass) see(want ...string) string {
	g.t.Helper()
	limit := time.Now().Add(patience)
	for {
		screen, missing := g.screen(), ""
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
			g.t.Fatalf("after %v and %d keys the screen does not show %q:\n%s", patience, g.keys, missing, screen)
		}
		time.Sleep(10 * time.Millisecond)
	}
}

// key presses one key and waits for what it shows. It counts.
func (g *glass) key(k string, want ...string) {
	g.t.Helper()
	if k == g.last {
		time.Sleep(150 * time.Millisecond) // the same key at once is one held down
	}
	g.last = k
	bytes := map[string]string{"enter": "\r", "esc": "\x1b", "space": " "}[k]
	if bytes == "" {
		bytes = k
	}
	g.keys++
	if _, err := io.WriteString(g.master, bytes); err != nil {
		g.t.Fatal(err)
	}
	g.see(want...)
}

// The regulars of the club, more than come, in the order of the file.
var keyRegulars = []string{
	"Ada Quill", "Alma Reed", "Bram Ostler", "Bea Lund", "Cleo Marsh", "Dov Harrow", "Edda Rook", "Finn Tarn", "Fay Holt", "Gwen Alder", "Hale Brook", "Ines Vale",
	"Jon Pike", "Kit Stone", "Liv Dunn", "Mo Fenn", "Nils Ash", "Olga Beck", "Pia Croft", "Zoë Łukas",
}

// Who comes tonight, by the letters that find him.
var keyTonight = [][2]string{
	{"ad", "Ada Quill"}, {"br", "Bram Ostler"}, {"cl", "Cleo Marsh"}, {"do", "Dov Harrow"}, {"ed", "Edda Rook"}, {"fi", "Finn Tarn"}, {"gw", "Gwen Alder"}, {"ha", "Hale Brook"},
	{"jo", "Jon Pike"}, {"ki", "Kit Stone"}, {"pi", "Pia Croft"}, {"zo", "Zoë Łukas"},
}

// Budgets, in keys. A heat is called and started by one key each; a third accepts its result.
const (
	keysOfDriver = 4 // on average
	keysOfHeat   = 2
	keysOfResult = 1
	keysOfCall   = 1
	keysOfResume = 1
	keysOfLap    = 2
	keysOfUndo   = 1
	keysOfNight  = 120
)

// TestKeysOfANight drives a whole night of a club that has raced before, twelve drivers, twelve heats with a track call each, on the
// real program, and counts the keys.
func TestKeysOfANight(t *testing.T) {
	if testing.Short() {
		t.Skip("plays twelve heats")
	}
	t.Parallel()
	dir := t.TempDir()
	c := newEveningCounter(t, filepath.Join(dir, "counter"), 4)
	path := returningClub(t, dir, c.name)

	g := look(t, 80, 24, "--store", path)
	g.see("SIGN-ON", "counter is talking")
	spent := func(what string, budget int, do func()) {
		t.Helper()
		before := g.keys
		do()
		if n := g.keys - before; n > budget {
			t.Errorf("%s: %d keys, the budget is %d", what, n, budget)
		}
	}

	spent("twelve drivers known to the club", keysOfDriver*len(keyTonight), func() {
		g.key("a", "Sign-on", "name")
		for i, who := range keyTonight {
			for _, letter := range who[0] {
				g.key(string(letter))
			}
			g.see("sign on " + who[1])
			g.key("enter", fmt.Sprintf(`%d drivers? tonight`, i+1), fmt.Sprintf(`%d %s`, i+1, who[1]))
		}
		g.key("enter", "READY", "enter  call heat 1 to the line") // with no name typed: the next step, the draw
		g.key("esc", "a types a name")
		g.key("q", "Desk")
	})
	screen := g.see("Desk", `READY +0 of 12 heats`)
	if !strings.Contains(screen, "enter  call heat 1 to the line") {
		t.Fatalf("no heat can be called:\n%s", screen)
	}
	for heat := 1; heat <= 12; heat++ {
		spent(fmt.Sprintf("heat %d", heat), keysOfHeat, func() {
			g.key("enter", "STAGED", fmt.Sprintf("enter  start heat %d", heat))
			g.key("enter", "GREEN")
		})
		c.started(heat)
		keyLaps(c, 0, 20)
		spent("a track call", keysOfCall, func() { g.key("space", "TRACK CALL", "enter  resume") })
		c.stopped()
		spent("going on", keysOfResume, func() { g.key("enter", "GREEN") })
		c.wentOn(heat)
		keyLaps(c, 20, 60)
		if heat == 12 {
			break
		}
		c.over(63000)
		g.see("FINISH")
		spent("a result", keysOfResult, func() { g.key("enter", fmt.Sprintf("enter  call heat %d to the line", heat+1)) })
	}
	night := g.keys

	// A lap given and taken back, besides: no part of an ordinary night.
	laps := func(n int) string { return fmt.Sprintf(` 1 .\S.* %d +\d+\.\d{3}`, n) }
	g.see(laps(12))
	spent("a lap given", keysOfLap, func() {
		g.key("1", "1 ◂")
		g.key("+", laps(13))
	})
	spent("undo", keysOfUndo, func() { g.key("u", laps(12)) })

	besides := g.keys - night
	c.over(63000)
	g.see("FINISH")
	spent("the last result", keysOfResult, func() { g.key("enter", "enter  close the night") })
	g.key("enter", "OVER")
	g.key("q")
	select {
	case err := <-g.left:
		g.left <- err
		if err != nil {
			t.Errorf("the program ended with %v", err)
		}
	case <-time.After(patience):
		t.Fatalf("the program is still there:\n%s", g.screen())
	}
	if n := g.keys - besides; n > keysOfNight {
		t.Errorf("the whole night took %d keys, the budget is %d", n, keysOfNight)
	} else {
		t.Logf("the whole night took %d keys, %d at most", n, keysOfNight)
	}
}

// returningClub makes the store of a club that has raced before: its settings and its register.
func returningClub(t *testing.T, dir, device string) string {
	t.Helper()
	path := filepath.Join(dir, "club.lw")
	s, err := store.Open(path, store.Options{Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	set, err := loadSettings(s)
	if err != nil {
		t.Fatal(err)
	}
	set.Club, set.Device = "Heron Lane", device
	set.Card.Length, set.Card.Countdown, set.Card.HoldMax, set.Card.ResumeIn = time.Minute, 200*time.Millisecond, 0, 100*time.Millisecond
	set.Card.PartOf = 0
	if err := set.save(context.Background(), s); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "drivers.csv")
	if err := os.WriteFile(file, []byte("name\n"+strings.Join(keyRegulars, "\n")+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	run1(t, "drivers", "import", path, file)
	return path
}

// keyLaps says the passes of a car on each of four lanes between two driven times in seconds: one at 1 s and every 4.8 s, a tenth
// of a second apart.
func keyLaps(c *eveningCounter, from, to int) {
	for at := 1000; at <= to*1000-500; at += 4800 {
		for lane := 1; lane <= 4; lane++ {
			if at > from*1000-500 {
				c.drive(lane, at+100*(lane-1))
			}
		}
	}
}
