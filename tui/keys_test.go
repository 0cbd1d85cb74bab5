package tui

import (
	"strings"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/x/ansi"
	"rsc.io/qr"

	"lanewright/race"
	"lanewright/tui/cell"
)

func (g *rig) text() string { return ansi.Strip(g.View().Content) }

func (g *rig) wants(t *testing.T, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(g.text(), w) {
			t.Errorf("%q does not show:\n%s", w, g.text())
		}
	}
}

// No key means two things, no action lacks a name, and every key can be found by its name.
func TestNoKeyMeansTwoThings(t *testing.T) {
	r := New(Options{})
	for _, c := range r.acts.Clashes(cGo, cQuestion, cAsk, cText, cSignText, cPalette) {
		t.Error(c)
	}
	if n := len(Keys()); n < 60 {
		t.Errorf("only %d keys for the manual page", n)
	}
	for _, l := range Keys() {
		for _, k := range strings.Split(l.Keys, ", ") {
			if strings.HasPrefix(k, "alt+") || strings.HasPrefix(k, "f1") || strings.HasPrefix(k, "ctrl+") && !strings.Contains("ctrl+s ctrl+c ctrl+z ctrl+y ctrl+l", k) {
				t.Errorf("%s: terminals take this key", k)
			}
		}
	}
}

func TestSpaceDoesNothingBetweenHeats(t *testing.T) {
	for _, phase := range []race.Phase{race.SignOn, race.Idle, race.Staged, race.Finish, race.Over} {
		g := newRig(clubNight(4, phase))
		g.press("space", "ctrl+s")
		if len(g.steward.got) != 0 {
			t.Errorf("%s: space did %#v", phase, g.steward.got)
		}
	}
}

func TestALaneIsChosenForFiveSeconds(t *testing.T) {
	g := newRig(clubNight(4, race.Green)).size(80, 24)
	g.press("3")
	g.wants(t, "lap given", "lap taken", "strike pass")
	g.press("3")
	if g.lane != 0 {
		t.Error("the same digit does not let go")
	}
	g.press("2")
	g.clock = g.clock.Add(6 * time.Second)
	g.press("+")
	if len(g.steward.got) != 0 {
		t.Errorf("a lane chosen six seconds ago still takes %#v", g.steward.got)
	}
	g.press("7")
	if g.lane != 0 {
		t.Error("a lane that is not there was chosen")
	}
}

func TestRulingsSayWhyAndByWhom(t *testing.T) {
	g := newRig(clubNight(4, race.Finish)).size(80, 24)
	g.press(":").typeIn("who rules").press("enter").typeIn("Ines").press("enter")
	g.press("2", ";").typeIn("put back past the line").press("enter", "+")
	if want := (race.GiveLaps{Lane: 2, Laps: 1, By: "Ines", Why: "put back past the line"}); g.last3() != want {
		t.Errorf("got %#v", g.last3())
	}
	g.press("-")
	if want := (race.GiveLaps{Lane: 2, Laps: -1, By: "Ines"}); g.last3() != want {
		t.Errorf("the reason outlives its ruling: %#v", g.last3())
	}
	g.press("2", "3", "p", ".", "2", "5")
	if want := (race.Penalise{Lane: 3, Hundredths: 25, By: "Ines"}); g.last3() != want {
		t.Errorf("got %#v", g.last3())
	}
}

func TestRulingsReachTheHeatInFront(t *testing.T) {
	g := newRig(clubNight(4, race.Idle)).size(80, 24)
	g.press("g", "h", "left", "2", "+")
	if want := (race.GiveLaps{Heat: 2, Lane: 2, Laps: 1}); g.last3() != want {
		t.Errorf("got %#v", g.last3())
	}
	g.wants(t, "Results of heat 2", "heat 2")
}

