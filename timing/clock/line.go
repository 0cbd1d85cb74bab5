package clock

import (
	"fmt"
	"math"
	"time"
)

// Config describes a counter's clock.
type Config struct {
	Rate Rate
	Bits int // ticks wrap at 2^Bits, 1 to 63

	// Sure says that the counter announces its restarts by itself. Then a
	// disagreement with the host's clock is never taken for one.
	Sure bool

	// Slack is how late a message may be, in host time. 0 means SlackDefault.
	Slack time.Duration

	// Speed is how many counter seconds go by in a host second: 1 for real
	// counters (0 means 1), more for simulated ones.
	Speed float64
}

// SlackDefault is ample for a busy desktop and still far below what a counter
// leaps when it restarts.
const SlackDefault = 5 * time.Second

// Reading is a tick placed on the time line.
type Reading struct {
	Ticks   uint64        // unwrapped
	At      time.Duration // Ticks at the counter's rate
	Segment int
	Fresh   bool   // this reading is the first of its segment
	Why     string // why the segment is new; empty for the very first
}

// Line is the unwrapped time line of one counter. Readings must be given in the
// counter's own order.
type Line struct {
	c       Config
	segment int
	begun   bool
	broken  bool
	why     string
	slip    bool // host time since the last reading may be short by slipBy
	slipBy  time.Duration
	resumed bool // the last reading is of an earlier run: host time since then is by the wall clock

	raw   uint64 // last reading
	ticks uint64 // the same, unwrapped
	heard time.Duration

	hull Hull
}

// New returns a line whose first segment is number first (counted from 1).
func New(c Config, first int) *Line {
	if c.Slack <= 0 {
		c.Slack = SlackDefault
	}
	if c.Speed <= 0 {
		c.Speed = 1
	}
	c.Bits = min(max(c.Bits, 1), 63)
	if c.Rate.Num == 0 || c.Rate.Den == 0 {
		c.Rate = Rate{1000, 1}
	}
	return &Line{c: c, segment: first, hull: Hull{Speed: c.Speed}}
}

// Config returns what the line was made with.
func (l *Line) Config() Config { return l.c }

// Segment returns the number of the current segment.
func (l *Line) Segment() int { return l.segment }

// Begun tells whether the current segment has a reading.
func (l *Line) Begun() bool { return l.begun && !l.broken }

// Break makes the next reading the first of a new segment.
func (l *Line) Break(why string) {
	if l.begun && !l.broken {
		l.broken, l.why = true, why
	}
}

// Slip says that the wall clock has gone ahead of the monotonic one by so much
// since the last reading: the host has slept, or its clock was set. The next reading
// shows which.
func (l *Line) Slip(by time.Duration) {
	l.slip = true
	l.slipBy += by
}

// Resume goes on behind a reading of an earlier run: raw as sent, at its
// time on the line, heard in the host time of this run (usually negative), by the wall
// clock. The line must be new. Where the wall clock and the first reading that follows cannot be reconciled, the wall clock has been set
// meanwhile, and the time goes on by as few wraps as can be.
func (l *Line) Resume(raw uint64, at time.Duration, heard time.Duration) {
	ticks := l.c.Rate.Ticks(at) // at was cut, so this is the tick or, at coarse rates, still the tick
	off := (raw - ticks) & l.wrap()
	if off > l.wrap()/2 { // a tick below
		off -= l.wrap() + 1
	}
	l.begun, l.raw, l.ticks, l.heard = true, raw&l.wrap(), ticks+off, heard
	l.resumed = true
}

// Read places ticks, which came from a message received at heard.
func (l *Line) Read(ticks uint64, heard time.Duration) Reading {
	raw := ticks & l.wrap()
	r := Reading{Segment: l.segment}
	switch {
	case !l.begun:
		r.Fresh = true
		l.ticks = raw
	case l.broken:
		r = l.renew(raw, l.why)
	default:
		advance, why := l.advance(raw, heard)
		if why != "" {
			r = l.renew(raw, why)
			break
		}
		l.ticks += advance
	}
	l.begun, l.broken, l.slip, l.slipBy, l.resumed = true, false, false, 0, false
	l.raw, l.heard = raw, heard
	r.Ticks, r.At = l.ticks, l.c.Rate.Time(l.ticks)
	l.hull.Add(r.At, time.Duration(float64(heard)*l.c.Speed))
	return r
}

// Near places ticks within half a wrap of the last reading without moving the
// line: for repeated words and for moments to come. Not ok before the first
// reading of a segment, or if the time would be before tick zero of the line.
func (l *Line) Near(ticks uint64) (r Reading, ok bool) {
	if !l.Begun() {
		return Reading{}, false
	}
	t := int64(l.ticks) + l.delta(ticks&l.wrap())
	if t < 0 {
		return Reading{}, false
	}
	return Reading{Ticks: uint64(t), At: l.c.Rate.Time(uint64(t)), Segment: l.segment}, true
}

