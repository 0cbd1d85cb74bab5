package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"github.com/adrg/xdg"
	"github.com/spf13/cobra"

	"lanewright/race"
	"lanewright/store"
)

// clubOptions are the flags of the plain command, which opens the club's night.
type clubOptions struct {
	store  string
	fresh  bool
	screen screenOptions
}

func clubFlags(cmd *cobra.Command, o *clubOptions) {
	cmd.Flags().StringVar(&o.store, "store", "", "file that keeps the nights (default: one of your own)")
	cmd.Flags().BoolVar(&o.fresh, "new", false, "begin a new night even if one is under way")
	screenFlags(cmd, &o.screen)
}

// openClub opens the night that is under way, or begins one as the last one was.
func openClub(ctx context.Context, in io.Reader, out io.Writer, o clubOptions) (err error) {
	if err := needScreen(out, "lanewright night run --headless, or see lanewright --help"); err != nil {
		return err
	}
	if o.store == "" {
		if o.store, err = xdg.DataFile(filepath.Join("lanewright", "club.lw")); err != nil {
			return fmt.Errorf("cannot make a folder for the club's nights: %w; name a file with --store", err)
		}
	}
	c, err := newClub(ctx, o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.close()) }()
	return showNight(ctx, c, in, out, o.screen)
}

// nightUnderWay finds the night to go on with, if there is one: the newest, if it is neither closed nor over.
func nightUnderWay(s *store.Store) (past *pastNight, nights int, err error) {
	list, err := s.Nights()
	if err != nil {
		return nil, 0, err
	}
	for i := len(list) - 1; i >= 0; i-- {
		if list[i].Records == 0 {
			continue
		}
		night, err := foldNight(s, list[i].ID)
		if err != nil {
			return nil, len(list), err
		}
		return &night, len(list), nil
	}
	return nil, len(list), nil
}

// goesOn tells whether a night may be gone on with.
func (p *pastNight) goesOn() bool {
	return p != nil && p.IsOpen() && p.Phase() != race.Over
}

// freshID names a night that the store does not have.
func freshID(s *store.Store, title string, now time.Time) (string, error) {
	base := nightID(now, title)
	for n := 1; ; n++ {
		id := base
		if n > 1 {
			id = fmt.Sprintf("%s %d", base, n)
		}
		if _, err := s.Night(id); errors.Is(err, store.ErrNotFound) {
			return id, nil
		} else if err != nil {
			return "", err
		}
	}
}
