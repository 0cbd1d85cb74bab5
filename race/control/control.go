package control

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"lanewright/race"
	"lanewright/timing"
)

// Options say what a night is run with. Journal and one of Begin and Past are needed.
type Options struct {
	Journal Journal
	Counter Counter // nil: nothing can be switched
	Source  string  // name of the source whose passes count; "": the one named when the night opened, or the first heard
	Publish Publisher
	Record  Recorder
	Draw    Draw          // nil: Rotation
	First   race.MakeDraw // how the first draw is made when nobody says so; zero: balanced, one round

	Begin []race.Event                      // a new night: race.Opened first; stamped here where they have no time
	Past  func(fn func(Record) error) error // a night to go on with: calls fn for each record of its journal in order

	Unattended bool      // draws, starts heats after the card's pause, and accepts them, all by itself
	Speed      float64   // of a simulated night: counter seconds per second of this computer; 0 is 1
	Clock      Clock     // nil: the real one
	OnDurable  OnDurable // nil: nobody wants to know
}

// OnDurable is told of every event once it is on disk, in order, in a goroutine of its own. line is one line of JSON without line end; it
// is good until the call returns.
type OnDurable func(seq uint64, e race.Event, line []byte)

// Control runs one night.
type Control struct {
	o     Options
	clock Clock
	desk  *desk
	in    *queue[intake]

	durable *queue[made]
	newest  atomic.Pointer[race.Snapshot]
	over    chan struct{}
	hurry   chan struct{} // closed when Run is ending
	alarm   chan error    // the journal cannot be written
	begun   atomic.Bool

	mu      sync.Mutex
	trouble error
	after   sync.Mutex // guards the night once the loop has ended
}

// errEnded is the reply to commands that come when the night is no longer run.
var errEnded = errors.New("the program is ending")

// intake is one thing for the loop: a message, a command, a question about the night, or the result of a job.
type intake struct {
	message timing.Message
	command race.Command
	reply   chan race.Reply
	look    func(*race.Night)
	result  func(now time.Time)
}

// New folds the past of a night, or lays out a new one. Nothing is written before Run.
func New(o Options) (*Control, error) {
	switch {
	case o.Journal == nil:
		return nil, errors.New("control: no journal to write to")
	case (len(o.Begin) > 0) == (o.Past != nil):
		return nil, errors.New("control: either a new night to begin or an old one to go on with is needed")
	case o.Speed < 0:
		return nil, fmt.Errorf("control: speed %v, expected more than 0", o.Speed)
	}
	if o.Clock == nil {
		o.Clock = realClock{}
	}
	if o.Counter == nil {
		o.Counter = noCounter{}
	}
	if o.Draw == nil {
		o.Draw = Rotation
	}
	c := &Control{o: o, clock: o.Clock, in: newQueue[intake](), durable: newQueue[made](), over: make(chan struct{}), hurry: make(chan struct{}), alarm: make(chan error, 1)}
	d := &desk{night: race.NewNight(), counter: o.Counter, record: o.Record, draw: o.Draw, auto: o.Unattended, rotation: o.First, power: &powerState{}}
	d.later = func(job func(context.Context) func(time.Time)) {
		ctx, cancel := context.WithCancel(context.Background())
		go func() {
			select {
			case <-c.hurry:
				cancel()
			case <-ctx.Done():
			}
		}()
		go func() {
			defer cancel()
			c.in.put(intake{result: job(ctx)})
		}()
	}
	c.desk = d
	now := c.clock.Now()
	d.speed = o.Speed
	if d.speed == 0 {
		d.speed = 1
	}
	run := func() {
		d.tape(now, runAction, runArgs{Source: o.Source, Unattended: o.Unattended, Speed: d.speed, Marks: true, Kept: d.night.Weighty()})
	}
	if o.Past != nil {
		seq, err := Fold(d.night, o.Past)
		if err != nil {
			return nil, err
		}
		d.seq = seq
		if !d.night.IsOpen() {
			return nil, errors.New("control: that night is closed; its results can be shown but nothing can be added")
		}
		run()
	} else {
		run()
		for _, e := range o.Begin {
			if e.When() == 0 {
				e = race.Stamped(e, race.WallOf(now))
			}
			if err := d.emit(e); err != nil {
				return nil, fmt.Errorf("control: the night cannot begin: %w", err)
			}
			d.keepEvent(now, e)
		}
	}
	d.source = o.Source
	if d.source == "" {
		d.source = d.night.Info().Counter
	}
	if o.Past != nil {
		d.takeUp(now)
	}
	d.plan(now, 0)
	return c, nil
}

// Hear takes a message of a counter. It never blocks.
func (c *Control) Hear(m timing.Message) { c.in.put(intake{message: m}) }

// Pump hears everything that comes out of messages until it is closed.
func (c *Control) Pump(messages <-chan timing.Message) {
	for m := range messages {
		c.Hear(m)
	}
}

// Do takes a command. It never blocks; the reply comes when what was done is on disk.
func (c *Control) Do(cmd race.Command) <-chan race.Reply {
	reply := make(chan race.Reply, 1)
	if !c.in.put(intake{command: cmd, reply: reply}) {
		reply <- race.Reply{Err: errEnded, At: c.clock.Now()}
	}
	return reply
}

// Look calls fn in the loop with the night, which fn must not keep, and returns when it is done. The night may hold events that are not yet
// on disk. After Run has returned, fn is called at once.
func (c *Control) Look(ctx context.Context, fn func(*race.Night)) error {
	done := make(chan struct{})
	if !c.in.put(intake{look: func(n *race.Night) { fn(n); close(done) }}) {
		c.after.Lock()
		defer c.after.Unlock()
		fn(c.desk.night)
		return nil
	}
	select {
	case <-done:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Report works out the results of the night so far.
func (c *Control) Report(ctx context.Context) (r race.Report, err error) {
	err = c.Look(ctx, func(n *race.Night) { r = n.Report() })
	return r, err
}

// Newest returns the newest snapshot, nil before the first.
func (c *Control) Newest() *race.Snapshot { return c.newest.Load() }

// Over is closed when every heat of the draw is accepted and on disk.
func (c *Control) Over() <-chan struct{} { return c.over }

// Trouble returns why the journal cannot be written at present, nil if it can.
func (c *Control) Trouble() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.trouble
}

func (c *Control) setTrouble(err error) {
	c.mu.Lock()
	c.trouble = err
	c.mu.Unlock()
}

func (c *Control) stopping() bool {
	select {
	case <-c.hurry:
		return true
	default:
		return false
	}
}

// Run is the loop. It returns after ctx has ended and everything is on disk; the error is that of the journal, if it could not be written.
func (c *Control) Run(ctx context.Context) error {
	if !c.begun.CompareAndSwap(false, true) {
		return errors.New("control: the night is being run already")
	}
	groups, done := make(chan group), make(chan group)
	go c.writer(groups, done)
	told := make(chan struct{})
	if c.o.OnDurable != nil {
		go c.teller(told)
	} else {
		close(told)
	}
	l := loop{Control: c, groups: groups, done: done}
	c.after.Lock()
	l.run(ctx)
	left := c.in.close()
	c.after.Unlock()
	for _, it := range left {
		switch {
		case it.command != nil:
			it.reply <- race.Reply{Err: errEnded, At: c.clock.Now()}
		case it.look != nil:
			_ = c.Look(context.Background(), it.look) // the queue is closed: it is called at once
		}
	}
	if c.o.OnDurable != nil {
		c.durable.put(made{})
	}
	<-told
	return c.Trouble()
}
