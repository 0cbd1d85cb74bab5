package tui

import (
	"context"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"

	"lanewright/race"
	"lanewright/tui/action"
	"lanewright/tui/cell"
	"lanewright/tui/figure"
)

// place is a screen one can go to.
type place string

// The places.
const (
	desk     place = "Desk"
	board    place = "Board"
	signOn   place = "Sign-on"
	rotation place = "Rotation"
	rulings  place = "Rulings"
	tape     place = "Tape"
	plan     place = "Plan"
	sheets   place = "Sheets"
	speeds   place = "Speeds"
	setUp    place = "Set-up"
)

// screen draws one place. It keeps what is chosen on it, and nothing of the race.
type screen interface {
	draw(g *cell.Grid, b cell.Box)
	move(key string) // arrows, pgup, pgdn, home, end, tab, shift+tab
	enter()          // has just been gone to
}

// Root is the whole of the screens: the one model of the program. It is used by one goroutine, the event loop.
type Root struct {
	opt  Options
	now  func() time.Time
	form figure.Form
	snap *race.Snapshot // never nil
	sub  chan struct{}
	ctx  context.Context // of work beside the event loop, until Close
	stop context.CancelFunc

	w, h    int
	place   place
	screens map[place]screen
	broken  map[place]string // screens that failed, and how
	acts    *action.Registry
	set     Settings
	size    int // view size of the Board

	grid   *cell.Grid
	pal    *cell.Palette
	depth  cell.Depth
	light  bool
	good   string // the last frame that was drawn whole
	charts *chartCache

	typing  *typing           // text being typed, nil if none
	kept    map[string]string // what was typed and not used, by what it was for
	goAt    time.Time         // when g was pressed, zero if it was not
	lane    int               // chosen lane, 0 none
	laneTil time.Time
	ask     asking // what the next digit means
	sure    *sure  // what enter would do, having been shown first
	quest   uint64 // question in front, 0 none
	help    bool
	helpTop int
	pick    list // of the palette
	last    string
	said    saying
	quitAt  time.Time // when ctrl+c was pressed
	keyWas  string    // the key before, and when
	keyAt   time.Time
	owed    bool   // a track call that was not taken and is tried again
	by, why string // who rules tonight, and the reason of the next ruling
	pageURL string
	qr      bool
	ticking bool
	loaded  loaded
	redraw  *redraw
	pending []tea.Cmd // work that a screen wants done
}

// New returns the screens, opened at the Desk. They listen to the feed until Close.
func New(opt Options) *Root {
	if opt.Feed == nil {
		opt.Feed = NewFeed()
	}
	r := &Root{opt: opt, now: opt.Now, set: opt.Settings, place: desk, snap: &race.Snapshot{}, w: 80, h: 24,
		grid: cell.NewGrid(0, 0), kept: map[string]string{}, broken: map[place]string{}, charts: newChartCache()}
	if r.now == nil {
		r.now = time.Now
	}
	if r.opt.Zone == nil {
		r.opt.Zone = time.Local
	}
	r.sub = opt.Feed.Subscribe()
	r.ctx, r.stop = context.WithCancel(context.Background())
	r.form = figure.Form{Comma: r.set.Comma, Mph: r.set.Mph}
	r.repaint()
	r.screens = map[place]screen{
		desk: &deskScreen{r: r}, board: &boardScreen{r: r}, signOn: newSignOn(r), rotation: &rotationScreen{r: r}, rulings: &rulingsScreen{r: r},
		tape: &tapeScreen{r: r}, plan: &planScreen{r: r}, sheets: newSheets(r), speeds: &speedsScreen{r: r}, setUp: &setUpScreen{r: r},
	}
	r.acts = action.New()
	r.addActions()
	if s := opt.Feed.Newest(); s != nil {
		r.snap = s
	}
	return r
}

// changed says that the feed has a newer snapshot.
type changed struct{}

// tick says that a tenth of a second has passed.
type tick struct{}

// wakeGap is the least time between two looks at the feed. Passes come in bunches, and the last of a bunch is to show within 50 ms
// of being heard too: with a frame of 22 ms that leaves no more than this (BenchmarkSnapshotToTerminal).
const wakeGap = 20 * time.Millisecond

// Init begins to listen to the feed and asks the terminal for its background.
func (r *Root) Init() tea.Cmd {
	return tea.Batch(tea.RequestBackgroundColor, waitFor(r.sub, 0), r.loadKnown(), r.wake())
}

// Close ends the subscription and whatever works beside. It may be called from any goroutine, and while a program that hangs on
// its terminal has not ended yet.
func (r *Root) Close() {
	r.opt.Feed.Leave(r.sub)
	r.stop()
}

// waitFor waits for the next snapshot, but not before gap has passed.
func waitFor(c chan struct{}, gap time.Duration) tea.Cmd {
	return func() tea.Msg {
		if gap > 0 {
			t := time.NewTimer(gap)
			<-t.C
		}
		if _, ok := <-c; !ok {
			return nil
		}
		return changed{}
	}
}

