package port

import (
	"errors"
	"fmt"
	"runtime"
	"sync"
	"time"

	"go.bug.st/serial"

	"lanewright/timing"
)

// Sink takes what a line gives. Its methods must return at once: they are
// called by the goroutine that reads.
type Sink interface {
	// Heard takes bytes and the moment at which the read returned. The slice
	// belongs to the sink from then on.
	Heard(at time.Time, b []byte)
	// Port takes changes of state: Opening, Silent (meaning: open), Lost, Closed.
	Port(at time.Time, s timing.State, detail string)
}

// The errors of [Keeper.Say].
var (
	ErrNotOpen = errors.New("the port is not open")
	ErrFull    = errors.New("the port takes no more: what was sent before has not gone out")
)

// queueMax is how many writes may wait. Commands are few; a device that lets this
// many pile up does not read at all.
const queueMax = 64

// Keeper keeps a line open until it is closed.
type Keeper struct {
	c    Config
	sink Sink
	stop chan struct{}
	done chan struct{}
	once sync.Once

	mu  sync.Mutex
	out chan []byte // nil while the line is not open
}

// Keep starts to keep the line open. first may be a line already opened with
// [Open], or nil.
func Keep(c Config, first Conn, sink Sink) *Keeper {
	k := &Keeper{c: c.filled(), sink: sink, stop: make(chan struct{}), done: make(chan struct{})}
	go k.run(first)
	return k
}

// Close ends it and waits until the line is closed.
func (k *Keeper) Close() error {
	k.once.Do(func() { close(k.stop) })
	<-k.done
	return nil
}

// Say queues b for writing and returns at once. b must not be changed afterwards.
func (k *Keeper) Say(b []byte) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.out == nil {
		return ErrNotOpen
	}
	select {
	case k.out <- b:
		return nil
	default:
		return ErrFull
	}
}

func (k *Keeper) run(conn Conn) {
	defer close(k.done)
	k.sink.Port(time.Now(), timing.Opening, k.c.Name)
	told := "" // the failure that the sink knows of
	wait := k.c.RetryMin
	name := k.c.Name
	if conn != nil {
		name = Stable(k.c.Name)
	}
	for {
		var err error
		if conn == nil {
			at := k.c
			at.Name = name
			conn, err = Open(at)
		}
		if err == nil {
			name = Stable(name)
			told, wait = "", k.c.RetryMin
			k.sink.Port(time.Now(), timing.Silent, openDetail(name))
			err = k.use(conn)
			conn = nil
		}
		if k.stopped() {
			k.sink.Port(time.Now(), timing.Closed, "")
			return
		}
		// That the port is not there is no news after it was cut.
		if text := err.Error(); told == "" || text != told && !errors.Is(err, ErrNone) {
			told = text
			k.sink.Port(time.Now(), timing.Lost, text)
		}
		select {
		case <-k.stop:
			k.sink.Port(time.Now(), timing.Closed, "")
			return
		case <-time.After(wait):
		}
		wait = min(wait*2, k.c.RetryMax)
	}
}

func (k *Keeper) stopped() bool {
	select {
	case <-k.stop:
		return true
	default:
		return false
	}
}

// use reads until the line fails or the keeper is closed, and closes it.
func (k *Keeper) use(conn Conn) (err error) {
	out := make(chan []byte, queueMax)
	k.mu.Lock()
	k.out = out
	k.mu.Unlock()
	quit := make(chan struct{})
	var helpers sync.WaitGroup
	helpers.Go(func() { write(conn, out, quit) })
	if k.c.ModemPoll > 0 {
		helpers.Go(func() { k.poll(conn, quit) })
	}
	defer func() {
		// The serial library panics when the process has more than 1024 files open.
		if r := recover(); r != nil {
			err = fmt.Errorf("reading the port: %v", r)
		}
		k.mu.Lock()
		k.out = nil
		k.mu.Unlock()
		close(quit)
		// Let the helpers go first, so that the descriptor is not closed under a
		// write; but a write that hangs must not hang us.
		gone := make(chan struct{})
		go func() { helpers.Wait(); close(gone) }()
		select {
		case <-gone:
		case <-time.After(time.Second):
		}
		if cerr := conn.Close(); err == nil {
			err = cerr
		}
		if err == nil {
			err = errors.New("closed")
		}
	}()
	buf := make([]byte, 4096)
	for !k.stopped() {
		n, err := conn.Read(buf)
		at := time.Now()
		if n > 0 && k.c.ModemPoll <= 0 {
			b := make([]byte, n)
			copy(b, buf)
			k.sink.Heard(at, b)
		}
		if err != nil {
			// Which error it is differs by system and by device: any error
			// means that the line is gone.
			return fmt.Errorf("the line was cut: %w", err)
		}
		if n == 0 {
			runtime.Gosched() // a Conn that returns at once must not starve others
		}
	}
	return nil
}

func write(conn Conn, out <-chan []byte, quit <-chan struct{}) {
	for {
		select {
		case <-quit:
			return
		case b := <-out:
			for len(b) > 0 {
				n, err := conn.Write(b)
				if err != nil || n <= 0 {
					return // the reader notices by itself that the line is gone
				}
				b = b[n:]
			}
		}
	}
}

// poll watches the handshake inputs and hands over every change as one byte.
func (k *Keeper) poll(conn Conn, quit <-chan struct{}) {
	lines, ok := conn.(interface {
		GetModemStatusBits() (*serial.ModemStatusBits, error)
	})
	if !ok {
		k.sink.Port(time.Now(), timing.Silent, "this line has no handshake inputs")
		return
	}
	tick := time.NewTicker(k.c.ModemPoll)
	defer tick.Stop()
	last := -1
	for {
		s, err := lines.GetModemStatusBits()
		at := time.Now()
		if err != nil {
			k.sink.Port(at, timing.Silent, "the handshake inputs of this port cannot be read: "+err.Error())
			return
		}
		now := 0
		for i, on := range []bool{s.CTS, s.DSR, s.RI, s.DCD} {
			if on {
				now |= 1 << i
			}
		}
		if now != last {
			last = now
			k.sink.Heard(at, []byte{byte(now)})
		}
		select {
		case <-quit:
			return
		case <-tick.C:
		}
	}
}
