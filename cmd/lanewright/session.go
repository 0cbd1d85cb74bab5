package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"time"

	"lanewright/layout"
	"lanewright/race"
	"lanewright/race/control"
	"lanewright/store"
	"lanewright/timing/describe"
	"lanewright/timing/listen"
	"lanewright/timing/port"
	"lanewright/timing/tape"

	"lanewright/tui"
)

// setting is everything that one night is run with.
type setting struct {
	storePath string
	night     string        // id in the store; an open night of that id is gone on with
	begin     []race.Event  // of a night that is not in the store yet
	first     race.MakeDraw // the draw wanted when there is none yet
	track     *layout.Track // for the picture on the screen, may be nil
	counter   string        // name of the counter whose passes count
	port      *port.Config  // nil: no counter
	format    *describe.Description
	seconds   []secondCounter // further, independent counters: heard and kept beside the one that counts
	patient   bool            // a counter that is not there yet is waited for
	speed     float64
	alone     bool // heats start by themselves
	backup    string
	events    control.OnDurable
	tapePath  string    // "" for beside the store
	feed      *tui.Feed // nil for one of its own
}

// session is one night being run: the store, the counter, the live loop, and the feed that screens look at.
type session struct {
	setting
	store   *store.Store
	journal *store.Journal
	source  *listen.Source // nil without a counter
	others  []*listen.Source
	control *control.Control
	tape    *tape.Writer
	found   bool        // the night was in the store already
	known   *race.Night // what the journal held before this run
	backups *backups
	draws   *drawer

	stop context.CancelFunc
	done chan struct{} // closed when the loop has ended
	err  error         // of the loop, once done is closed
}

// openSession opens the store and the counter, folds what has been, and starts the loop. Nothing is written when it fails.
func openSession(ctx context.Context, set setting) (_ *session, err error) {
	s := &session{setting: set, done: make(chan struct{})}
	if s.feed == nil {
		s.feed = tui.NewFeed()
	}
	defer func() {
		if err != nil {
			s.close()
		}
	}()
	// The port comes before the store: a night must not begin in the file because its counter was not there.
	if s.port != nil && !set.patient {
		if s.port, err = openedAlready(ctx, *set.port); err != nil {
			return nil, &portError{err}
		}
	}
	if s.store, err = store.Open(set.storePath, store.Options{Program: "lanewright"}); err != nil {
		return nil, err
	}
	s.draws = &drawer{}
	options := control.Options{Publish: s.feed, Draw: s.draws.Draw, Unattended: set.alone, Speed: set.speed, First: set.first}
	if err := s.findNight(ctx, &options); err != nil {
		return nil, err
	}
	if s.tape, err = openTape(set.tapePath, set.storePath, set.night); err != nil {
		return nil, err
	}
	options.Record = s.tape
	if s.port != nil {
		after, stepped, segment := control.Heard(s.known, s.counter)
		s.source, err = listen.Listen(ctx, listen.Config{
			Name: s.counter, Port: *s.port, Format: set.format, After: after, Stepped: stepped, Segment: segment,
			Speed: set.speed, Record: s.tape, Patient: true,
		})
		if err != nil {
			return nil, &portError{err}
		}
		options.Counter = s.source
		options.Source = s.counter
	}
	if err := s.listenToSeconds(ctx); err != nil {
		return nil, err
	}
	s.backups = newBackups(s.store, set.backup)
	options.OnDurable = func(seq uint64, e race.Event, line []byte) {
		if set.events != nil {
			set.events(seq, e, line)
		}
		if e.Kind() == race.KindAccepted {
			s.backups.heatDone()
		}
	}
	if s.control, err = control.New(options); err != nil {
		return nil, err
	}
	s.draws.control = s.control
	s.known = nil // it may be large, and the loop has its own
	run, stop := context.WithCancel(context.WithoutCancel(ctx))
	s.stop = stop
	for _, source := range s.sources() {
		go s.control.Pump(source.Messages())
	}
	go func() {
		defer close(s.done)
		s.err = s.control.Run(run)
	}()
	return s, nil
}

// findNight takes up the night if the store has it, or creates it.
func (s *session) findNight(ctx context.Context, o *control.Options) (err error) {
	s.known = race.NewNight()
	s.journal, err = s.store.Night(s.night)
	switch {
	case errors.Is(err, store.ErrNotFound):
		if len(s.begin) == 0 {
			return fmt.Errorf("%s holds no night %q; see: lanewright night list %s", s.storePath, s.night, s.storePath)
		}
		o.Begin = s.begin
		if s.journal, err = s.store.CreateNight(ctx, s.night, nightMeta(s.begin)); err != nil {
			return err
		}
	case err != nil:
		return err
	case s.journal.Last() == 0: // created, and the lights went out before its first event
		o.Begin = s.begin
	default:
		s.found = true
		past := pastOf(s.journal)
		if _, err := control.Fold(s.known, past); err != nil {
			return fmt.Errorf("%s, night %q: %w", s.storePath, s.night, err)
		}
		s.counter = cmp.Or(s.known.Info().Counter, s.counter)
		o.Past = past
	}
	o.Journal = journal{s.journal}
	return nil
}

// endLoop ends the loop and waits until everything pending is durable and has been told.
func (s *session) endLoop() error {
	if s.stop == nil {
		return nil
	}
	s.stop()
	s.stop = nil
	<-s.done
	return s.err
}

// close ends the loop when everything pending is durable, then lets go of counter, tape and store.
func (s *session) close() error {
	var errs []error
	errs = append(errs, s.endLoop())
	for _, source := range s.sources() {
		errs = append(errs, source.Close())
	}
	if s.backups != nil {
		errs = append(errs, s.backups.close())
	}
	if s.tape != nil {
		errs = append(errs, s.tape.Close())
	}
	if s.store != nil {
		errs = append(errs, s.store.Close())
	}
	return errors.Join(errs...)
}

// openedAlready opens a line once and returns a configuration that hands over the open line first: opening it twice would reset
// many a board twice.
func openedAlready(ctx context.Context, c port.Config) (*port.Config, error) {
	conn, err := port.OpenFirst(ctx, c)
	if err != nil {
		return nil, err
	}
	first, again := conn, c
	again.Dial = func() (port.Conn, error) {
		if conn := first; conn != nil {
			first = nil
			return conn, nil
		}
		return port.Open(c)
	}
	return &again, nil
}

// nightID makes the id of a new night from its day and name.
func nightID(day time.Time, title string) string {
	id := day.Format("2006-01-02")
	if slug := slug(title); slug != "" {
		id += "-" + slug
	}
	return id
}

// slug keeps letters and digits of a title, in small letters with dashes between.
func slug(title string) string {
	out := []rune{}
	dash := false
	for _, r := range title {
		switch {
		case r >= 'A' && r <= 'Z':
			r += 'a' - 'A'
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
		default:
			dash = len(out) > 0
			continue
		}
		if dash {
			out = append(out, '-')
			dash = false
		}
		out = append(out, r)
	}
	return string(out[:min(len(out), 60)])
}