// Update takes one message. A mistake in the handling of one is said on the Desk and ends nothing.
func (r *Root) Update(msg tea.Msg) (m tea.Model, cmd tea.Cmd) {
	m = r
	defer func() {
		if e := recover(); e != nil {
			r.fail(r.place, e)
			cmd = tea.Batch(cmd, r.wake())
			if _, ok := msg.(changed); ok { // never lose the feed
				cmd = tea.Batch(cmd, waitFor(r.sub, wakeGap))
			}
		}
	}()
	cmd = r.update(msg)
	if len(r.pending) > 0 {
		cmd = tea.Batch(append(r.pending, cmd)...)
		r.pending = nil
	}
	if wake := r.wake(); wake != nil {
		cmd = tea.Batch(cmd, wake)
	}
	return r, cmd
}

func (r *Root) update(msg tea.Msg) tea.Cmd {
	switch msg := msg.(type) {
	case tea.WindowSizeMsg:
		r.w, r.h = max(msg.Width, 0), max(msg.Height, 0)
		return r.loadPicture()
	case changed:
		return tea.Batch(waitFor(r.sub, wakeGap), r.look(), r.payCall())
	case tick:
		r.ticking = false
		r.expire()
		return r.payCall()
	case tea.KeyPressMsg:
		r.look()
		return r.key(msg)
	case tea.PasteMsg:
		if r.typing != nil {
			r.typing.add(msg.Content)
			r.typed()
		}
	case tea.MouseClickMsg:
		return r.click(msg.X, msg.Y)
	case tea.MouseWheelMsg:
		key := "down"
		if msg.Button == tea.MouseWheelUp {
			key = "up"
		}
		r.move(key)
	case tea.BackgroundColorMsg:
		r.light = !msg.IsDark()
		r.repaint()
	case tea.ColorProfileMsg:
		r.depth = depthOf(msg.Profile)
		r.repaint()
	case answer:
		return r.answered(msg)
	case arrived:
		msg.take(r)
	}
	return nil
}

func depthOf(p colorprofile.Profile) cell.Depth {
	switch {
	case p >= colorprofile.TrueColor:
		return cell.TrueColour
	case p == colorprofile.ANSI256:
		return cell.Table256
	case p == colorprofile.ANSI:
		return cell.Table16
	}
	return cell.NoColour
}

// repaint makes the palette anew.
func (r *Root) repaint() {
	d := r.depth
	if r.set.NoColor {
		d = cell.NoColour
	}
	r.pal = cell.NewPalette(d, r.light)
}

// look takes the newest snapshot and does what follows from the change.
func (r *Root) look() tea.Cmd {
	s := r.opt.Feed.Newest()
	if s == nil || s == r.snap {
		return nil
	}
	was := r.snap
	r.snap = s
	r.expire()
	var cmds []tea.Cmd
	if r.set.Sound && was.Phase != s.Phase && was.Phase != "" {
		switch s.Phase {
		case race.Green, race.TrackCall, race.Finish:
			cmds = append(cmds, tea.Raw("\a"))
		}
	}
	if was.Night != s.Night || was.Layout != s.Layout {
		cmds = append(cmds, r.loadPicture(), r.loadKnown())
	}
	return tea.Batch(cmds...)
}

// wake asks for a tick if something on the screen changes by itself.
func (r *Root) wake() tea.Cmd {
	if r.ticking || !r.moving() {
		return nil
	}
	r.ticking = true
	every := 100 * time.Millisecond
	if r.set.Still {
		every = 500 * time.Millisecond
	}
	return tea.Tick(every, func(time.Time) tea.Msg { return tick{} })
}

// moving says whether time alone changes the screen.
func (r *Root) moving() bool {
	s := r.snap
	return s.Clock.Ticking || !s.Clock.Until.IsZero() && s.Phase.Live() || s.Phase == race.Practice || r.lane != 0 || !r.goAt.IsZero() ||
		!r.said.until.IsZero() || r.sure != nil || r.ask.what != nothing || !r.quitAt.IsZero() || r.redraw != nil && !r.redraw.done || r.place == setUp || r.owed
}

// View draws the screen. If the drawing fails the last good screen stays.
func (r *Root) View() (v tea.View) {
	v.AltScreen = true
	v.MouseMode = tea.MouseModeCellMotion
	v.WindowTitle = r.title()
	v.Content = r.good
	defer func() {
		if e := recover(); e != nil {
			r.fail(r.place, e)
		}
	}()
	r.draw()
	r.good = r.grid.Render(r.pal)
	v.Content = r.good
	return v
}

// title is what the terminal's window is called.
func (r *Root) title() string {
	if r.snap.Heat > 0 {
		return cell.Clean("heat " + itoa(r.snap.Heat) + " " + string(r.snap.Phase))
	}
	return "lanewright"
}

// screen returns the screen of the place in front; a broken one is the Desk.
func (r *Root) screen() screen {
	if r.broken[r.place] != "" {
		return r.screens[desk]
	}
	return r.screens[r.place]
}
