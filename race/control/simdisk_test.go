package control

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"lanewright/store"
)

// simDisk is the journal of a simulated night in a real store, on a disk that is slow or fails at times.
type simDisk struct {
	store *store.Store
	j     *store.Journal
	path  string

	mu    sync.Mutex // held while the store writes
	dead  bool       // the program has been killed
	stall time.Duration
	fail  int // the next so many appends fail
	known bool
	stats *simStats
}

var (
	errKilled = errors.New("the program has been killed")
	errFull   = errors.New("no space left on device")
	errSync   = errors.New("input/output error")
)

// openDisk opens the store at path; a night that is not there is created.
func openDisk(t *testing.T, path string, stats *simStats) *simDisk {
	s, err := store.Open(path, store.Options{Program: "nights"})
	if err != nil {
		t.Fatalf("store: %v", err)
	}
	j, err := s.Night("n")
	if errors.Is(err, store.ErrNotFound) {
		j, err = s.CreateNight(context.Background(), "n", nil)
	}
	if err != nil {
		t.Fatalf("store: %v", err)
	}
	return &simDisk{store: s, j: j, path: path, stats: stats}
}

// Append is part of Journal.
func (d *simDisk) Append(ctx context.Context, records []Record) error {
	d.mu.Lock()
	stall, fail, dead := d.stall, d.fail > 0, d.dead
	d.stall = 0
	if fail {
		d.fail--
		d.known = !d.known
	}
	known := d.known
	d.mu.Unlock()
	if dead {
		return errKilled
	}
	if stall > 0 {
		time.Sleep(stall)
	}
	if fail && known {
		d.stats.add("append refused", 1)
		return errFull
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.dead {
		return errKilled
	}
	group := make([]store.Record, len(records))
	for i, r := range records {
		group[i] = store.Record{Seq: r.Seq, Kind: r.Kind, Wall: r.Wall, Data: r.Data}
	}
	_, err := d.j.Append(ctx, group...)
	if err == nil && fail {
		d.stats.add("append done but told as failed", 1)
		return errSync // what happens when a sync fails: it may be there or not
	}
	d.stats.add("append", 1)
	return err
}

// past is part of Options.
func (d *simDisk) past(fn func(Record) error) error {
	return d.j.Read(1, func(r store.Record) error { return fn(Record{r.Seq, r.Kind, r.Wall, r.Data}) })
}

// kill stops writing at once and returns the path of the store as a killed program leaves it: whatever was written, nothing tidied up.
func (d *simDisk) kill(t *testing.T) string {
	d.mu.Lock()
	d.dead = true
	d.mu.Unlock() // no append is under way now, and none will be
	dir := filepath.Join(filepath.Dir(d.path), "after")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, ending := range []string{"", ".side"} {
		b, err := os.ReadFile(d.path + ending)
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, filepath.Base(d.path)+ending), b, 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return filepath.Join(dir, filepath.Base(d.path))
}

// simTape is the tape of one run of the program.
type simTape struct {
	mu   sync.Mutex
	buf  bytes.Buffer
	dead bool
}

func (s *simTape) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.dead {
		return len(b), nil
	}
	return s.buf.Write(b)
}

func (s *simTape) Sync() error  { return nil }
func (s *simTape) Close() error { return nil }

// kill stops writing, perhaps in the middle of a line.
func (s *simTape) kill(torn bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.dead = true
	if torn {
		s.buf.WriteString(`{"t":9999.1,"src":"c","he`)
	}
}

// simStats counts what happened, for the printout.
type simStats struct {
	mu sync.Mutex
	n  map[string]int
}

func (s *simStats) add(what string, n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.n == nil {
		s.n = map[string]int{}
	}
	s.n[what] += n
}

func (s *simStats) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var b bytes.Buffer
	for _, k := range sortedKeys(s.n) {
		fmt.Fprintf(&b, "%7d %s\n", s.n[k], k)
	}
	return b.String()
}
