package control

import "sync"

// queue is a queue without end: putting never waits. Memory is the only limit, and a night makes a few megabytes.
type queue[T any] struct {
	mu    sync.Mutex
	items []T
	shut  bool
	ready chan struct{} // holds a token while there may be something
}

func newQueue[T any]() *queue[T] { return &queue[T]{ready: make(chan struct{}, 1)} }

// put adds items; false when nobody will ever take them.
func (q *queue[T]) put(items ...T) bool {
	q.mu.Lock()
	shut := q.shut
	if !shut {
		q.items = append(q.items, items...)
	}
	q.mu.Unlock()
	if shut {
		return false
	}
	select {
	case q.ready <- struct{}{}:
	default:
	}
	return true
}

// close refuses everything from now on and returns what still waited.
func (q *queue[T]) close() []T {
	q.mu.Lock()
	defer q.mu.Unlock()
	items := q.items
	q.items, q.shut = nil, true
	return items
}

// take returns everything that waits.
func (q *queue[T]) take() []T {
	q.mu.Lock()
	defer q.mu.Unlock()
	items := q.items
	q.items = nil
	return items
}
