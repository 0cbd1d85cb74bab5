package main

import (
	"context"
	"errors"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"lanewright/layout/draw"
	"lanewright/race"
	"lanewright/tui"
	"lanewright/tui/speedview"
)

// screenOptions is how a person wants the screens.
type screenOptions struct {
	sound, still, comma, mph bool
	graph, color             string
}

func screenFlags(cmd *cobra.Command, o *screenOptions) {
	f := cmd.Flags()
	f.BoolVar(&o.sound, "sound", false, "ring the bell at go, track call and finish")
	f.BoolVar(&o.still, "still", false, "no animation")
	f.BoolVar(&o.comma, "comma", false, "decimal comma on the screens")
	f.BoolVar(&o.mph, "mph", false, "miles an hour")
	f.StringVar(&o.graph, "graph", "braille", "charts in braille, block or none")
	f.StringVar(&o.color, "color", "auto", "auto, or never for no colours at all")
}

func (o screenOptions) settings() tui.Settings {
	return tui.Settings{Sound: o.sound, Still: o.still, Comma: o.comma, Mph: o.mph, Graph: o.graph, NoColor: o.color == "never" || os.Getenv("NO_COLOR") != ""}
}

// host is whatever runs the night that the screens show. The session may be replaced while nobody races.
type host interface{ current() *session }

// only hosts one session for good.
type only struct{ *session }

func (o only) current() *session { return o.session }

// commander sends what a person wants to the session of the moment.
type commander struct{ host }

// Do returns at once.
func (c commander) Do(cmd race.Command) <-chan race.Reply { return c.current().control.Do(cmd) }

// showNight shows the screens of a running night until they are left. When the terminal dies the night goes on without one while
// a heat is driven.
func showNight(ctx context.Context, h host, in io.Reader, out io.Writer, o screenOptions) error {
	page := &secondScreen{feed: h.current().feed, address: "127.0.0.1:0"}
	defer page.Stop()
	options := tui.Options{
		Feed: h.current().feed, Commander: commander{h}, Register: register{h}, Preview: previewer{h},
		Unfold: unfolder{h}, Sheets: sheetMaker{h}, Page: page, Settings: o.settings(), Picture: pictureOf(h),
	}
	options.Speeds, options.Tables = speedsSource{h}, furtherTables(h)
	if set, ok := h.(tui.SetUp); ok {
		options.SetUp = set
	}
	root := tui.New(options)
	screens, cancel := context.WithCancel(ctx)
	defer cancel()
	shown := make(chan error, 1)
	go func() { shown <- tui.Run(screens, root, in, out) }()
	for {
		s := h.current()
		select {
		case err := <-shown:
			if errors.Is(err, tui.ErrScreenGone) {
				return keepTiming(ctx, h)
			}
			return err
		case <-s.done:
			if h.current() != s { // replaced
				continue
			}
			cancel() // the loop failed: the screens have nothing to show any more
			<-shown
			return s.err
		}
	}
}

// keepTiming goes on without a screen until no heat is being driven: no pass is lost, and the night can then be opened again from
// another terminal.
func keepTiming(ctx context.Context, h host) error {
	look := time.NewTicker(time.Second)
	defer look.Stop()
	s := h.current()
	for {
		if now := s.feed.Newest(); now == nil || !now.Phase.Live() {
			return tui.ErrScreenGone
		}
		select {
		case <-ctx.Done():
			return nil
		case <-s.done:
			return s.err
		case <-look.C:
		}
	}
}

// pictureOf draws the layout of the moment for the screen.
func pictureOf(h host) func(width, height int) []string {
	return func(width, height int) []string {
		track := h.current().track
		if track == nil || width < 1 || height < 1 {
			return nil
		}
		return draw.Cells(*track, width, height, draw.CellOptions{}).Rows
	}
}

// speedsSource compares for the night of the moment.
type speedsSource struct{ host }

// Speeds works the page out anew.
func (s speedsSource) Speeds() (speedview.Page, error) {
	now := s.current()
	return speedPage{now.store, now.night}.Speeds()
}
