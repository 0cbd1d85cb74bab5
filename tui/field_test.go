package tui

import (
	"strings"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
)

// What is typed at a line of the set-up takes the place of what stood there; a mistake is mended with backspace, and looking without
// typing leaves nothing behind.
func TestTypingAValueReplacesIt(t *testing.T) {
	g := newRig(clubNight(4, race.SignOn), func(o *Options) { o.SetUp = clubSetUp{} }).size(100, 30)
	g.press("g", "n")
	s := g.screens[setUp].(*setUpScreen)
	at := func(id string) {
		for range 40 {
			if s.chosen().ID == id {
				return
			}
			g.press("down")
		}
		t.Fatalf("no line %s", id)
	}
	at("length")
	was := g.snap.Card.Length
	g.press("e", "esc")
	g.press("right")
	next := g.snap.Card.Length
	if next == was {
		t.Fatal("the arrow changed nothing")
	}
	g.press("e", "enter")
	if g.snap.Card.Length != next {
		t.Errorf("enter without typing made %v of %v", g.snap.Card.Length, next)
	}
	g.press("e")
	g.typeIn("4m")
	g.press("enter")
	if g.snap.Card.Length != 4*time.Minute {
		t.Errorf("4m typed over another value gives %v", g.snap.Card.Length)
	}
	g.press("e", "backspace")
	g.typeIn("5s")
	g.press("enter")
	if g.snap.Card.Length != 4*time.Minute+5*time.Second {
		t.Errorf("4m0s with its end typed anew gives %v", g.snap.Card.Length)
	}
	g.press("e", "backspace")
	g.send(tea.KeyPressMsg{Code: 'u', Mod: tea.ModCtrl})
	g.typeIn("90s")
	g.press("enter")
	if g.snap.Card.Length != 90*time.Second {
		t.Errorf("ctrl+u and 90s give %v", g.snap.Card.Length)
	}
}

// A device or a plan file that is in no list can be typed, however long its name.
func TestALineWithChoicesCanBeTyped(t *testing.T) {
	g := newRig(clubNight(4, race.SignOn), func(o *Options) { o.SetUp = clubSetUp{} }).size(100, 30)
	g.press("g", "n")
	s := g.screens[setUp].(*setUpScreen)
	for s.chosen().ID != "layout" {
		g.press("down")
	}
	g.wants(t, "e type a value")
	name := "/home/ada/club/" + strings.Repeat("layouts/", 8) + "plan.toml"
	g.press("e")
	g.typeIn(name)
	if g.typing == nil || g.typing.text != name {
		t.Errorf("typed %q, got %+v", name, g.typing)
	}
}
