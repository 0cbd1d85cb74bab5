package main

import (
	"context"
	"fmt"
	"sync"
	"time"

	"lanewright/store"
)

// backups copies the store to a second place after each heat, beside the racing: nobody waits for a slow stick.
type backups struct {
	store *store.Store
	path  string // "" copies nothing
	wake  chan struct{}
	done  sync.WaitGroup

	mu   sync.Mutex
	last error
}

// backupMost is how long one copy may take before it is given up until the next heat.
const backupMost = 2 * time.Minute

func newBackups(s *store.Store, path string) *backups {
	b := &backups{store: s, path: path, wake: make(chan struct{}, 1)}
	b.done.Add(1)
	go b.run()
	return b
}

// heatDone asks for a copy. It returns at once; several heats during one copy make one copy more.
func (b *backups) heatDone() {
	select {
	case b.wake <- struct{}{}:
	default:
	}
}

func (b *backups) run() {
	defer b.done.Done()
	for range b.wake {
		err := b.store.Checkpoint()
		if err == nil && b.path != "" {
			ctx, cancel := context.WithTimeout(context.Background(), backupMost)
			_, err = b.store.Backup(ctx, b.path)
			cancel()
		}
		b.mu.Lock()
		b.last = err
		b.mu.Unlock()
	}
}

// close waits for the copy being made and says what became of the last one.
func (b *backups) close() error {
	close(b.wake)
	b.done.Wait()
	if b.last != nil {
		return fmt.Errorf("the backup after the last heat failed: %w", b.last)
	}
	return nil
}
