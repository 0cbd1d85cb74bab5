package main

import (
	"context"
	"errors"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"lanewright/layout"
	"lanewright/layout/draw"
	"lanewright/tui"
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

// showNight shows the screens of a running night until they are left. When the terminal dies the night goes on without one until
// the program is told to stop.
func showNight(ctx context.Context, s *session, in io.Reader, out io.Writer, o screenOptions) error {
	page := &secondScreen{feed: s.feed, address: "127.0.0.1:0"}
	defer page.Stop()
	root := tui.New(tui.Options{
		Feed: s.feed, Commander: s.control, Register: &register{s.store, s.night}, Preview: s.draws,
		Unfold: unfolder{s.control}, Sheets: &sheetMaker{s}, Page: page, Settings: o.settings(),
		Picture: pictureOf(s.track),
	})
	screens, cancel := context.WithCancel(ctx)
	defer cancel()
	shown := make(chan error, 1)
	go func() { shown <- tui.Run(screens, root, in, out) }()
	select {
	case err := <-shown:
		if errors.Is(err, tui.ErrScreenGone) {
			return keepTiming(ctx, s)
		}
		return err
	case err := <-s.ended: // the loop failed: the screens have nothing to show any more
		s.ended <- err
		cancel()
		<-shown
		return err
	}
}

// keepTiming goes on without a screen until no heat is being driven: no pass is lost, and the night can then be opened again from
// another terminal.
func keepTiming(ctx context.Context, s *session) error {
	look := time.NewTicker(time.Second)
	defer look.Stop()
	for {
		if now := s.feed.Newest(); now == nil || !now.Phase.Live() {
			return tui.ErrScreenGone
		}
		select {
		case <-ctx.Done():
			return nil
		case err := <-s.ended:
			s.ended <- err
			return err
		case <-look.C:
		}
	}
}

// pictureOf draws the layout for the screen.
func pictureOf(track *layout.Track) func(width, height int) []string {
	if track == nil {
		return nil
	}
	return func(width, height int) []string {
		if width < 1 || height < 1 {
			return nil
		}
		return draw.Cells(*track, width, height, draw.CellOptions{}).Rows
	}
}
