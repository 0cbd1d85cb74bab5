package tui

import (
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"
	"github.com/charmbracelet/x/ansi"
	"pgregory.net/rapid"

	"lanewright/race"
	"lanewright/tui/cell"
)

// fits checks that a frame is neither wider nor longer than its window.
func fits(t interface{ Fatalf(string, ...any) }, frame string, w, h int, what string) {
	lines := strings.Split(frame, "\n")
	if len(lines) > h {
		t.Fatalf("%s at %dx%d has %d lines", what, w, h, len(lines))
	}
	for i, l := range lines {
		if n := ansi.StringWidth(l); n > w {
			t.Fatalf("%s at %dx%d: line %d is %d wide: %s", what, w, h, i+1, n, ansi.Strip(l))
		}
	}
}

// Every screen at every size from 24x6 to 400x120 stays inside its window.
func TestNoLineIsWiderOrLongerThanTheWindow(t *testing.T) {
	for _, lanes := range []int{1, 4, 8} {
		for i, phase := range []race.Phase{race.Green, race.Idle, race.Lamps, race.TrackCall} {
			if raced && (i > 0 || lanes < 8) {
				continue
			}
			widths, heights := []int{24, 37, 59, 80, 119, 200}, []int{6, 9, 20, 31}
			if lanes == 4 && i == 0 {
				widths, heights = []int{24, 25, 31, 40, 49, 60, 69, 70, 79, 80, 99, 110, 118, 120, 160, 400}, []int{6, 7, 8, 9, 10, 12, 16, 20, 24, 26, 45, 120}
			}
			g := newRig(clubNight(lanes, phase))
			for _, p := range places {
				g.press("esc", "esc", "g", p.key)
				for _, w := range widths {
					for _, h := range heights {
						g.w, g.h = w, h
						fits(t, g.View().Content, w, h, string(p.to))
					}
				}
			}
			if len(g.broken) > 0 {
				t.Fatalf("a screen failed: %v", g.broken)
			}
		}
	}
}

// Windows too small for a screen get what fits, down to nothing.
func TestTinyWindows(t *testing.T) {
	for _, phase := range []race.Phase{race.Green, race.SignOn, ""} {
		g := newRig(clubNight(4, phase))
		for w := range 26 {
			for h := range 8 {
				g.w, g.h = w, h
				fits(t, g.View().Content, w, max(h, 1), "desk")
			}
		}
	}
	g := newRig(clubNight(4, race.Green)).size(20, 4)
	if want := " ■ 1  18 5.314"; !strings.Contains(ansi.Strip(g.View().Content), want) {
		t.Errorf("a small window shows no lane:\n%s", ansi.Strip(g.View().Content))
	}
}

// What must be read from three metres is an eighth of the window high with up to four lanes and a tenth with more, from the
// reference size up.
func TestBoardFiguresAreLarge(t *testing.T) {
	for lanes := 1; lanes <= 8; lanes++ {
		g := newRig(clubNight(lanes, race.Green))
		g.press("g", "b")
		for _, view := range []int{0, 1, 2, 3} {
			g.Root.size = view
			for w := 80; w <= 400; w += 8 {
				for h := 24; h <= 120; h += 3 {
					if w < h { // nobody hangs a television upright
						continue
					}
					g.w, g.h = w, h
					foot := g.footRows(cell.Box{W: w, H: h - 1})
					p := g.screens[board].(*boardScreen).plan(cell.Box{W: w, H: h - foot}, g.rows())
					if 8*p.laps.H < h && lanes <= 4 || 10*p.laps.H < h {
						t.Fatalf("%d lanes at %dx%d, view %d: figures are %d rows high", lanes, w, h, view, p.laps.H)
					}
				}
			}
		}
	}
}

// walkKeys are keys that a hand may hit.
var walkKeys = []string{"space", "ctrl+s", "enter", "esc", "?", ":", "/", "u", "U", "ctrl+z", "ctrl+y", "ctrl+l", "g", "d", "b", "s", "r", "t", "p", "h", "n", "1", "2", "3", "4", "5", "8", "9", "0", ".", "tab", "shift+tab", "up", "down", "left", "right",
	"pgup", "pgdown", "home", "end", "q", "+", "-", "k", "o", "c", "f", "x", "X", "j", "y", "v", "w", "m", "a", "D", "i", "l", "R", "e", ";", "Z", "é", "陳", "backspace"}

// Whatever is pressed, resized and heard while a heat is live: nothing panics, no screen breaks, nothing overflows, and one key
// calls the track from wherever the hand has got to.
func TestOneKeyHoldsTheHeatFromEverywhere(t *testing.T) { rapid.Check(t, walk) }

