package control

import (
	"sync/atomic"
	"testing"
	"time"
	"unsafe"
)

// hostClock is the clock of the simulated computer. Its monotonic reading is that of the bubble of fake time; its wall clock can be set.
// The zero hostClock shows the bubble's time.
type hostClock struct{ ahead atomic.Int64 } // whole seconds by which the wall clock has been set forward

// Now returns a time whose two readings may disagree, as they do after somebody has set the clock.
func (c *hostClock) Now() time.Time { return wallMoved(time.Now(), c.ahead.Load()) }

// After counts monotonic time.
func (c *hostClock) After(d time.Duration) (<-chan time.Time, func()) {
	t := time.NewTimer(d)
	return t.C, func() { t.Stop() }
}

// wallMoved gives t a wall clock that has been set forward by whole seconds and a monotonic reading that has not. Package time has no call for
// that: a computer's clock is set from outside, and times of a bubble have no monotonic reading at all. The layout is the one that the
// comments on Time in time.go describe: a flag, 33 bits of seconds since 1885, 30 bits of nanoseconds; then the monotonic reading.
func wallMoved(t time.Time, seconds int64) time.Time {
	type layout struct {
		wall uint64
		ext  int64
		loc  unsafe.Pointer
	}
	mono := t.Sub(time.Date(1999, 12, 31, 0, 0, 0, 0, time.UTC)).Nanoseconds()
	since1885 := time.Date(1885, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
	l := (*layout)(unsafe.Pointer(&t))
	l.wall, l.ext = 1<<63|uint64(t.Unix()-since1885+seconds)<<30|uint64(t.Nanosecond()), mono
	return t
}

func TestWallMovedMovesTheWallClockAlone(t *testing.T) {
	now := time.Now().Round(0)
	was := wallMoved(now, 0)
	if !was.Round(0).Equal(now) {
		t.Fatalf("%v became %v", now, was)
	}
	for _, s := range []int64{0, 1, 3600, -3600} {
		got := wallMoved(now.Add(time.Millisecond), s)
		if mono, wall := got.Sub(was), got.Round(0).Sub(was.Round(0)); mono != time.Millisecond || wall != time.Duration(s)*time.Second+time.Millisecond {
			t.Fatalf("moved by %d s: monotonic %v, wall %v", s, mono, wall)
		}
	}
}
