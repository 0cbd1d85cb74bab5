package tape

import (
	"encoding/json"
	"fmt"
	"os"
	"sync"
	"time"

	"lanewright/timing"
)

// File is what a Writer writes to; *os.File is one.
type File interface {
	Write(b []byte) (int, error)
	Sync() error
	Close() error
}

// Writer writes a tape. Its methods never wait for the file: a goroutine of its own
// writes and syncs. Everything that waits is written together and synced once.
type Writer struct {
	f     File
	start time.Time
	wake  chan struct{}
	done  chan struct{}

	mu      sync.Mutex
	skew    time.Duration // wall clock less monotonic time, against the start
	waiting []byte
	closing bool
	put     uint64 // bytes accepted
	safe    uint64 // bytes synced, or given up
	lost    int    // lines that could not be written
	err     error  // the first failure
	moved   *sync.Cond
}

// Create opens the tape at path, or makes it, and begins a run in it. A tape that
// exists is appended to.
func Create(path string, start time.Time) (*Writer, error) {
	f, err := os.OpenFile(path, os.O_APPEND|os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return nil, fmt.Errorf("tape: %w", err)
	}
	var ahead []byte
	// A killed program may have left half a line.
	if st, err := f.Stat(); err == nil && st.Size() > 0 {
		var last [1]byte
		if _, err := f.ReadAt(last[:], st.Size()-1); err == nil && last[0] != '\n' {
			ahead = []byte{'\n'}
		}
	}
	return newWriter(datasync{f}, start, ahead), nil
}

// NewWriter begins a run on f, which it closes in the end.
func NewWriter(f File, start time.Time) *Writer { return newWriter(f, start, nil) }

func newWriter(f File, start time.Time, ahead []byte) *Writer {
	w := &Writer{f: f, start: start, wake: make(chan struct{}, 1), done: make(chan struct{})}
	w.moved = sync.NewCond(&w.mu)
	w.waiting, _ = Append(ahead, &Entry{Start: true, At: start})
	w.put = uint64(len(w.waiting))
	go w.run()
	return w
}

// Heard records bytes that came from a counter, or where b is nil that something was due and
// done. It is part of listen.Recorder.
func (w *Writer) Heard(source string, at time.Time, b []byte) {
	_ = w.add(at, &Entry{Source: source, Heard: b})
}

// Sent records bytes that went to a counter.
func (w *Writer) Sent(source string, at time.Time, b []byte) {
	_ = w.add(at, &Entry{Source: source, Sent: b})
}

// Port records a change of a line's state.
func (w *Writer) Port(source string, at time.Time, s timing.State, detail string) {
	_ = w.add(at, &Entry{Source: source, Port: s.String(), Detail: detail})
}

// Do records an action of the director. args is anything that encodes to JSON, or
// nil; it fails if it does not.
func (w *Writer) Do(at time.Time, action string, args any) error {
	e := &Entry{Do: action}
	if args != nil {
		text, err := json.Marshal(args)
		if err != nil {
			return fmt.Errorf("tape: action %s: %w", action, err)
		}
		e.Args = text
	}
	return w.add(at, e)
}

// stepMin is the least jump of the wall clock that is written down; less is a clock being kept right.
const stepMin = time.Second

func (w *Writer) add(at time.Time, e *Entry) error {
	e.T = at.Sub(w.start)
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closing {
		return fmt.Errorf("tape: %w", os.ErrClosed)
	}
	before := len(w.waiting)
	text := w.waiting
	skew := at.Round(0).Sub(w.start.Round(0)) - e.T
	if by := skew - w.skew; by >= stepMin || by <= -stepMin {
		w.skew = skew
		text, _ = Append(text, &Entry{T: e.T, Step: by}) // fails for bad Args only
	}
	text, err := Append(text, e)
	if err != nil {
		return err
	}
	w.waiting = text
	w.put += uint64(len(text) - before)
	w.poke()
	return nil
}

func (w *Writer) poke() {
	select {
	case w.wake <- struct{}{}:
	default:
	}
}

// waitMax bounds what waits for a file that takes nothing: then the oldest is
// dropped. It is hours of a busy line.
const waitMax = 64 << 20

func (w *Writer) run() {
	defer close(w.done)
	torn := false // the last write may have left half a line
	for {
		w.mu.Lock()
		text, closing := w.waiting, w.closing
		w.waiting = nil
		w.mu.Unlock()
		if len(text) == 0 {
			if closing {
				return
			}
			<-w.wake
			continue
		}
		out := text
		if torn {
			out = append([]byte{'\n'}, text...)
		}
		n, err := w.f.Write(out)
		if err == nil {
			err = w.f.Sync()
		}
		w.mu.Lock()
		if err == nil {
			torn = false
			w.safe += uint64(len(text))
		} else {
			torn = n > 0 || torn
			if w.err == nil {
				w.err = fmt.Errorf("tape: %w", err)
			}
			// Whole lines that have been written are not written again; all else
			// is tried once more, unless we are closing or it has become too much.
			if torn && n > 0 {
				n -= len(out) - len(text)
				cut := lastLine(text[:max(n, 0)])
				if n > 0 && n < len(text) && text[n] == '\n' {
					cut = n + 1 // only its end is missing, which the next write gives
				}
				w.safe += uint64(cut)
				text = text[cut:]
			}
			if closing || len(text)+len(w.waiting) > waitMax {
				w.lost += lines(text)
				w.safe += uint64(len(text))
			} else {
				w.waiting = append(text, w.waiting...)
			}
		}
		failed := err != nil
		w.moved.Broadcast()
		w.mu.Unlock()
		if failed && !closing {
			time.Sleep(200 * time.Millisecond) // a full disk is not emptied by asking
		}
	}
}

func lastLine(b []byte) int {
	for i := len(b); i > 0; i-- {
		if b[i-1] == '\n' {
			return i
		}
	}
	return 0
}

func lines(b []byte) (n int) {
	for _, c := range b {
		if c == '\n' {
			n++
		}
	}
	return n
}

// Sync waits until everything recorded so far is on disk, or could not be
// written, and returns the first failure there ever was.
func (w *Writer) Sync() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	upTo := w.put
	for w.safe < upTo && w.err == nil {
		w.moved.Wait()
	}
	return w.err
}

// Err returns the first failure there was, if any, and how many lines are lost
// for good.
func (w *Writer) Err() (lost int, err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.lost, w.err
}

// Close writes what waits and closes the file.
func (w *Writer) Close() error {
	w.mu.Lock()
	already := w.closing
	w.closing = true
	w.mu.Unlock()
	w.poke()
	<-w.done
	if already {
		return nil
	}
	err := w.f.Close()
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.err != nil {
		return w.err
	}
	if err != nil {
		return fmt.Errorf("tape: %w", err)
	}
	return nil
}
