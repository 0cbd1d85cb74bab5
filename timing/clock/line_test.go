package clock

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestRate(t *testing.T) {
	for _, c := range []struct {
		r     Rate
		ticks uint64
		want  time.Duration
	}{
		{Rate{1000, 1}, 1500, 1500 * time.Millisecond},
		{Rate{1000000, 1}, 1 << 32, 4294967296 * time.Microsecond}, // 71 min 35 s
		{Rate{32768, 1}, 32768*3 + 1, 3*time.Second + 30517},       // 1/32768 s = 30517.578125 ns, cut
		{Rate{10, 3}, 1, 300 * time.Millisecond},
		{Rate{1, 1}, 1 << 63, 1<<63 - 1}, // saturates
	} {
		if got := c.r.Time(c.ticks); got != c.want {
			t.Errorf("%v.Time(%d) = %v, want %v", c.r, c.ticks, got, c.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		r := Rate{rapid.Uint64Range(1, 1e9).Draw(t, "num"), rapid.Uint64Range(1, 1000).Draw(t, "den")}
		ticks := rapid.Uint64Range(0, 1<<40).Draw(t, "ticks")
		if at := r.Time(ticks); at < 1<<62 && r.Ticks(at) != ticks {
			t.Fatalf("tick %d is %v is tick %d", ticks, at, r.Ticks(at))
		}
	})
}

// wrap periods as every clock maker can work them out: 2^w / rate.
func TestWrapPeriods(t *testing.T) {
	for _, c := range []struct {
		bits int
		rate uint64
		want time.Duration
	}{
		{16, 1000, 65536 * time.Millisecond},
		{16, 10000, 6553600 * time.Microsecond},
		{24, 1000000, 16777216 * time.Microsecond},
		{32, 1000000, 4294967296 * time.Microsecond},
	} {
		if got := (Rate{c.rate, 1}).Time(1 << c.bits); got != c.want {
			t.Errorf("%d bits at %d Hz: %v, want %v", c.bits, c.rate, got, c.want)
		}
	}
}

func line(bits int, rate uint64) *Line {
	return New(Config{Rate: Rate{rate, 1}, Bits: bits}, 1)
}

func TestUnwrapAnyWidth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bits := rapid.SampledFrom([]int{16, 24, 32, 48}).Draw(t, "bits")
		rate := rapid.SampledFrom([]uint64{1000, 10000, 1000000}).Draw(t, "rate")
		l := line(bits, rate)
		r := l.Config().Rate
		period := r.Time(1 << bits)
		narrow := period <= 4*SlackDefault
		gapMax := time.Minute
		lateMax := 4 * time.Second
		if narrow { // lateness must stay small against the wrap
			lateMax = period / 16
		} else if bits > 24 {
			gapMax = 3 * time.Hour // several half wraps of silence
		}
		ticks := rapid.Uint64Range(0, 1<<bits-1).Draw(t, "start")
		offset := uint64(0)
		heard, base := time.Duration(0), time.Duration(0)
		for i := range rapid.IntRange(2, 50).Draw(t, "n") {
			if i > 0 {
				step := r.Ticks(time.Duration(rapid.Int64Range(0, int64(gapMax)).Draw(t, "gap")))
				ticks += step
				offset += step
			}
			late := time.Duration(rapid.Int64Range(0, int64(lateMax)).Draw(t, "late"))
			heard = max(heard, base+r.Time(offset)+late)
			if narrow && heard > base+r.Time(offset)+lateMax {
				heard = base + r.Time(offset) + lateMax
			}
			got := l.Read(ticks&(1<<bits-1), heard)
			if got.Segment != 1 {
				t.Fatalf("broken: %s", got.Why)
			}
			if got.Ticks != l.ticks || got.Ticks&(1<<bits-1) != ticks&(1<<bits-1) {
				t.Fatalf("tick %d placed at %d", ticks, got.Ticks)
			}
			if i > 0 {
				start := ticks - offset
				if got.Ticks != start&(1<<bits-1)+offset {
					t.Fatalf("tick %d (start %d, %d later) placed at %d", ticks, start, offset, got.Ticks)
				}
			}
		}
	})
}

