package listen

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"lanewright/timing"
	"lanewright/timing/bench"
	"lanewright/timing/tape"
	"lanewright/timing/wire"

	"pgregory.net/rapid"
)

// FuzzEar: whatever comes, in whatever pieces and with whatever delays, an ear does
// not fail, gives no running number twice in one life of the counter, and keeps
// times of a segment rising for passes that were not asked for again.
func FuzzEar(f *testing.F) {
	f.Add([]byte(fmt.Sprintf(caps, 3, 256)+"|END,9999999999,1,0|PAS,1,1,1,0,1000|PAS,3,1,3,0,2000|PAS,2,1,2,0,1500|END,2,2,3|BEA,3,3,3000"), uint64(1))
	f.Add([]byte(fmt.Sprintf(caps, 0, 0)+"|PAS,5,1,1,0,1000|PAS,1,1,3,0,20|BEA,0,9,3000"), uint64(99))
	f.Fuzz(func(t *testing.T, bodies []byte, seed uint64) {
		e := NewEar(EarConfig{})
		at := noon
		e.Port(timing.Silent, "", at)
		type id struct {
			segment int
			serial  uint64
		}
		seen := map[id]uint64{}
		last := map[int]time.Duration{}
		for i, body := range bytes.Split(bodies, []byte("|")) {
			seed = seed*6364136223846793005 + 1442695040888963407
			at = at.Add(time.Duration(seed>>40) * time.Microsecond)
			if seed>>33&15 == 0 {
				e.Port(timing.Lost, "cut", at)
				e.Port(timing.Silent, "", at)
			}
			if i&3 == 3 {
				_, _ = e.Power(uint32(seed), nil, at)
			}
			line := fmt.Appendf(nil, "$LW%s*%02X\r\n", body, wire.Check(append([]byte("LW"), body...)))
			cut := int(seed>>20) % (len(line) + 1)
			e.Hear(line[:cut], at)
			e.Hear(line[cut:], at.Add(time.Millisecond))
			if due, ok := e.Due(); ok && due.Before(at) {
				e.Wake(at)
			}
			for _, b := range e.Say() {
				if len(b) == 0 || len(b) > wire.LenMax {
					t.Fatalf("says %q", b)
				}
			}
			for _, m := range e.Messages() {
				p, ok := m.(timing.Pass)
				if !ok {
					continue
				}
				k := id{p.Segment, p.Serial}
				if ticks, dup := seen[k]; dup && ticks == p.Ticks {
					t.Fatalf("pass %d of segment %d twice", p.Serial, p.Segment)
				}
				seen[k] = p.Ticks
				if !p.Again {
					if p.At < last[p.Segment] {
						t.Fatalf("pass %d at %v behind one at %v", p.Serial, p.At, last[p.Segment])
					}
					last[p.Segment] = p.At
				}
			}
		}
	})
}