// Raw returns the tick that a counter shows at time at of the current segment.
func (l *Line) Raw(at time.Duration) uint64 { return l.c.Rate.Ticks(at) & l.wrap() }

// At estimates the counter's time at a host moment: as if its message had
// travelled as fast as the fastest ones.
func (l *Line) At(host time.Duration) (at time.Duration, ok bool) {
	if !l.Begun() || l.slip {
		return 0, false
	}
	return l.hull.X(time.Duration(float64(host) * l.c.Speed))
}

// Drift measures the counter's rate against the host's in the current segment.
func (l *Line) Drift() (Drift, bool) { return l.hull.Drift() }

func (l *Line) wrap() uint64 { return 1<<l.c.Bits - 1 }

// delta is the signed distance from the last reading, within half a wrap.
func (l *Line) delta(raw uint64) int64 {
	shift := 64 - l.c.Bits
	return int64((raw-l.raw)<<shift) >> shift
}

// advance returns how many ticks went by since the last reading, or why that
// cannot be told.
func (l *Line) advance(raw uint64, heard time.Duration) (uint64, string) {
	delta := l.delta(raw)
	perNano := float64(l.c.Rate.Num) / float64(l.c.Rate.Den) / 1e9 * l.c.Speed
	period := float64(uint64(1) << l.c.Bits)
	elapsed := float64(heard-l.heard) * perNano
	slack := float64(l.c.Slack) * perNano
	narrow := slack >= period/4 // lateness and wraps cannot be told apart

	if l.resumed && l.c.Sure {
		// The counter has not restarted, so ticks can only have gone on.
		for _, c := range []float64{elapsed, elapsed + float64(l.slipBy)*perNano} {
			wraps := math.Round((c - float64(delta)) / period)
			moved := float64(delta) + wraps*period
			if wraps >= 0 && moved >= 0 && math.Abs(c-moved) <= math.Max(slack, c*1e-3) && slack < period/4 {
				return uint64(delta + int64(wraps)*int64(period)), ""
			}
		}
		return (raw - l.raw) & l.wrap(), ""
	}
	if l.slip {
		// First as if the clock had only been set, then as if the host had slept:
		// its sleep is known as well as the wall clock is.
		for _, c := range []struct{ elapsed, slack float64 }{
			{elapsed, slack},
			{elapsed + float64(l.slipBy)*perNano, slack + 0.01*float64(l.slipBy)*perNano},
		} {
			wraps := math.Round((c.elapsed - float64(delta)) / period)
			moved := float64(delta) + wraps*period
			if wraps >= 0 && moved >= 0 && c.slack < period/4 && math.Abs(c.elapsed-moved) <= c.slack {
				if c.elapsed != elapsed {
					l.hull = Hull{} // the clocks have a new relation
				}
				return uint64(delta + int64(wraps)*int64(period)), ""
			}
		}
		return 0, fmt.Sprintf("ticks went from %d to %d while this computer slept or its clock was set by %v", l.raw, raw, l.slipBy)
	}

	if narrow {
		// Judge only what is certain: a short time between two messages that
		// are as punctual as this width needs.
		slack = period / 8
	}
	wraps := math.Round((elapsed - float64(delta)) / period)
	if wraps < 0 {
		wraps = 0
	}
	if total := float64(l.ticks) + float64(delta) + wraps*period; total >= math.MaxInt64 {
		return 0, "more ticks than can be counted"
	}
	moved := delta + int64(wraps)*int64(period)
	if moved < 0 {
		return 0, fmt.Sprintf("ticks went back from %d to %d", l.raw, raw)
	}
	late := elapsed - float64(moved)
	if !l.c.Sure {
		// The last message may have been late itself, so compare with the most
		// punctual ones. Behind a silence the rates may have told, too.
		if now, ok := l.hull.latest(time.Duration(float64(heard) * l.c.Speed)); ok {
			leap := float64(l.c.Rate.Time(l.ticks+uint64(moved))-now) / 1e9
			if limit := math.Max(slack, elapsed*1e-3) / (perNano * 1e9) * l.c.Speed; leap > limit {
				return 0, fmt.Sprintf("ticks leapt from %d to %d, %.3f s more than went by here", l.raw, raw, leap)
			}
		}
	}
	if narrow && math.Abs(late) > 2*slack {
		return 0, fmt.Sprintf("a message came %.3f s late, too late to count the wraps", late/(perNano*1e9))
	}
	return uint64(moved), ""
}

func (l *Line) renew(raw uint64, why string) Reading {
	l.segment++
	l.ticks = raw
	l.hull = Hull{Speed: l.c.Speed}
	return Reading{Segment: l.segment, Fresh: true, Why: why}
}

// Last returns the last reading as the counter sent it.
func (l *Line) Last() uint64 { return l.raw }