// FuzzScreens walks the same walk under the fuzzer.
func FuzzScreens(f *testing.F) { f.Fuzz(rapid.MakeFuzz(walk)) }

// walk hits keys, clicks, resizes, pastes and publishes at random while a heat is live.
func walk(t *rapid.T) {
	lanes := rapid.IntRange(1, 8).Draw(t, "lanes")
	g := newRig(clubNight(lanes, race.Green), func(o *Options) { o.Preview = clubPreviewer{}; o.SetUp = clubSetUp{} })
	phases := []race.Phase{race.Lamps, race.Green, race.TrackCall, race.Resuming, race.Finishing}
	steps := rapid.IntRange(1, 60).Draw(t, "steps")
	for range steps {
		switch rapid.IntRange(0, 9).Draw(t, "what") {
		case 0:
			g.quick(tea.WindowSizeMsg{Width: rapid.IntRange(0, 300).Draw(t, "w"), Height: rapid.IntRange(0, 100).Draw(t, "h")})
		case 1:
			s := clubNight(rapid.IntRange(0, 8).Draw(t, "lanes now"), rapid.SampledFrom(phases).Draw(t, "phase"))
			if rapid.Bool().Draw(t, "fewer") {
				s.Entries, s.Questions, s.Running, s.Ahead = s.Entries[:1], nil, s.Running[:min(1, len(s.Running))], nil
			}
			g.steward.s = s
			g.steward.feed.Publish(s)
			g.quick(changed{})
		case 2:
			g.quick(tea.MouseClickMsg{X: rapid.IntRange(0, 300).Draw(t, "x"), Y: rapid.IntRange(0, 100).Draw(t, "y")})
		case 3:
			g.clock = g.clock.Add(time.Duration(rapid.IntRange(0, 9000).Draw(t, "ms")) * time.Millisecond)
			g.quick(tick{})
		case 4:
			g.quick(tea.PasteMsg{Content: rapid.String().Draw(t, "paste")})
		default:
			g.clock = g.clock.Add(150 * time.Millisecond)
			g.quick(keyOf(rapid.SampledFrom(walkKeys).Draw(t, "key")))
		}
		if len(g.broken) > 0 {
			t.Fatalf("a screen failed: %v", g.broken)
		}
		fits(t, g.View().Content, g.w, max(g.h, 1), string(g.place))
		if !g.steward.s.Phase.Live() {
			s := clubNight(lanes, race.Green)
			g.steward.s = s
			g.steward.feed.Publish(s)
		}
		key := "ctrl+s"
		if g.typing == nil && rapid.Bool().Draw(t, "space") {
			key = "space"
		}
		before := g.calls()
		g.quick(keyOf(key))
		if g.calls() != before+1 {
			t.Fatalf("%s on %s called no track: typing %v, asking %v", key, g.place, g.typing, g.ask)
		}
	}
}

// quick gives the root a message and does at once what it asks for, as far as that does not wait.
func (g *rig) quick(msg tea.Msg) {
	g.ticking = true
	g.Update(msg)
}

// calls counts the track calls that came through.
func (g *rig) calls() int {
	n := 0
	for _, c := range g.steward.got {
		if _, ok := c.(race.CallTrack); ok {
			n++
		}
	}
	return n
}

type clubSetUp struct{}

func (clubSetUp) Fields() ([]Field, error) {
	return []Field{{ID: "layout", Name: "layout", Value: "Long Harbour", Choices: []string{"Long Harbour", "Short Pier"}}, {ID: "counter", Name: "counter", Value: "bench"}}, nil
}
func (clubSetUp) Set(id, v string) (string, error) { return id + " is now " + v, nil }