func TestPartLapsAreTypedLaneByLane(t *testing.T) {
	g := newRig(clubNight(3, race.Finish)).size(80, 24)
	g.press("f").typeIn("12").press("enter").typeIn(".4").press("enter").typeIn("3/8").press("enter")
	want := []race.Command{race.SetPart{Lane: 1, Call: 12}, race.SetPart{Lane: 2, Num: 4, Den: 10}, race.SetPart{Lane: 3, Num: 3, Den: 8}}
	if len(g.steward.got) != 3 || g.steward.got[0] != want[0] || g.steward.got[1] != want[1] || g.steward.got[2] != want[2] {
		t.Errorf("got %#v", g.steward.got)
	}
	if g.typing != nil {
		t.Error("asks for a lane that is not there")
	}
	for in, bad := range map[string]bool{"2350 mm": false, "0,37": false, "8/8": true, "1.5": true, "-3": true, "x": true, "1/0": true, "99999999999999999999": true, "0": true, ".0000": true} {
		if _, err := readPart(in); (err != "") != bad {
			t.Errorf("%q: %q", in, err)
		}
	}
}

func TestTypedTextIsKept(t *testing.T) {
	g := newRig(clubNight(4, race.Green)).size(80, 24)
	g.press("2", "c").typeIn("tyre off")
	g.wants(t, "ctrl+s track call")
	g.press("esc", "2", "2", "c")
	if g.typing == nil || g.typing.text != "tyre off" {
		t.Fatal("esc lost the text")
	}
	g.press("enter")
	if g.last3() != (race.Comment{Lane: 2, Text: "tyre off"}) {
		t.Errorf("got %#v", g.last3())
	}
	g.press("c")
	if g.typing == nil || g.typing.text != "" {
		t.Error("text that was used comes back")
	}
}

func TestAGuestIsNotTakenForARegular(t *testing.T) {
	s := clubNight(4, race.SignOn)
	s.Entries = s.Entries[:2]
	g := newRig(s).size(80, 24)
	g.press("a").typeIn("Xaver Noll").press("tab").typeIn("open").press("tab").typeIn("Wren")
	g.wants(t, "class open", "sign on Xaver Noll as a guest")
	g.press("enter")
	if want := (race.AddDriver{Name: "Xaver Noll", Class: "open", Car: "Wren"}); g.last3() != want {
		t.Errorf("got %#v", g.last3())
	}
	g.wants(t, "Xaver Noll", "3 drivers tonight")
	g.press("enter")
	if g.snap.Phase != race.Idle {
		t.Error("enter with nothing typed does not move the night on")
	}
}

func TestTheSameAsLastTime(t *testing.T) {
	s := clubNight(4, race.SignOn)
	s.Entries = s.Entries[:3]
	g := newRig(s).size(80, 24)
	g.press("g", "s", "ctrl+l")
	if len(g.steward.got) != 5 {
		t.Errorf("%d signed on, want the 5 of 8 who are not in", len(g.steward.got))
	}
}

func TestDriversDropOutComeBackAndShare(t *testing.T) {
	g := newRig(clubNight(4, race.Idle)).size(80, 24)
	g.press("d", "down", "d")
	if g.last3() != (race.DropDriver{Driver: 2}) {
		t.Errorf("got %#v", g.last3())
	}
	g.press("/").typeIn("pip").press("enter", "D")
	if g.last3() != (race.ReturnDriver{Driver: 9}) {
		t.Errorf("got %#v", g.last3())
	}
	g.press("esc", "esc", "g", "s", "esc", "home", "s", "down", "down", "s")
	if g.last3() != (race.ShareCar{Driver: 1, With: 3}) {
		t.Errorf("got %#v", g.last3())
	}
}

func TestTheListOfKeysIsTrue(t *testing.T) {
	g := newRig(clubNight(4, race.Green)).size(160, 45)
	g.press("?")
	g.wants(t, "Keys now", "space      track call")
	if strings.Contains(g.text(), "lap given to the lane") {
		t.Error("shows a key that does nothing now")
	}
	g.press("3")
	g.wants(t, "lap given to the lane")
	g.press("?")
	if strings.Contains(g.text(), "Keys now") {
		t.Error("? does not close")
	}
}

