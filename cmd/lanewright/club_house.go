package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"lanewright/race"
	"lanewright/store"
	"lanewright/timing/bench"
	"lanewright/timing/port"
	"lanewright/tui"
)

// club hosts a club's evening: the session under the screens, the counter's line, and the settings that the next night begins with.
type club struct {
	ctx  context.Context
	path string
	feed *tui.Feed

	mu       sync.Mutex // guards what follows; held while a session is replaced
	settings clubSettings
	session  *session
	line     *benchLine // of a simulated counter
}

// newClub opens the store and the night under way, or begins a new one.
func newClub(ctx context.Context, o clubOptions) (*club, error) {
	c := &club{ctx: ctx, path: o.store, feed: tui.NewFeed()}
	s, err := store.Open(o.store, store.Options{Program: "lanewright"})
	if err != nil {
		return nil, err
	}
	past, _, err := nightUnderWay(s)
	if err == nil {
		c.settings, err = loadSettings(s)
	}
	id := ""
	switch {
	case err != nil:
	case past.goesOn() && !o.fresh:
		id = past.id
	default:
		if past != nil { // last night's rules are the start
			c.settings.Card = past.Card()
		}
		c.settings.Rotation.Seed = uint64(time.Now().UnixNano())
		id, err = freshID(s, c.settings.Title, time.Now())
	}
	// The session opens the store again: it owns it from here on.
	if err := errors.Join(err, s.Close()); err != nil {
		return nil, err
	}
	return c, c.begin(id, nil)
}

// begin starts the session of a night with the settings as they are, and with drivers already signed on.
func (c *club) begin(id string, drivers []race.Event) error {
	night, err := c.settings.night()
	if err != nil {
		return err
	}
	set := setting{storePath: c.path, night: id, first: c.settings.Rotation, track: &night.track, counter: "counter", feed: c.feed, patient: true, backup: c.settings.Backup}
	if set.begin, err = night.begin(id, 0); err != nil {
		return err
	}
	set.begin = append(set.begin, drivers...)
	if c.settings.Description != "" {
		if set.format, err = readDescription(c.settings.Description); err != nil {
			return err
		}
	}
	var s *session
	if c.settings.Device == simulatedCounter {
		s, c.line, err = simulated(c.ctx, set, night, uint64(time.Now().UnixNano()), 1)
	} else {
		set.port = &port.Config{Name: c.settings.Device}
		if set.format != nil {
			set.port.Mode = set.format.Port
		}
		s, err = openSession(c.ctx, set)
	}
	if err != nil {
		return err
	}
	c.session = s
	if err := keepLayout(c.ctx, s.store, night.frozen.Layout, c.settings.LayoutFile); err != nil {
		return err
	}
	return c.settings.save(c.ctx, s.store)
}

// simulated starts a counter on the bench, with cars for whoever is at the line, and a session that hears it.
func simulated(ctx context.Context, set setting, night nightSheet, seed uint64, speed float64) (*session, *benchLine, error) {
	cars := &demoField{seed: seed, lanes: night.frozen.Layout.Lanes, par: parLaps(night.track, night.frozen.Layout.Lanes)}
	held := make(chan *session, 1) // the cars ask who is at the line only after the night is there
	cars.look = func(fn func(*race.Night)) error {
		s := <-held
		held <- s
		// A minute: on a loaded machine a car must not stay on the grid because the loop was busy.
		ask, cancel := context.WithTimeout(ctx, time.Minute)
		defer cancel()
		return s.control.Look(ask, fn)
	}
	line, err := plugBench(ctx, bench.Config{
		Name: "bench", Lanes: len(cars.lanes), Speed: speed, Boot: uint64(time.Now().UnixNano()), Seed: seed,
		Laps: cars.lapOf, Coast: 300 * time.Millisecond,
	})
	if err != nil {
		return nil, nil, err
	}
	set.port = &line.port
	s, err := openSession(ctx, set)
	if err != nil {
		_ = line.close()
		return nil, nil, err
	}
	held <- s
	line.start()
	return s, line, nil
}

// current is the session that the screens show.
func (c *club) current() *session {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.session
}

// close ends the evening; drivers who are new go into the register.
func (c *club) close() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.end()
}

func (c *club) end() error {
	if c.session == nil {
		return nil
	}
	var drivers []tui.Known
	lookErr := c.session.look(func(n *race.Night) {
		for _, d := range n.EveryDriver() {
			drivers = append(drivers, knownOf(d))
		}
		c.settings.Card = n.Card()
	})
	var errs []error
	if lookErr == nil {
		errs = append(errs, keepDrivers(context.WithoutCancel(c.ctx), c.session.store, drivers, c.settings.Scale), c.settings.save(context.WithoutCancel(c.ctx), c.session.store))
	}
	errs = append(errs, c.session.close())
	c.session = nil
	if c.line != nil {
		errs = append(errs, c.line.close())
		c.line = nil
	}
	return errors.Join(errs...)
}

// change replaces the session by one with other settings. Nothing may have been raced yet: a night's layout and counter are frozen.
func (c *club) change(alter func(*clubSettings) error) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	was := c.settings
	next := was
	if err := alter(&next); err != nil {
		return err
	}
	if _, err := next.night(); err != nil { // before anything is let go of
		return err
	}
	if next.Description != "" {
		if _, err := readDescription(next.Description); err != nil {
			return err
		}
	}
	var drivers []race.Event
	raced := false
	err := c.session.look(func(n *race.Night) {
		raced = len(n.HeatsRun()) > 0 || n.Phase() == race.Staged || n.Phase().Live() || n.Phase() == race.Finish
		for i, d := range n.EveryDriver() {
			drivers = append(drivers, race.DriverAdded{Driver: i + 1, Name: d.Name, Short: d.Short, Class: d.Class, Group: d.Group, Car: d.CarName, Register: d.Register, Comes: d.Comes, Leaves: d.Leaves})
		}
	})
	switch {
	case err != nil:
		return err
	case raced:
		return errors.New("a heat has been called: layout and counter are frozen for this night; quit and begin a new one with --new")
	}
	id, err := freshID(c.session.store, next.Title, time.Now())
	if err != nil {
		return err
	}
	<-c.session.control.Do(race.Comment{Text: "set up anew as night " + id})
	<-c.session.control.Do(race.CloseNight{})
	if err := c.end(); err != nil {
		return err
	}
	next.Card = c.settings.Card
	c.settings = next
	if err := c.begin(id, drivers); err != nil {
		c.settings = was
		return errors.Join(err, c.begin(id, drivers))
	}
	return nil
}

// choicesWith puts a value first in a list of choices if it is not in it.
func choicesWith(value string, choices []string) []string {
	if value == "" || slices.Contains(choices, value) {
		return choices
	}
	return append([]string{value}, choices...)
}

// wrongValue says what was expected of a line of the set-up.
func wrongValue(name, value, want string) error {
	return fmt.Errorf("%s: %q; expected %s", name, value, want)
}
