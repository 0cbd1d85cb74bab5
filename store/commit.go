package store

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"runtime/debug"
	"time"

	bolt "go.etcd.io/bbolt"
)

const (
	// batchRecords bounds one transaction, unless a single call brings more.
	batchRecords = 4096
	queueLength  = 1024

	// courtesy is how often the writing goroutine steps aside before it gathers,
	// so that others who are about to ask, as in a burst, get in. It costs
	// microseconds; without it a burst of eight needs two commits, with it mostly one.
	courtesy = 4

	// commitAttempts bounds how often the same records are committed again
	// before the callers are told.
	commitAttempts = 3
)

// request is one piece of writing. The writing goroutine applies it, perhaps
// several times when a commit fails: what it puts is then the same each time.
type request struct {
	ctx    context.Context
	weight int // records it brings

	// apply checks first and then writes. A *refusal leaves the transaction to
	// the others; any other error fails it. It reports whether it wrote.
	apply func(tx *bolt.Tx) (wrote bool, err error)
	// present reports whether the file holds what apply wrote.
	present func(tx *bolt.Tx) bool
	// durable publishes; it runs in the writing goroutine before the answer.
	durable func()

	answer  chan answer // has room for one
	refused error
	wrote   bool // in the last attempt
	touched bool // in any attempt
}

type answer struct {
	err     error
	outcome Outcome
}

// refusal is an error of one request alone.
type refusal struct{ err error }

func (r *refusal) Error() string { return r.err.Error() }
func (r *refusal) Unwrap() error { return r.err }

// submit hands r to the writing goroutine and waits for the answer, but no
// longer than r.ctx allows.
func (s *Store) submit(r *request) answer {
	r.answer = make(chan answer, 1)
	s.sending.RLock()
	switch {
	case s.closed:
		s.sending.RUnlock()
		return answer{err: fmt.Errorf("%s: %w", s.path, ErrClosed)}
	case s.requests == nil:
		s.sending.RUnlock()
		return answer{err: fmt.Errorf("%s: %w", s.path, ErrReadOnly)}
	}
	select {
	case s.requests <- r:
		s.sending.RUnlock()
	case <-r.ctx.Done():
		s.sending.RUnlock()
		return answer{err: r.ctx.Err()}
	}
	select {
	case a := <-r.answer:
		return a
	case <-r.ctx.Done():
		return answer{err: r.ctx.Err(), outcome: Unknown}
	}
}

// commitLoop owns all writing. It takes one request, then everything that
// waits without waiting longer, and commits it in one transaction.
func (s *Store) commitLoop() {
	defer close(s.done)
	debug.SetPanicOnFault(true)
	var held *request // did not fit the last batch
	batch := make([]*request, 0, 64)
	for {
		r := held
		held = nil
		if r == nil {
			var open bool
			if r, open = <-s.requests; !open {
				return
			}
		}
		batch = append(batch[:0], r)
		weight := r.weight
		for range courtesy {
			runtime.Gosched()
		}
	gather:
		for weight < batchRecords {
			select {
			case r, open := <-s.requests:
				if !open {
					break gather
				}
				if weight+r.weight > batchRecords {
					held = r
					break gather
				}
				batch = append(batch, r)
				weight += r.weight
			default:
				break gather
			}
		}
		s.commit(batch)
		clear(batch)
	}
}

// commit makes batch durable and answers each request, whatever it takes.
func (s *Store) commit(batch []*request) {
	s.commitMu.Lock()
	defer s.commitMu.Unlock()
	live := batch[:0]
	for _, r := range batch {
		if err := r.ctx.Err(); err != nil {
			r.answer <- answer{err: err}
			continue
		}
		live = append(live, r)
	}
	if len(live) == 0 {
		return
	}
	var first error // the failure that began it
	present := 0
	if s.lost != nil {
		if err := s.reopen(0); err != nil {
			s.fail(live, answer{err: s.lost}, nil, 0)
			return
		}
	}
	for attempt := 1; ; attempt++ {
		err := s.attempt(live)
		if err == nil {
			s.succeed(live, first, present)
			return
		}
		if first == nil {
			first = err
		}
		s.unsettled = true
		freed := isDiskFull(err) && dropReserve(s.path)
		var panicked *panicError
		s.wedged = errors.As(err, &panicked)
		if rerr := s.reopen(attempt); rerr != nil {
			s.fail(live, answer{rerr, Unknown}, first, present)
			return
		}
		present = s.countPresent(live)
		if attempt == commitAttempts || (isDiskFull(err) && !freed) {
			outcome := NotWritten
			if present > 0 {
				outcome = Unknown
			}
			if isDiskFull(err) && !errors.Is(err, ErrDiskFull) {
				err = fmt.Errorf("%s: %w (%w); free some space: the records wait in memory only", s.path, ErrDiskFull, err)
			}
			s.fail(live, answer{s.damaged(err), outcome}, first, present)
			return
		}
	}
}

