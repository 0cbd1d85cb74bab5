// Package clock turns a counter's ticks into a steady time line. It is pure:
// the host's time comes in as an argument.
//
// What can go wrong with time, and what is done here:
//
//   - Ticks wrap at a power of two. The difference of two readings is taken as
//     a signed number of that width, so one wrap between them is no matter.
//   - Silence longer than half a wrap: the host's clock tells how many wraps
//     went by, if messages arrive punctually enough to tell; otherwise a new
//     segment begins.
//   - The counter restarts. It says so (boot number), or its ticks go back or
//     leap ahead of what the host's clock allows: a new segment begins.
//   - Messages arrive late, on a busy machine by seconds. Late is not a restart:
//     a message can be late, but never early, so only a leap ahead or a step
//     back breaks a segment.
//   - The two clocks run at different rates. That is measured ([Hull]) and told,
//     never corrected silently.
//   - The host sleeps or its wall clock is set. Host times here are readings of
//     the monotonic clock, which stands still in sleep; the caller notices
//     (wall minus monotonic jumps) and calls [Line.Slip].
//   - The process restarts: monotonic readings of two processes cannot be
//     compared. [Line.Resume] goes on by the wall clock, with its errors allowed for.
package clock

import (
	"math"
	"math/bits"
	"time"
)

// Rate is a number of ticks per second, Num/Den. Both must be positive,
// Num at most 1e10 and Den at most 1e6.
type Rate struct{ Num, Den uint64 }

// Time returns how long ticks take, cut to whole nanoseconds. It saturates at
// the longest Duration, some 292 years.
func (r Rate) Time(ticks uint64) time.Duration {
	return time.Duration(min(scale(ticks, 1e9*r.Den, r.Num), math.MaxInt64))
}

// Ticks returns the first whole tick at or after d; 0 for a negative d.
func (r Rate) Ticks(d time.Duration) uint64 {
	if d <= 0 {
		return 0
	}
	t := scale(uint64(d), r.Num, 1e9*r.Den)
	if r.Time(t) < d {
		t++
	}
	return t
}

// scale returns a*num/den, cut, saturating.
func scale(a, num, den uint64) uint64 {
	hi, lo := bits.Mul64(a, num)
	if hi >= den {
		return math.MaxUint64
	}
	q, _ := bits.Div64(hi, lo, den)
	return q
}