func TestThePaletteFindsActionsDriversAndScreens(t *testing.T) {
	g := newRig(clubNight(4, race.Green)).size(120, 40)
	g.press(":").typeIn("rulings").press("enter")
	if g.place != rulings {
		t.Errorf("went to %s", g.place)
	}
	g.press(":")
	if g.choices()[0].id != "open-u" && g.last != "open-u" {
		t.Errorf("last choice does not come first: %v", g.choices()[0])
	}
	g.typeIn("tilda").press("enter")
	if e := g.screens[signOn].(*signOnScreen).entry(); g.place != signOn || e == nil || e.Driver != 8 {
		t.Errorf("went to %s, %v", g.place, e)
	}
	g.press(":").typeIn("end the heat").press("enter")
	g.wants(t, "the heat ends now")
	g.press("enter")
	if g.last3() != (race.FinishHeat{}) {
		t.Errorf("got %#v", g.last3())
	}
}

func TestTheMouseDoesWhatKeysDo(t *testing.T) {
	g := newRig(clubNight(4, race.Green)).size(80, 24)
	click := func(text string) {
		t.Helper()
		for y, l := range strings.Split(g.text(), "\n") {
			if x := strings.Index(l, text); x >= 0 {
				g.send(tea.MouseClickMsg{X: ansi.StringWidth(l[:x]), Y: y})
				return
			}
		}
		t.Fatalf("%q is not on the screen", text)
	}
	click("Ömer")
	if g.lane != 2 {
		t.Errorf("lane %d chosen", g.lane)
	}
	click("lap given  -")
	if g.last3() != (race.GiveLaps{Lane: 2, Laps: 1}) {
		t.Errorf("got %#v", g.last3())
	}
	click("track call  +")
	if g.calls() != 1 {
		t.Error("the help bar calls no track")
	}
	g.press("2")
	click("? keys")
	g.wants(t, "Keys now")
	click(": search")
	g.typeIn("tape")
	click("go to Tape")
	if g.place != tape {
		t.Errorf("a click in the palette went to %s", g.place)
	}
}

func TestAFullQueueIsShownAndACallIsTriedAgain(t *testing.T) {
	g := newRig(clubNight(4, race.Green)).size(80, 24)
	g.steward.full = true
	g.press("1", "+")
	g.wants(t, "not taken")
	g.press("space")
	g.wants(t, "trying again")
	g.steward.full = false
	g.send(tick{})
	if g.calls() != 1 {
		t.Error("the call was forgotten")
	}
}

func TestAKeyHeldDownWorksOnce(t *testing.T) {
	g := newRig(clubNight(4, race.Finish)).size(80, 24)
	for range 12 {
		g.clock = g.clock.Add(33 * time.Millisecond)
		g.send(keyOf("enter"))
	}
	if len(g.steward.got) != 1 {
		t.Errorf("enter held down did %d things", len(g.steward.got))
	}
}

func TestAnAnswerIsSaidAndARefusalToo(t *testing.T) {
	g := newRig(clubNight(4, race.Green)).size(80, 24)
	g.press("1", "+")
	g.wants(t, "done: race.GiveLaps", "u takes it back")
	g.clock = g.clock.Add(time.Minute)
	g.send(tick{})
	if g.said.text != "" {
		t.Error("stands for ever")
	}
	g.steward.s = clubNight(4, race.Over)
	g.steward.s.Next = "close the night"
	g.steward.feed.Publish(g.steward.s)
	g.press("enter")
	g.wants(t, "! nothing to do now")
}

