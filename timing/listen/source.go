package listen

import (
	"context"
	"sync"
	"time"

	"lanewright/timing"
	"lanewright/timing/clock"
	"lanewright/timing/describe"
	"lanewright/timing/port"
)

// Config says what a Source listens to.
type Config struct {
	Name   string                // for Message.Source
	Port   port.Config           // where
	Format *describe.Description // nil: the sentences of timing/wire

	After   *timing.Pass // see EarConfig
	Stepped time.Duration
	Segment int
	Speed   float64

	Record  Recorder // optional: gets everything that goes over the line
	Patient bool     // do not fail if the line cannot be opened at first, keep trying
}

// Recorder takes everything that goes over the line, with its times. Its
// methods must return at once; b must not be changed or kept. Heard with a nil b says
// that nothing was heard and something was done because it was due.
type Recorder interface {
	Heard(source string, at time.Time, b []byte)
	Sent(source string, at time.Time, b []byte)
	Port(source string, at time.Time, s timing.State, detail string)
}

// Source is a counter being listened to.
type Source struct {
	c     Config
	in    *queue[event]
	out   *queue[timing.Message]
	msgs  chan timing.Message
	stop  context.CancelFunc
	ended chan struct{} // no more messages

	mu     sync.Mutex // guards ear and the order of what it says
	ear    *Ear
	keeper *port.Keeper
}

// event is bytes heard, or a change of state.
type event struct {
	at     time.Time
	b      []byte // nil: state
	state  timing.State
	detail string
}

// Listen opens the line and listens until ctx ends or Close is called. It
// returns an error only if the line cannot be opened the first time; later it is
// opened again for ever.
func Listen(ctx context.Context, c Config) (*Source, error) {
	if c.Name == "" {
		c.Name = "counter"
	}
	if c.Format != nil && c.Port.Mode == (port.Mode{}) {
		c.Port.Mode = c.Format.Port
	}
	conn, err := port.OpenFirst(ctx, c.Port)
	if err != nil && !c.Patient {
		return nil, err
	}
	ctx, stop := context.WithCancel(ctx)
	s := &Source{
		c: c, in: newQueue[event](), out: newQueue[timing.Message](),
		msgs: make(chan timing.Message), stop: stop, ended: make(chan struct{}),
		ear: NewEar(EarConfig{Name: c.Name, Format: c.Format, After: c.After, Stepped: c.Stepped, Segment: c.Segment, Speed: c.Speed}),
	}
	s.mu.Lock()
	s.keeper = port.Keep(c.Port, conn, (*sink)(s))
	s.mu.Unlock()
	pumped := make(chan struct{})
	go func() {
		defer close(pumped)
		s.pump(ctx)
	}()
	go func() {
		s.run(ctx)
		stop()
		<-pumped
		close(s.msgs)
		close(s.ended)
	}()
	return s, nil
}

// Messages returns the channel of messages. It is closed when the source has
// been closed. A slow reader loses nothing and delays nobody.
func (s *Source) Messages() <-chan timing.Message { return s.msgs }

// Close stops listening and waits until the line is closed. Messages not yet
// taken are dropped.
func (s *Source) Close() error {
	s.stop()
	<-s.ended
	return nil
}

// sink puts what the keeper hands over into the queue.
type sink Source

func (s *sink) Heard(at time.Time, b []byte) { s.in.put(event{at: at, b: b}) }

func (s *sink) Port(at time.Time, st timing.State, detail string) {
	s.in.put(event{at: at, state: st, detail: detail})
}

