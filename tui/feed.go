package tui

import (
	"sync"
	"sync/atomic"

	"lanewright/race"
)

// Feed hands the newest snapshot to the screens. Publish never blocks: a slow terminal misses old snapshots, never passes.
type Feed struct {
	cur  atomic.Pointer[race.Snapshot]
	mu   sync.Mutex
	subs map[chan struct{}]struct{}
}

// NewFeed returns a feed without a snapshot.
func NewFeed() *Feed { return &Feed{subs: map[chan struct{}]struct{}{}} }

// Publish replaces the newest snapshot and wakes every subscriber. It may be called from any goroutine and never waits for a reader.
func (f *Feed) Publish(s *race.Snapshot) {
	f.cur.Store(s)
	f.mu.Lock()
	defer f.mu.Unlock()
	for c := range f.subs {
		select {
		case c <- struct{}{}:
		default: // it has not yet looked at the one before, and will find this one
		}
	}
}

// Newest returns the newest snapshot, nil before the first.
func (f *Feed) Newest() *race.Snapshot { return f.cur.Load() }

// Subscribe returns a channel that receives after every Publish for which there is room, and at once if there is a snapshot
// already: one published while a reader was being set up must not be missed. Each reader needs a channel of its own.
func (f *Feed) Subscribe() chan struct{} {
	c := make(chan struct{}, 1)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.subs[c] = struct{}{}
	if f.cur.Load() != nil {
		c <- struct{}{}
	}
	return c
}

// Leave ends a subscription and closes its channel. Leaving twice does nothing.
func (f *Feed) Leave(c chan struct{}) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if _, ok := f.subs[c]; ok {
		delete(f.subs, c)
		close(c)
	}
}
