package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"lanewright/race"
	"lanewright/store"
)

func demoCommand() *cobra.Command {
	var o demoOptions
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Watch and run a race night of an invented club: no hardware, no set-up",
		Long: "Runs a night with a simulated counter that sends real bytes over a pseudo-terminal, and keeps it in a real store.\n" +
			"Quit and start again: the night is where it was. With --headless it plays the night to its end and prints the results.",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if o.speed < 0.1 || o.speed > 1000 {
				return fmt.Errorf("--speed is %g; it is from 0.1 to 1000 times real time", o.speed)
			}
			if o.headless {
				return demoHeadless(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), o)
			}
			if o.json {
				return errors.New("--json prints results and so needs --headless")
			}
			if err := needScreen(cmd.OutOrStdout(), "lanewright demo --headless"); err != nil {
				return err
			}
			return demoOnScreen(cmd.Context(), cmd.InOrStdin(), cmd.OutOrStdout(), o)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.headless, "headless", false, "no screen: play the night to its end and print the results")
	f.Float64Var(&o.speed, "speed", 1, "so many times faster than real time")
	f.Uint64Var(&o.seed, "seed", 7, "of the drivers' luck and of the draw: the same seed gives the same night")
	f.BoolVar(&o.json, "json", false, "print the results as JSON")
	f.StringVar(&o.store, "store", "", "file for the night (default: one of the demo's own)")
	f.BoolVar(&o.fresh, "fresh", false, "begin a new night even if one is under way")
	screenFlags(cmd, &o.screen)
	return cmd
}

type demoOptions struct {
	headless, json, fresh bool
	speed                 float64
	seed                  uint64
	store                 string
	screen                screenOptions
}

// demoSession starts the simulated counter and the night.
func demoSession(ctx context.Context, o demoOptions, set setting) (*session, *benchLine, error) {
	night, err := demoSheet(o.seed)
	if err != nil {
		return nil, nil, err
	}
	if set.begin, err = night.begin(set.night, o.speed); err != nil {
		return nil, nil, err
	}
	set.speed, set.first, set.track, set.counter = o.speed, night.sheet.Rotation, &night.track, night.sheet.Counters[0].Name
	return simulated(ctx, set, night, o.seed, o.speed)
}

// demoHeadless plays the night to its end and prints the results. Its store is thrown away unless one is named.
func demoHeadless(ctx context.Context, out, errs io.Writer, o demoOptions) (err error) {
	if o.store == "" {
		dir, err := os.MkdirTemp("", "lanewright-demo-")
		if err != nil {
			return fmt.Errorf("cannot make a folder for the demo's night: %w", err)
		}
		defer os.RemoveAll(dir)
		o.store = filepath.Join(dir, "demo.lw")
	}
	s, line, err := demoSession(ctx, o, setting{storePath: o.store, night: "demo", alone: true})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.close(), line.close()) }()
	if !line.real {
		fmt.Fprintln(errs, "this system has no pseudo-terminals: the counter's bytes come through a pipe inside the program")
	}
	return playToTheEnd(ctx, s, out, o.json)
}

// playToTheEnd waits for the last heat to be accepted and prints the results.
func playToTheEnd(ctx context.Context, s *session, out io.Writer, asJSON bool) error {
	select {
	case <-s.control.Over():
	case <-s.done:
		if s.err == nil {
			return errors.New("the night stopped before its last heat")
		}
		return s.err
	case <-ctx.Done():
		return ctx.Err()
	}
	report, err := s.control.Report(ctx)
	if err != nil {
		return err
	}
	// Events are told by a goroutine of their own: the results come behind the last of them.
	if err := s.endLoop(); err != nil {
		return err
	}
	if asJSON {
		return printJSON(out, resultsOf(report))
	}
	return printResults(out, report)
}

// demoOnScreen shows the demo's night, the one under way if there is one.
func demoOnScreen(ctx context.Context, in io.Reader, out io.Writer, o demoOptions) (err error) {
	if o.store == "" {
		if o.store, err = demoStorePath(); err != nil {
			return err
		}
	}
	id, err := demoNightID(o.store, o.fresh)
	if err != nil {
		return err
	}
	s, line, err := demoSession(ctx, o, setting{storePath: o.store, night: id})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.close(), line.close()) }()
	return showNight(ctx, only{s}, in, out, o.screen)
}

// demoStorePath is where the demo keeps its night: among the things that may be thrown away.
func demoStorePath() (string, error) {
	cache, err := os.UserCacheDir()
	if err != nil {
		cache = os.TempDir()
	}
	dir := filepath.Join(cache, "lanewright", "demo")
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", fmt.Errorf("cannot make a folder for the demo's night: %w; name a file with --store", err)
	}
	return filepath.Join(dir, "demo.lw"), nil
}

// demoNightID finds the night that is under way, or names a new one.
func demoNightID(path string, fresh bool) (string, error) {
	next := "demo 1"
	if _, err := os.Stat(path); err != nil {
		return next, nil
	}
	s, err := store.Open(path, store.Options{Program: "lanewright demo"})
	if err != nil {
		return "", err
	}
	defer s.Close()
	nights, err := s.Nights()
	if err != nil || len(nights) == 0 {
		return next, err
	}
	last := nights[len(nights)-1]
	if !fresh {
		night, err := foldNight(s, last.ID)
		if err == nil && night.IsOpen() && night.Phase() != race.Over {
			return last.ID, nil
		}
	}
	return fmt.Sprintf("demo %d", len(nights)+1), nil
}
