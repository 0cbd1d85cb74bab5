package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"time"

	"github.com/spf13/cobra"

	"lanewright/race"
	"lanewright/race/sheet"
	"lanewright/timing/describe"
	"lanewright/timing/port"
	"lanewright/tui"
	"lanewright/tui/page"
)

func nightRunCommand() *cobra.Command {
	var o runOptions
	cmd := &cobra.Command{
		Use:   "run SHEET",
		Short: "Run the night of a night sheet; an open one in the store goes on where it was",
		Long: "Reads a night sheet (TOML), listens to the counter and runs the heats, on the screen or without one.\n" +
			"With --headless heats start by themselves after the card's pause, and --events prints one JSON line for\n" +
			"every journal event after it is safely on disk.\n\n" +
			"Cutting track power from here is a convenience for racing, never a safety device.",
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.events && !o.headless {
				return errors.New("--events writes to standard output and so needs --headless")
			}
			return runNight(cmd.Context(), cmd.InOrStdin(), cmd.OutOrStdout(), args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.port, "port", "", "serial device of the counter (see: lanewright counter ports)")
	f.IntVar(&o.baud, "baud", 0, "speed of the line (default: as the sheet or the line description says, else 115200)")
	f.StringVar(&o.describe, "describe", "", "line description of a counter that does not speak our own sentences (TOML)")
	f.StringVar(&o.store, "store", "", "file that keeps the nights")
	f.StringVar(&o.night, "night", "", "id of the night in the store (default: day and title)")
	f.BoolVar(&o.headless, "headless", false, "no screen: heats start by themselves after the card's pause")
	f.BoolVar(&o.events, "events", false, "print one JSON line for every durable event")
	f.BoolVar(&o.json, "json", false, "with --headless: print the results as JSON at the end")
	f.StringVar(&o.board, "board", "", "address at which to serve the page for a second screen, such as 127.0.0.1:8040")
	f.StringVar(&o.backup, "backup", "", "file on another disk: copied to after each heat")
	screenFlags(cmd, &o.screen)
	_ = cmd.MarkFlagRequired("store")
	return cmd
}

type runOptions struct {
	port, describe, store, night, backup, board string
	baud                                        int
	headless, events, json                      bool
	screen                                      screenOptions
}

func runNight(ctx context.Context, in io.Reader, out io.Writer, sheetPath string, o runOptions) (err error) {
	night, err := readNightSheet(sheetPath)
	if err != nil {
		return err
	}
	set := setting{storePath: o.store, night: o.night, alone: o.headless, backup: o.backup}
	if set.night == "" {
		set.night = nightID(time.Now(), night.sheet.Title)
	}
	if set.port, set.format, err = counterOf(night, o); err != nil {
		return err
	}
	if set.seconds, err = secondsOf(night); err != nil {
		return err
	}
	if set.begin, err = night.begin(set.night, 0); err != nil {
		return err
	}
	set.first, set.track, set.counter = night.sheet.Rotation, &night.track, night.sheet.Counters[0].Name
	if o.events {
		outliveReaders()
		set.events = eventPrinter(out)
	}
	if !o.headless {
		if err := needScreen(out, "lanewright night run --headless"); err != nil {
			return err
		}
	}
	s, err := openSession(ctx, set)
	if err != nil {
		var port *portError
		if errors.As(err, &port) {
			return port.err // a port named on the command line is a wrong command line
		}
		return err
	}
	defer func() { err = errors.Join(err, s.close()) }()
	if !s.found {
		if err := keepDrivers(ctx, s.store, driversIn(set.begin), night.sheet.Scale); err != nil {
			return err
		}
		if err := keepLayout(ctx, s.store, night.frozen.Layout, night.beside(night.sheet.Layout)); err != nil {
			return err
		}
	}
	if o.board != "" {
		server, err := page.Serve(o.board, page.New(page.Options{Feed: s.feed}))
		if err != nil {
			return err
		}
		defer server.Stop()
		warnOpen(os.Stderr.Write, o.board)
	}
	if o.headless {
		if o.events && !o.json {
			return playToTheEnd(ctx, s, io.Discard, false)
		}
		return playToTheEnd(ctx, s, out, o.json)
	}
	return showNight(ctx, only{s}, in, out, o.screen)
}

// counterOf settles the line of the counter that counts from the flags, then the sheet.
func counterOf(night nightSheet, o runOptions) (*port.Config, *describe.Description, error) {
	c := night.sheet.Counters[0]
	c.Device = cmp.Or(o.port, c.Device)
	c.Baud = cmp.Or(o.baud, c.Baud)
	description := o.describe
	if description == "" {
		description = night.beside(c.Description)
	}
	if c.Device == "" {
		return nil, nil, errors.New("no counter: name its serial device with --port, or in the sheet under [counter]; see: lanewright counter ports")
	}
	return lineOf(c, description)
}

// secondsOf settles the lines of the further counters of a sheet.
func secondsOf(night nightSheet) ([]secondCounter, error) {
	var list []secondCounter
	for _, c := range night.sheet.Counters[1:] {
		if c.Device == "" {
			return nil, fmt.Errorf("%s: counter %s has no device", night.sheet.File, c.Name)
		}
		line, format, err := lineOf(c, night.beside(c.Description))
		if err != nil {
			return nil, err
		}
		list = append(list, secondCounter{c.Name, *line, format})
	}
	return list, nil
}

// lineOf joins what a sheet and a line description say about a counter's line; the sheet has the last word.
func lineOf(c sheet.Counter, description string) (*port.Config, *describe.Description, error) {
	line := &port.Config{Name: c.Device}
	var format *describe.Description
	if description != "" {
		var err error
		if format, err = readDescription(description); err != nil {
			return nil, nil, err
		}
		line.Mode = format.Port
	}
	line.Mode.Baud = cmp.Or(c.Baud, line.Mode.Baud)
	line.Mode.DataBits = cmp.Or(c.DataBits, line.Mode.DataBits)
	line.Mode.Parity = cmp.Or(c.Parity, line.Mode.Parity)
	line.Mode.StopBits = cmp.Or(c.StopBits, line.Mode.StopBits)
	return line, format, nil
}

// eventPrinter prints events as JSON Lines. A reader who went away does not end the night: printing stops, timing goes on.
func eventPrinter(out io.Writer) func(uint64, race.Event, []byte) {
	gone := false
	var buf []byte
	return func(_ uint64, _ race.Event, line []byte) {
		if gone {
			return
		}
		buf = append(append(buf[:0], line...), '\n')
		if _, err := out.Write(buf); err != nil {
			gone = true
			fmt.Fprintln(os.Stderr, "lanewright: nobody reads the events any more; the night goes on:", err)
		}
	}
}

// driversIn lists the drivers with whom a night begins.
func driversIn(events []race.Event) []tui.Known {
	var list []tui.Known
	for _, e := range events {
		if d, ok := e.(race.DriverAdded); ok {
			list = append(list, tui.Known{ID: d.Register, Name: d.Name, Short: d.Short, Class: d.Class, Car: d.Car, Group: d.Group})
		}
	}
	return list
}