// The keys that a night may cost.
func TestKeyBudget(t *testing.T) {
	for _, c := range []struct {
		what  string
		phase race.Phase
		keys  []string
		most  int
		done  func(g *rig) bool
	}{
		{"a heat", race.Finish, []string{"enter", "enter"}, 2, func(g *rig) bool { return g.snap.Phase == race.Green }},
		{"a track call", race.Green, []string{"space"}, 1, func(g *rig) bool { return g.snap.Phase == race.TrackCall }},
		{"resume", race.TrackCall, []string{"enter"}, 1, func(g *rig) bool { return g.snap.Phase == race.Green }},
		{"a lap given", race.Green, []string{"3", "+"}, 2, func(g *rig) bool { return g.last3() == race.GiveLaps{Lane: 3, Laps: 1} }},
		{"a lap taken", race.Green, []string{"3", "-"}, 2, func(g *rig) bool { return g.last3() == race.GiveLaps{Lane: 3, Laps: -1} }},
		{"a pass struck out", race.Green, []string{"2", "k"}, 2, func(g *rig) bool { return g.last3() == race.StrikePass{Lane: 2} }},
		{"a penalty", race.Finish, []string{"4", "p", "1"}, 3, func(g *rig) bool { return g.last3() == race.Penalise{Lane: 4, Laps: 1} }},
		{"a pass moved", race.Green, []string{"1", "t", "2"}, 3, func(g *rig) bool { return g.last3() == race.MovePass{Lane: 1, To: 2} }},
		{"a stint not counted", race.Finish, []string{"1", "x", "enter"}, 3, func(g *rig) bool { return g.last3() == race.DropStint{Lane: 1} }},
		{"a lane closed", race.Green, []string{"4", "o"}, 2, func(g *rig) bool { return g.last3() == race.CloseLane{Lane: 4} }},
		{"undo", race.Green, []string{"u"}, 1, func(g *rig) bool { return g.last3() == race.Undo{} }},
		{"a question answered", race.Green, []string{"j", "y"}, 2, func(g *rig) bool { return g.last3() == race.Answer{Question: 731, Yes: true} }},
	} {
		g := newRig(clubNight(4, c.phase))
		g.press(c.keys...)
		if !c.done(g) || len(c.keys) > c.most {
			t.Errorf("%s is not done with %v: last command %#v", c.what, c.keys, g.last3())
		}
	}
}

func (g *rig) last3() race.Command {
	if len(g.steward.got) == 0 {
		return nil
	}
	return g.steward.got[len(g.steward.got)-1]
}

// A regular is signed on with four keys at most on average: two letters and enter, now and then an arrow.
func TestARegularIsSignedOnWithFourKeys(t *testing.T) {
	s := clubNight(4, race.SignOn)
	s.Entries = nil
	g := newRig(s)
	known, _ := clubRegister{}.Known()
	g.press("g", "s")
	keys := 0
	for _, k := range known {
		letters := []rune(k.Name)[:2]
		g.typeIn(string(letters))
		keys += 2
		so := g.screens[signOn].(*signOnScreen)
		for range 8 {
			if fit := so.chosenFit(); fit != nil && fit.Name == k.Name {
				break
			}
			g.press("down")
			keys++
		}
		g.press("enter")
		keys++
		if add, ok := g.last3().(race.AddDriver); !ok || add.Name != k.Name || add.Register != k.ID || add.Class == "" || add.Car == "" {
			t.Fatalf("wanted %s signed on with class and car, got %#v", k.Name, g.last3())
		}
	}
	t.Logf("%.2f keys a driver", float64(keys)/float64(len(known)))
	if keys > 4*len(known) {
		t.Errorf("%d keys for %d drivers", keys, len(known))
	}
}

// A program whose terminal reads nothing does not hold up Publish, and does not hold up its own end.
func TestAStalledTerminalHoldsUpNobody(t *testing.T) {
	read, write, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer read.Close()
	feed := NewFeed()
	s := clubNight(8, race.Green)
	feed.Publish(s)
	root := New(Options{Feed: feed, Now: func() time.Time { return evening }})
	p := tea.NewProgram(root, tea.WithInput(nil), tea.WithOutput(write), tea.WithWindowSize(200, 60), tea.WithColorProfile(colorprofile.TrueColor), tea.WithoutSignalHandler())
	go p.Run() //nolint:errcheck // it never ends: that is the test
	done := make(chan struct{})
	go func() {
		for i := range 20000 {
			n := *s
			n.Seq = uint64(i)
			n.Running = append([]race.LaneRow{}, s.Running...)
			n.Running[i%8].Laps += i
			feed.Publish(&n)
			runtime.Gosched()
		}
		close(done)
	}()
	select {
	case <-done:
	case <-time.After(60 * time.Second):
		t.Fatal("Publish waits for a terminal that reads nothing")
	}
	runtime.KeepAlive(read) // a pipe without a reader would fail instead of stalling
	go p.Kill()             // blocks while the program hangs on the pipe
	read.Close()            // lets go of it
}

// A subscription gets the newest, however many there were, and ends when it is left.
func TestFeed(t *testing.T) {
	f := NewFeed()
	c := f.Subscribe()
	for i := range 100 {
		f.Publish(&race.Snapshot{Seq: uint64(i)})
	}
	<-c
	if f.Newest().Seq != 99 {
		t.Errorf("newest is %d", f.Newest().Seq)
	}
	select {
	case <-c:
		t.Error("woken twice for what was seen once")
	default:
	}
	f.Leave(c)
	f.Leave(c)
	if _, open := <-c; open {
		t.Error("still subscribed")
	}
	f.Publish(&race.Snapshot{})
}
