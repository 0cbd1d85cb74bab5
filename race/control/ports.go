package control

import (
	"context"
	"time"

	"lanewright/race"
	"lanewright/timing"
)

// Record is an event as the journal keeps it.
type Record struct {
	Seq  uint64
	Kind uint16
	Wall int64 // unix ns
	Data []byte
}

// Journal keeps events. Append returns when all records are on disk, in order and together. Numbers go on from the last one;
// appending the same records again after an error must do no harm.
type Journal interface {
	Append(ctx context.Context, records []Record) error
}

// Counter takes orders. They must not block; each is answered by a message with the id returned. An error means that the counter
// cannot do that.
type Counter interface {
	Power(lanes uint32) (id uint64, err error)
	PowerAt(lanes uint32, at time.Duration) (id uint64, err error)
	Lamps(lit int, g timing.Go) (id uint64, err error)
	CounterTime(host time.Time) (at time.Duration, segment int, ok bool)
}

// Publisher gets each new snapshot. Publish must not block.
type Publisher interface{ Publish(*race.Snapshot) }

// Recorder keeps what people did, beside the raw bytes of the counter; a tape.Writer is one. Do must not block; it is called from the
// loop. What it cannot keep is written into the journal as a comment.
type Recorder interface {
	Do(at time.Time, action string, args any) error
}

// Draw makes the heats of a night. It may take its time: it runs beside the loop.
type Draw func(ctx context.Context, r DrawRequest) (race.Drawn, error)

// Clock is the host's clock.
type Clock interface {
	Now() time.Time
	// After sends once when d has passed; stop releases it.
	After(d time.Duration) (c <-chan time.Time, stop func())
}

type realClock struct{}

func (realClock) Now() time.Time { return time.Now() }
func (realClock) After(d time.Duration) (<-chan time.Time, func()) {
	t := time.NewTimer(d)
	return t.C, func() { t.Stop() }
}

// noCounter is a night without orders: nothing can be switched, no counter time is known.
type noCounter struct{}

func (noCounter) Power(uint32) (uint64, error)                     { return 0, errNoCounter }
func (noCounter) PowerAt(uint32, time.Duration) (uint64, error)    { return 0, errNoCounter }
func (noCounter) Lamps(int, timing.Go) (uint64, error)             { return 0, errNoCounter }
func (noCounter) CounterTime(time.Time) (time.Duration, int, bool) { return 0, 0, false }
