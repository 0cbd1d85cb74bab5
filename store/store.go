package store

import (
	"fmt"
	"os"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Store is an open store. Its methods may be called from any goroutine.
type Store struct {
	path string
	opt  Options
	doc  storeDoc

	commitMu sync.Mutex // held while a batch is committed, and settled if need be; taken before mu

	mu   sync.RWMutex // held for writing only while the file is opened again
	db   *bolt.DB
	file *os.File
	lost error // why the file could not be opened again; nil when it is open

	sending  sync.RWMutex // guards closed and requests against Close
	closed   bool
	requests chan *request // nil when read-only
	done     chan struct{} // closed when the writing goroutine is

	wedged    bool // writing goroutine only: the library panicked in a commit
	unsettled bool // writing goroutine only: a commit failed and none succeeded since

	journalsMu sync.Mutex
	journals   map[uint32]*Journal
	changes    atomic.Uint64 // durable changes of the register

	sideMu    sync.Mutex
	backupMu  sync.Mutex
	noticesMu sync.Mutex
	notices   []string
	incidents []Incident
}

// Incident is a failed commit and what became of it.
type Incident struct {
	At       time.Time
	What     string // a sentence for the screen
	Cause    error
	Appended int // requests that were written again and are durable now
	Present  int // requests that turned out to be in the file although their commit had failed
}

// Path returns the path that the store was opened with.
func (s *Store) Path() string { return s.path }

// FileID returns the id given at creation: 32 hexadecimal digits. Backups have
// the same.
func (s *Store) FileID() string { return s.doc.FileID }

// Notices returns sentences worth showing once after [Open], such as a missing
// side file.
func (s *Store) Notices() []string {
	s.noticesMu.Lock()
	defer s.noticesMu.Unlock()
	return slices.Clone(s.notices)
}

// Incidents returns the failed commits survived since [Open], oldest first.
func (s *Store) Incidents() []Incident {
	s.noticesMu.Lock()
	defer s.noticesMu.Unlock()
	return slices.Clone(s.incidents)
}

func (s *Store) incident(i Incident) {
	s.noticesMu.Lock()
	s.incidents = append(s.incidents, i)
	s.noticesMu.Unlock()
	if s.opt.OnIncident != nil {
		s.opt.OnIncident(i)
	}
}

// Checkpoint marks a clean moment, such as the end of a heat: the side file
// learns how long everything is, and a reserve that had to be given up is made
// anew if the disk allows.
func (s *Store) Checkpoint() error {
	if s.opt.ReadOnly {
		return nil
	}
	s.sideMu.Lock()
	defer s.sideMu.Unlock()
	now := newSide(s.doc.FileID, s.lasts(), s.changes.Load(), s.opt.now().UnixNano())
	if err := now.write(s.path); err != nil {
		return fmt.Errorf("cannot write %s: %w", sidePath(s.path), err)
	}
	if f := s.opt.faults; f != nil && f.noReserve {
		return nil
	}
	if err := keepReserve(s.path); err != nil {
		return fmt.Errorf("cannot keep a reserve of %d MiB for a full disk: %w", reserveSize>>20, err)
	}
	return nil
}

// lasts returns the durable length of each journal.
func (s *Store) lasts() map[uint32]uint64 {
	s.journalsMu.Lock()
	defer s.journalsMu.Unlock()
	m := make(map[uint32]uint64, len(s.journals))
	for number, j := range s.journals {
		m[number] = j.last.Load()
	}
	return m
}

// Close waits for appends under way, brings the side file up to date and gives
// the file back. The store cannot be used afterwards. Closing twice is allowed.
func (s *Store) Close() error {
	s.sending.Lock()
	if s.closed {
		s.sending.Unlock()
		return nil
	}
	s.closed = true
	if s.requests != nil {
		close(s.requests)
	}
	s.sending.Unlock()
	if s.done != nil {
		<-s.done
	}
	var err error
	if s.lost == nil {
		err = s.Checkpoint()
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.db != nil {
		if cerr := guard(s.db.Close); err == nil {
			err = cerr
		}
		s.db, s.file = nil, nil
		if !s.opt.ReadOnly {
			_ = os.Remove(heldPath(s.path))
		}
	}
	s.lost = ErrClosed
	return err
}

// view runs fn in a read transaction.
func (s *Store) view(fn func(*bolt.Tx) error) error {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.lost != nil {
		return fmt.Errorf("%s: %w", s.path, s.lost)
	}
	return s.damaged(guard(func() error { return s.db.View(fn) }))
}

// steadyView is view at a moment when no commit is under way: fn sees nothing
// whose sync is still to come. It waits for a commit to end, but not the other
// way round.
func (s *Store) steadyView(fn func(*bolt.Tx) error) error {
	s.commitMu.Lock()
	begun := sync.OnceFunc(s.commitMu.Unlock)
	defer begun()
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.lost != nil {
		return fmt.Errorf("%s: %w", s.path, s.lost)
	}
	return s.damaged(guard(func() error {
		return s.db.View(func(tx *bolt.Tx) error {
			begun()
			return fn(tx)
		})
	}))
}

// damaged turns a caught panic into a *DamageError.
func (s *Store) damaged(err error) error {
	if p, ok := err.(*panicError); ok {
		return &DamageError{s.path, []Problem{{What: p.Error()}}}
	}
	return err
}
