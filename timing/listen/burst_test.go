package listen

import (
	"context"
	"flag"
	"runtime"
	"testing"
	"time"

	"lanewright/timing"
	"lanewright/timing/bench"
	"lanewright/timing/port"
	"lanewright/timing/wire"
)

var burstFor = flag.Duration("burst", time.Second, "how long TestBurstOverAPort lasts; 60s for the full measure")

// thousand: eight lanes, a pass every 8 ms on each.
func thousand(_, lane, lap int) time.Duration {
	if lap == 0 {
		return time.Duration(lane) * time.Millisecond
	}
	return 8 * time.Millisecond
}

func heap() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// TestBurst: a thousand passes a second for a minute, none lost, memory flat. The
// minute is one of synctest's.
func TestBurst(t *testing.T) {
	night(t, bench.Config{Boot: 1, Lanes: 8, Laps: thousand, Seed: 2, Faults: bench.Faults{Drop: 0.001}}, Config{}, func(k *bench.Counter, s *Source) {
		until(t, s, isBeatAfter(0))
		goAt := start(t, s, 255)
		var next uint64 = 1
		var early uint64
		read := func(seconds int) {
			until := goAt + time.Duration(seconds)*time.Second
			for m := range s.Messages() {
				switch m := m.(type) {
				case timing.Pass:
					if m.Serial != next {
						t.Fatalf("pass %d follows %d", m.Serial, next-1)
					}
					next++
				case timing.Beat:
					if m.At >= until {
						return
					}
				case timing.Missing:
					t.Fatalf("%+v", m)
				}
			}
		}
		read(20)
		early = heap()
		read(60)
		if next < 60_000 {
			t.Errorf("%d passes", next-1)
		}
		// The bench keeps its own list of what it made, 56 bytes a pass.
		if grown := int64(heap()) - int64(early); grown > 16<<20 {
			t.Errorf("memory grew by %d bytes in 40 s", grown)
		} else {
			t.Logf("%d passes, memory grew by %d KiB in 40 s (the bench's own list takes %d)", next-1, grown>>10, 40_000*56>>10)
		}
	})
}

// TestBurstOverAPort does the same over a real serial device in real time.
func TestBurstOverAPort(t *testing.T) {
	pty, err := bench.OpenPty()
	if err != nil {
		t.Skip(err)
	}
	k := bench.New(bench.Config{Boot: 1, Lanes: 8, Laps: thousand})
	done := make(chan error, 1)
	go func() { done <- k.Run(context.Background(), pty.Master) }()
	s, err := Listen(context.Background(), Config{Port: port.Config{Name: pty.Name}})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { pty.Close(); s.Close(); <-done }()
	var all []timing.Message
	collect(t, s, &all, func(m timing.Message) bool { _, ok := m.(timing.Beat); return ok })
	if _, err := s.Power(255); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Lamps(0, timing.Start); err != nil {
		t.Fatal(err)
	}
	var goAt, at time.Duration
	next := uint64(1)
	begun := time.Now()
	limit := time.After(*burstFor*3 + time.Minute)
	for goAt == 0 || at < goAt+*burstFor {
		select {
		case m := <-s.Messages():
			switch m := m.(type) {
			case timing.LampAck:
				goAt = m.At
			case timing.Beat:
				at = m.At
			case timing.Pass:
				if m.Serial != next || m.Segment != 1 {
					t.Fatalf("pass %d, segment %d, follows %d", m.Serial, m.Segment, next-1)
				}
				next++
			case timing.Missing, timing.Reset:
				t.Fatalf("%+v", m)
			}
		case <-limit:
			t.Fatal("no end")
		}
	}
	if float64(next) < 1000*burstFor.Seconds() {
		t.Errorf("%d passes in %v", next-1, *burstFor)
	}
	t.Logf("%d passes in %v, none lost; heap %d KiB", next-1, time.Since(begun).Round(time.Millisecond), heap()>>10)
}

// BenchmarkEar is the whole way from bytes to messages.
func BenchmarkEar(b *testing.B) {
	m, hello := bench.NewMachine(bench.Config{Boot: 1, Lanes: 8, Laps: thousand})
	e := NewEar(EarConfig{})
	e.Hear(hello, noon)
	e.order.next = 1
	m.Take(wire.Append(nil, &wire.Sentence{Kind: wire.SetPower, ID: 1, Mask: 255}), nil)
	m.Take(wire.Append(nil, &wire.Sentence{Kind: wire.SetLamps, ID: 2, Go: 1}), nil)
	var stream []byte
	n, at := 0, noon
	b.ReportAllocs()
	for b.Loop() {
		stream = m.Advance(m.Now()+1_000_000, stream[:0])
		at = at.Add(time.Second)
		e.Hear(stream, at)
		e.Say()
		n += len(e.Messages())
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(n), "ns/message")
}
