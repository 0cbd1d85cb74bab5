package clock

import (
	"testing"
	"time"
)

// TestResumeBehindAnotherWallClock takes a line up again when the wall clock has or has not been set meanwhile: 20 bits of milliseconds
// wrap every 1048.576 s.
func TestResumeBehindAnotherWallClock(t *testing.T) {
	const wrap = 1<<20 - 1
	for _, c := range []struct {
		name     string
		gone     time.Duration // really
		wall     time.Duration // by the wall clock
		slip     time.Duration // of it known as a jump seen by the run before
		advances time.Duration
	}{
		{"20 s, and the wall clock says so", 20 * time.Second, 20 * time.Second, 0, 20 * time.Second},
		{"an hour, and the wall clock says so", time.Hour, time.Hour + time.Second, 0, time.Hour},
		{"20 s, and the wall clock was set forward unseen", 20 * time.Second, time.Hour + 20*time.Second, 0, 20 * time.Second},
		{"20 s, and the wall clock was set back unseen", 20 * time.Second, -time.Hour, 0, 20 * time.Second},
		{"20 s, and the wall clock was seen to be set", 20 * time.Second, time.Hour + 20*time.Second, time.Hour, 20 * time.Second},
		{"an hour asleep before it was started anew", time.Hour + 20*time.Second, time.Hour + 20*time.Second, time.Hour, time.Hour + 20*time.Second},
	} {
		l := New(Config{Rate: Rate{1000, 1}, Bits: 20, Sure: true}, 3)
		const was = 700_000
		at := was * time.Millisecond
		l.Resume(was, at, -c.wall+c.slip)
		if c.slip != 0 {
			l.Slip(c.slip)
		}
		r := l.Read(uint64(was+c.gone.Milliseconds())&wrap, 0)
		if r.At != at+c.advances || r.Segment != 3 || r.Fresh {
			t.Errorf("%s: %v on in segment %d, want %v on in segment 3", c.name, r.At-at, r.Segment, c.advances)
		}
	}
}