// TestAnyFault: a machine on a line that drops, doubles, changes and delays, unplugged
// now and then, restarted now and then. Whatever is drawn: no pass twice, none out of
// order, none with a wrong time, and every one either heard or reported as missing.
func TestAnyFault(t *testing.T) {
	var sumHeard, sumAgain, sumMissing int
	defer func() { t.Logf("%d passes heard, %d of them on request, %d missing", sumHeard, sumAgain, sumMissing) }()
	rapid.Check(t, func(t *rapid.T) {
		c := bench.Config{Rate: 1000, Lanes: 4, Ring: rapid.IntRange(4, 64).Draw(t, "ring"), Boot: 1,
			Start: rapid.Uint64Range(0, 1<<32-1).Draw(t, "start"), Laps: steady}
		m, hello := bench.NewMachine(c)
		e := NewEar(EarConfig{})
		at := noon
		e.Port(timing.Silent, "", at)
		up := true
		var toEar, toMachine [][]byte
		toEar = append(toEar, hello)
		var heard []timing.Pass
		var missing uint64
		drain := func() {
			toMachine = append(toMachine, e.Say()...)
			for _, msg := range e.Messages() {
				switch msg := msg.(type) {
				case timing.Pass:
					heard = append(heard, msg)
				case timing.Missing:
					missing += msg.Count
				case timing.Reset:
					t.Fatalf("%+v", msg)
				}
			}
		}
		step := func(d time.Duration, faults bool) {
			at = at.Add(d)
			out := m.Advance(c.Start+uint64(at.Sub(noon).Milliseconds()), nil)
			for _, b := range toMachine {
				if up && !(faults && rapid.IntRange(0, 9).Draw(t, "command") == 0) {
					out = m.Take(b, out)
				}
			}
			toMachine = nil
			if !up {
				toEar, out = nil, nil
			}
			for _, line := range bytes.SplitAfter(out, []byte("\n")) {
				if len(line) == 0 {
					continue
				}
				line = slices.Clone(line)
				if faults {
					switch rapid.IntRange(0, 11).Draw(t, "line") {
					case 0:
						continue
					case 1:
						line[rapid.IntRange(0, len(line)-1).Draw(t, "at")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
					case 2:
						line = append(line, line...)
					}
				}
				toEar = append(toEar, line)
			}
			if faults && rapid.IntRange(0, 4).Draw(t, "late") == 0 {
				return // they come with the next step
			}
			for _, b := range toEar {
				e.Hear(b, at)
			}
			toEar = nil
			if due, ok := e.Due(); ok && !due.After(at) {
				e.Wake(at)
			}
			drain()
		}
		step(100*time.Millisecond, false)
		step(100*time.Millisecond, false)
		if _, err := e.Power(15, nil, at); err != nil {
			t.Fatal(err)
		}
		if _, err := e.Lamps(0, timing.Start, nil, at); err != nil {
			t.Fatal(err)
		}
		drain()
		step(100*time.Millisecond, false)
		for range rapid.IntRange(1, 40).Draw(t, "steps") {
			step(time.Duration(rapid.IntRange(1, 3000).Draw(t, "ms"))*time.Millisecond, true)
			if rapid.IntRange(0, 14).Draw(t, "plug") == 0 {
				up = !up
				state := timing.Silent
				if !up {
					state = timing.Lost
				}
				e.Port(state, "", at)
				drain()
			}
		}
		if !up {
			up = true
			e.Port(timing.Silent, "", at)
			drain()
		}
		for range 100 { // a quiet end on a good line
			step(500*time.Millisecond, false)
		}
		made := m.Made()
		var last uint64
		for _, p := range heard {
			if p.Serial <= last {
				// Given up and then heard all the same: allowed once asked again.
				if !p.Again {
					t.Fatalf("pass %d after %d", p.Serial, last)
				}
				missing--
			}
			last = max(last, p.Serial)
			k := made[p.Serial-1]
			if p.Lane != k.Lane || p.Ticks != k.Ticks&(1<<32-1) || p.Segment != 1 || p.At != time.Duration(k.Ticks)*time.Millisecond {
				t.Fatalf("heard %+v, made %+v", p, k)
			}
		}
		for _, p := range heard {
			if p.Again {
				sumAgain++
			}
		}
		sumHeard += len(heard)
		sumMissing += int(missing)
		if uint64(len(heard))+missing != uint64(len(made)) {
			t.Fatalf("%d heard and %d missing of %d", len(heard), missing, len(made))
		}
	})
}

func FuzzPlayer(f *testing.F) {
	paths, _ := filepath.Glob(filepath.Join(captures, "bench-*.tape"))
	for _, p := range paths {
		text, err := os.ReadFile(p)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		all, _ := tape.Salvage(bytes.NewReader(text))
		p := NewPlayer(EarConfig{})
		for i := range all {
			p.Play(&all[i])
		}
		p.End()
	})
}