func TestLeavingALiveHeatTakesTwoKeys(t *testing.T) {
	g := newRig(clubNight(4, race.Green)).size(80, 24)
	leaves := func(k string) bool {
		g.clock = g.clock.Add(150 * time.Millisecond)
		g.ticking = true
		_, cmd := g.Update(keyOf(k))
		return quits(cmd)
	}
	if leaves("q") || leaves("ctrl+c") {
		t.Error("one key quits")
	}
	if !leaves("ctrl+c") {
		t.Error("ctrl+c twice does not quit")
	}
	g.clock = g.clock.Add(5 * time.Second)
	if leaves("ctrl+c") {
		t.Error("ctrl+c five seconds later quits")
	}
}

// quits says whether a command is the one that quits.
func quits(cmd tea.Cmd) bool {
	if cmd == nil {
		return false
	}
	_, ok := cmd().(tea.QuitMsg)
	return ok
}

func TestANewRotationIsLookedAtFirst(t *testing.T) {
	g := newRig(clubNight(4, race.Idle), func(o *Options) { o.Preview = clubPreviewer{endless: true} }).size(100, 30)
	g.press("r")
	g.wait = time.Millisecond // the search has no end of its own
	g.press("R")
	for end := time.Now().Add(time.Minute); time.Now().Before(end); time.Sleep(time.Millisecond) { // until its first find is there
		g.send(tick{})
		if g.redraw != nil && g.redraw.best != nil {
			break
		}
	}
	g.wait = time.Minute
	g.wants(t, "the fairest so far, 40 % searched", "good enough, use it")
	g.press("enter")
	if d, ok := g.last3().(race.MakeDraw); !ok || d.Seed != 99 || d.Kind != "balanced" {
		t.Errorf("got %#v", g.last3())
	}
	if g.redraw != nil {
		t.Error("the search goes on")
	}
}

func TestTheSetUpChangesTheCard(t *testing.T) {
	g := newRig(clubNight(4, race.SignOn), func(o *Options) { o.SetUp = clubSetUp{} }).size(100, 30)
	g.press("g", "n")
	g.wants(t, "layout", "Long Harbour", "length of a heat")
	s := g.screens[setUp].(*setUpScreen)
	for s.chosen().ID != "length" {
		g.press("down")
	}
	g.press("right")
	if g.snap.Card.Length != 4*time.Minute {
		t.Errorf("length is %v", g.snap.Card.Length)
	}
	g.press("e")
	g.typing.text = "2m30s"
	g.press("enter")
	if g.snap.Card.Length != 150*time.Second {
		t.Errorf("length is %v", g.snap.Card.Length)
	}
	g.press("e")
	g.typing.text = "soon"
	g.press("enter")
	g.wants(t, "cannot read")
	for _, f := range cardFields(&g.snap.Card) {
		for _, c := range f.Choices {
			if _, ok := setCard(g.snap.Card, f.ID, c); !ok {
				t.Errorf("%s cannot be %q", f.ID, c)
			}
		}
	}
}

// A mistake in a screen, a provider or a panel is a line on the Desk.
func TestAMistakeIsALineAndNotTheEnd(t *testing.T) {
	g := newRig(clubNight(4, race.Green), func(o *Options) { o.Picture = func(int, int) []string { panic("no ink") } }).size(80, 24)
	g.press("g", "p")
	g.wants(t, "no ink")
	g.press("esc")
	g.screens[rulings] = brokenScreen{}
	g.press("g", "u")
	g.View()
	g.wants(t, "the screen Rulings failed", "Zoë Winter")
	g.press("space")
	if g.calls() != 1 {
		t.Error("no track call from a broken screen")
	}
	g.press("esc", "esc", "esc")
	g.screens[desk] = brokenScreen{}
	g.place = desk
	g.wants(t, "18 5.314")
}

type brokenScreen struct{}

func (brokenScreen) enter()                    {}
func (brokenScreen) move(string)               {}
func (brokenScreen) draw(*cell.Grid, cell.Box) { panic("a mistake") }