func TestSegments(t *testing.T) {
	const s = time.Second
	type msg struct {
		ticks uint64
		heard time.Duration
	}
	for _, c := range []struct {
		name string
		conf Config
		in   []msg
		want []int
	}{
		{"steady", Config{Rate: Rate{1000, 1}, Bits: 32}, []msg{{5000, 0}, {6000, s}, {7000, 2 * s}}, []int{1, 1, 1}},
		{"late by 4 s, then punctual", Config{Rate: Rate{1000, 1}, Bits: 32}, []msg{{5000, 0}, {6000, 5 * s}, {7000, 5 * s}, {8000, 5 * s}, {9000, 5 * s}, {10000, 5 * s}}, []int{1, 1, 1, 1, 1, 1}},
		{"late by a minute is late, not a restart", Config{Rate: Rate{1000, 1}, Bits: 32}, []msg{{5000, 0}, {6000, 61 * s}, {7000, 61 * s}}, []int{1, 1, 1}},
		{"back to nearly zero", Config{Rate: Rate{1000, 1}, Bits: 32}, []msg{{50000, 0}, {300, s}, {1300, 2 * s}}, []int{1, 2, 2}},
		{"restart that looks like a leap", Config{Rate: Rate{1000, 1}, Bits: 32}, []msg{{1 << 31, 0}, {300, s}}, []int{1, 2}},
		{"a leap of 20 s", Config{Rate: Rate{1000, 1}, Bits: 32}, []msg{{5000, 0}, {26000, s}}, []int{1, 2}},
		{"the same leap where restarts are announced", Config{Rate: Rate{1000, 1}, Bits: 32, Sure: true}, []msg{{5000, 0}, {26000, s}}, []int{1, 1}},
		{"a leap of 20 s at sixty-fold speed is lateness made good", Config{Rate: Rate{1000, 1}, Bits: 32, Speed: 60}, []msg{{5000, 0}, {26000, s / 60}}, []int{1, 1}},
		{"silence of many wraps, wide", Config{Rate: Rate{1000000, 1}, Bits: 32}, []msg{{100, 0}, {100 + 5000, 3 * 4294967296 * time.Microsecond}}, []int{1, 1}},
		{"16 bits at 10 kHz, late by 3 s", Config{Rate: Rate{10000, 1}, Bits: 16}, []msg{{0, 0}, {10000, 4 * s}}, []int{1, 2}},
		{"16 bits at 10 kHz, punctual over many wraps", Config{Rate: Rate{10000, 1}, Bits: 16}, []msg{{0, 0}, {(60 * 10000) % 65536, 60 * s}}, []int{1, 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := New(c.conf, 1)
			for i, m := range c.in {
				if r := l.Read(m.ticks, m.heard); r.Segment != c.want[i] {
					t.Errorf("message %d: segment %d, want %d (%s)", i, r.Segment, c.want[i], r.Why)
				}
			}
		})
	}
}

func TestBreakSlipResume(t *testing.T) {
	const s = time.Second
	l := line(32, 1000)
	l.Read(5000, 0)
	l.Break("boot number 7 after 6")
	if r := l.Read(6000, s); r.Segment != 2 || !r.Fresh || r.Why != "boot number 7 after 6" {
		t.Errorf("after a break: %+v", r)
	}
	// An hour of sleep: the counter went on, the host's clock did not.
	l.Slip(3601 * s)
	if _, ok := l.At(2 * s); ok {
		t.Error("an estimate across a sleep")
	}
	if r := l.Read(6000+3600*1000, 2*s); r.Segment != 2 || r.At != 3606*s {
		t.Errorf("after sleep: %+v", r)
	}
	// The clock was set an hour ahead, nobody slept.
	l.Slip(3600 * s)
	if r := l.Read(6000+3601*1000, 3*s); r.Segment != 2 || r.At != 3607*s {
		t.Errorf("after setting the clock: %+v", r)
	}
	// Asleep, and the counter was switched off meanwhile.
	l.Slip(7200 * s)
	if r := l.Read(500, 4*s); r.Segment != 3 || r.At != 500*time.Millisecond {
		t.Errorf("after sleep and restart: %+v", r)
	}
	// A sleep of more than a wrap: 24 bits of milliseconds are 4 h 40 min.
	w := line(24, 1000)
	w.Read(1000, 0)
	w.Slip(10 * time.Hour)
	if r := w.Read((1000+36_001_000)%(1<<24), s); r.Segment != 1 || r.At != 10*time.Hour+2*s {
		t.Errorf("after a long sleep: %+v", r)
	}

	m := New(Config{Rate: Rate{32768, 1}, Bits: 24}, 4)
	at := Rate{32768, 1}.Time(1<<24 + 12345)
	m.Resume(12345, at, -20*s)
	if r := m.Read(12345+32768*25, 5*s); r.Segment != 4 || r.Fresh || r.Ticks != 1<<24+12345+32768*25 {
		t.Errorf("resumed: %+v", r)
	}
}

func TestNear(t *testing.T) {
	l := line(16, 1000)
	if _, ok := l.Near(5); ok {
		t.Error("near nothing")
	}
	l.Read(65000, 0)
	for _, c := range []struct {
		ticks uint64
		want  time.Duration
	}{{64000, 64 * time.Second}, {100, 65636 * time.Millisecond}, {65000, 65 * time.Second}} {
		if r, ok := l.Near(c.ticks); !ok || r.At != c.want {
			t.Errorf("near %d: %v, want %v", c.ticks, r.At, c.want)
		}
	}
	if got := l.Raw(66 * time.Second); got != 464 {
		t.Errorf("66 s is tick %d, want 464", got)
	}
}