// run feeds the ear.
func (s *Source) run(ctx context.Context) {
	timer := time.NewTimer(time.Hour)
	defer timer.Stop()
	for {
		s.mu.Lock()
		due, ok := s.ear.Due()
		s.mu.Unlock()
		if ok {
			timer.Reset(max(time.Until(due), time.Millisecond))
		} else {
			timer.Reset(time.Hour)
		}
		select {
		case <-ctx.Done():
			s.keeper.Close()
			s.feed(s.in.take())
			return
		case <-s.in.ready:
			s.feed(s.in.take())
		case <-timer.C:
			s.mu.Lock()
			now := time.Now()
			s.ear.Wake(now)
			if s.c.Record != nil && len(s.ear.out) > 0 {
				s.c.Record.Heard(s.c.Name, now, nil) // a recording played later wakes at the same moment
			}
			s.flush()
			s.mu.Unlock()
		}
	}
}

func (s *Source) feed(events []event) {
	for _, ev := range events {
		if ev.at.IsZero() {
			continue // only a nudge
		}
		if s.c.Record != nil {
			if ev.b != nil {
				s.c.Record.Heard(s.c.Name, ev.at, ev.b)
			} else {
				s.c.Record.Port(s.c.Name, ev.at, ev.state, ev.detail)
			}
		}
		s.mu.Lock()
		if ev.b != nil {
			s.ear.Hear(ev.b, ev.at)
		} else {
			s.ear.Port(ev.state, ev.detail, ev.at)
		}
		s.flush()
		s.mu.Unlock()
	}
}

// flush passes on what the ear has understood and what it wants to say. s.mu
// is held.
func (s *Source) flush() {
	s.out.put(s.ear.Messages()...)
	for _, b := range s.ear.Say() {
		// If the line is not open or takes nothing, the ear will repeat itself.
		if s.keeper.Say(b) == nil && s.c.Record != nil {
			s.c.Record.Sent(s.c.Name, time.Now(), b)
		}
	}
}

// pump hands messages to whoever reads the channel.
func (s *Source) pump(ctx context.Context) {
	for {
		for _, m := range s.out.take() {
			select {
			case s.msgs <- m:
			case <-ctx.Done():
				return
			}
		}
		select {
		case <-s.out.ready:
		case <-ctx.Done():
			return
		}
	}
}

// Power switches the power of all lanes at once: on where the bit is set, bit
// 0 is lane 1. The acknowledgement is a timing.PowerAck with the id returned,
// or a timing.Unanswered. Cutting power by program is never a safety device.
func (s *Source) Power(lanes uint32) (id uint64, err error) {
	return s.do(func(now time.Time) (uint64, error) { return s.ear.Power(lanes, nil, now) })
}

// PowerAt switches lane power at a time of the counter's current segment,
// exactly at that tick; at once if it is past.
func (s *Source) PowerAt(lanes uint32, at time.Duration) (id uint64, err error) {
	return s.do(func(now time.Time) (uint64, error) { return s.ear.Power(lanes, &at, now) })
}

// Lamps lights the first lit start lamps and says what that means for the
// race. The acknowledgement is a timing.LampAck.
func (s *Source) Lamps(lit int, g timing.Go) (id uint64, err error) {
	return s.do(func(now time.Time) (uint64, error) { return s.ear.Lamps(lit, g, nil, now) })
}

// LampsAt does so at a time of the counter's current segment.
func (s *Source) LampsAt(lit int, g timing.Go, at time.Duration) (id uint64, err error) {
	return s.do(func(now time.Time) (uint64, error) { return s.ear.Lamps(lit, g, &at, now) })
}

func (s *Source) do(f func(now time.Time) (uint64, error)) (uint64, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	id, err := f(time.Now())
	s.flush()
	s.in.put(event{}) // so that run looks anew at what is due
	return id, err
}

// CounterTime estimates the counter's time at a moment of this computer.
func (s *Source) CounterTime(host time.Time) (at time.Duration, segment int, ok bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.ear.CounterTime(host)
}

// Status returns the counter's newest capabilities, if it has told them.
func (s *Source) Status() (timing.Status, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.ear.Status()
}

// State returns the state of the line as last told.
func (s *Source) State() timing.State {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.ear.State()
}

// Drift returns the counter's rate against this computer's.
func (s *Source) Drift() (clock.Drift, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.ear.Drift()
}