// succeed publishes and answers batch, which is durable. Whoever is answered can
// see the incident, if there was one.
func (s *Store) succeed(batch []*request, first error, present int) {
	appended := 0
	for _, r := range batch {
		if r.refused == nil {
			if r.wrote {
				appended++
			}
			r.durable()
		}
	}
	if first != nil {
		s.incident(Incident{
			At: s.opt.now(), Cause: first, Appended: appended, Present: present,
			What: fmt.Sprintf("a commit failed (%v); the file was opened again and checked, all of its records are safe now", first),
		})
	}
	for _, r := range batch {
		r.answer <- answer{err: r.refused}
	}
}

// attempt commits batch once. Nothing is durable unless it returns nil.
func (s *Store) attempt(batch []*request) error {
	if f := s.opt.faults; f != nil && f.before != nil {
		if err := f.before(len(batch)); err != nil {
			return err
		}
	}
	err := guard(func() error {
		return s.db.Update(func(tx *bolt.Tx) error {
			wrote := false
			for _, r := range batch {
				if r.refused != nil {
					continue
				}
				w, err := r.apply(tx)
				var refused *refusal
				if errors.As(err, &refused) {
					r.refused = refused.err
					continue
				}
				if err != nil {
					return err
				}
				r.wrote, r.touched = w, r.touched || w
				wrote = wrote || w
			}
			if !wrote && !s.unsettled {
				return errNothing
			}
			if !wrote {
				// Only a commit that is synced whole proves that what the file
				// shows is on the disk.
				m := tx.Bucket([]byte(bucketMeta))
				return m.SetSequence(m.Sequence() + 1)
			}
			return nil
		})
	})
	if errors.Is(err, errNothing) {
		return nil
	}
	if err == nil {
		if f := s.opt.faults; f != nil && f.after != nil {
			err = f.after(len(batch))
		}
	}
	if err == nil {
		s.unsettled = false
	}
	return err
}

// errNothing ends a transaction that would change nothing.
var errNothing = errors.New("nothing to write")

// reopen closes the file, opens it and surveys it again. Readers wait.
func (s *Store) reopen(attempt int) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lost = s.reopenLocked(attempt)
	return s.lost
}

func (s *Store) reopenLocked(attempt int) error {
	if s.db != nil {
		s.shut()
	}
	if f := s.opt.faults; f != nil && f.reopen != nil {
		if err := f.reopen(attempt); err != nil {
			return err
		}
	}
	if err := s.openDB(false); err != nil {
		return err
	}
	look, _, err := s.look()
	if err == nil && look.doc.FileID != s.doc.FileID {
		err = fmt.Errorf("%s: %w: it was replaced while it was open", s.path, ErrOtherFile)
	}
	if err == nil {
		if less := (&side{Nights: newSide("", s.lasts(), 0, 0).Nights, Changes: s.changes.Load()}).compare(look.lasts(), look.changes); less != "" {
			err = fmt.Errorf("%s: %w: %s; durable records have vanished: salvage it into a new file", s.path, ErrShorter, less)
		}
	}
	if err != nil {
		s.release()
	}
	return err
}

// shut closes the library's file. After a panic in a commit the library may
// hold its own lock for ever; then the file alone is closed, which gives the
// operating system's lock back, and the map is left behind.
func (s *Store) shut() {
	patience := 5 * time.Second
	if s.wedged {
		patience, s.wedged = 200*time.Millisecond, false
	}
	db, file := s.db, s.file
	s.db, s.file = nil, nil
	closed := make(chan struct{})
	go func() {
		_ = guard(db.Close)
		close(closed)
	}()
	select {
	case <-closed:
	case <-time.After(patience):
		dropFile(file)
	}
}

// countPresent counts the requests whose content the file holds, although no
// commit of theirs has succeeded.
func (s *Store) countPresent(batch []*request) (n int) {
	_ = guard(func() error {
		return s.db.View(func(tx *bolt.Tx) error {
			for _, r := range batch {
				if r.refused == nil && r.touched && r.present(tx) {
					n++
				}
			}
			return nil
		})
	})
	return n
}

// fail answers all of batch with a.
func (s *Store) fail(batch []*request, a answer, first error, present int) {
	if first != nil {
		what := fmt.Sprintf("a commit failed (%v) and could not be repeated; its records are not in the journal", first)
		if a.outcome == Unknown {
			what = fmt.Sprintf("a commit failed (%v); whether its records are in the journal is not known yet", first)
		}
		s.incident(Incident{At: s.opt.now(), What: what, Cause: a.err, Present: present})
	}
	for _, r := range batch {
		if r.refused != nil {
			r.answer <- answer{err: r.refused}
			continue
		}
		r.answer <- a
	}
}
