package listen

import "sync"

// queue is a queue without bound between goroutines: putting never waits.
type queue[T any] struct {
	mu    sync.Mutex
	items []T
	ready chan struct{} // has room for one
}

func newQueue[T any]() *queue[T] { return &queue[T]{ready: make(chan struct{}, 1)} }

func (q *queue[T]) put(items ...T) {
	if len(items) == 0 {
		return
	}
	q.mu.Lock()
	q.items = append(q.items, items...)
	q.mu.Unlock()
	select {
	case q.ready <- struct{}{}:
	default:
	}
}

// take returns everything that waits.
func (q *queue[T]) take() []T {
	q.mu.Lock()
	defer q.mu.Unlock()
	items := q.items
	q.items = nil
	return items
}