// The code on the screen is the code of the address, module by module.
func TestThePageShowsItsAddressAsACode(t *testing.T) {
	page := &clubPage{}
	g := newRig(clubNight(4, race.Idle), func(o *Options) { o.Page = page }).size(80, 30)
	g.press("w")
	g.wants(t, page.url())
	code, err := qr.Encode(page.url(), qr.M)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(g.text(), "\n")
	n := code.Size + 8
	left := (80 - n) / 2
	top := 2 // below the strip and the head
	for y := range code.Size {
		for x := range code.Size {
			r := []rune(lines[top+(y+4)/2])[left+x+4]
			half := "█▀"
			if (y+4)%2 == 1 {
				half = "█▄"
			}
			if strings.ContainsRune(half, r) != code.Black(x, y) {
				t.Fatalf("module %d,%d is %q", x, y, r)
			}
		}
	}
	g.press("esc")
	if strings.Contains(g.text(), "▀▀▀▀▀▀▀") {
		t.Error("esc does not close the code")
	}
	g.press("w")
	if page.on {
		t.Error("the page is still on")
	}
}

type clubPage struct{ on bool }

func (p *clubPage) url() string            { return "http://192.0.2.7:8080/" }
func (p *clubPage) Start() (string, error) { p.on = true; return p.url(), nil }
func (p *clubPage) Stop() error            { p.on = false; return nil }

func TestPapersAreMade(t *testing.T) {
	g := newRig(clubNight(4, race.Idle)).size(100, 30)
	g.press("g", "h", "shift+tab", "down", "b")
	g.wants(t, "made: sheets/csv.pdf")
}

func TestSettings(t *testing.T) {
	g := newRig(clubNight(4, race.Green), func(o *Options) { o.Settings = Settings{ASCII: true, Comma: true, Mph: true, Graph: "none"} }).size(160, 45)
	g.wants(t, " # 1 ", "5,314", "mph")
	if strings.Contains(g.text(), "■") || strings.Contains(g.text(), "Pace") {
		t.Error("shapes or curves in spite of the settings")
	}
	g.press("m")
	g.wants(t, "sound on")
	s := clubNight(4, race.TrackCall)
	g.steward.s = s
	g.steward.feed.Publish(s)
	g.ticking = true
	if _, cmd := g.Update(changed{}); !rings(cmd) {
		t.Error("a track call rings no bell")
	}
}

// rings says whether one of the commands of a batch rings the bell; others may wait for ever.
func rings(cmd tea.Cmd) bool {
	batch, ok := cmd().(tea.BatchMsg)
	if !ok {
		return false
	}
	rang := make(chan bool, len(batch))
	for _, c := range batch {
		if c != nil {
			go func() { raw, ok := c().(tea.RawMsg); rang <- ok && raw.Msg == "\a" }()
		}
	}
	for {
		select {
		case ok := <-rang:
			if ok {
				return true
			}
		case <-time.After(time.Minute):
			return false
		}
	}
}

func TestTheLampsGoOnByTheClock(t *testing.T) {
	s := clubNight(4, race.Lamps)
	s.Clock.Lamps = 0
	g := newRig(s).size(80, 24)
	g.clock = s.Clock.Until.Add(-2 * time.Second) // three of five seconds are gone
	g.wants(t, "●●●○○")
	g.clock = s.Clock.Until
	g.wants(t, "●●●●●")
}

// While the next heat waits for its start, a ruling is about the last one driven, and the screen says so.
func TestRulingsBeforeTheStartAreAboutTheLastHeat(t *testing.T) {
	g := newRig(clubNight(4, race.Staged)).size(80, 24)
	g.press("2")
	g.wants(t, "heat 3 Ines Łapicka", "lap given")
	g.press("+")
	if want := (race.GiveLaps{Heat: 3, Lane: 2, Laps: 1}); g.last3() != want {
		t.Errorf("got %#v", g.last3())
	}
	g.steward.s.Redo = "1 lap given"
	g.press("u")
	g.wants(t, "U does it again")
}
