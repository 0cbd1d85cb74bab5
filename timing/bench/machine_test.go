package bench

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lanewright/timing/wire"
)

// steady is a lap model of round figures: lane n takes 3+n seconds a lap, and half
// a second from the grid.
func steady(_, lane, lap int) time.Duration {
	if lap == 0 {
		return 500 * time.Millisecond
	}
	return time.Duration(3+lane) * time.Second
}

func cmd(s wire.Sentence) []byte { return wire.Append(nil, &s) }

// said decodes and prints what a machine said, one short line each.
func said(t testing.TB, b []byte) (lines []string) {
	t.Helper()
	var d wire.Decoder
	var s wire.Sentence
	for len(b) > 0 {
		n, ok := d.Decode(b, &s)
		b = b[n:]
		if !ok {
			continue
		}
		raw := string(s.Raw)
		lines = append(lines, raw[3:len(raw)-3])
	}
	return lines
}

func expect(t *testing.T, got []string, want ...string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("said\n%q\nwant\n%q", got, want)
	}
}

func TestAHeatByHand(t *testing.T) {
	m, hello := NewMachine(Config{Lanes: 2, Rate: 1000, Bits: 16, Start: 65000, Boot: 9, Laps: steady, Coast: 400 * time.Millisecond})
	expect(t, said(t, hello), "CAP,1,9,bench,2,1,1000,1,16,256,1,5", "PWR,0,00,65000")
	expect(t, said(t, m.Take(cmd(wire.Sentence{Kind: wire.SetPower, ID: 1, Mask: 0xF}), nil)), "PWR,1,03,65000")
	// No car moves before the start.
	expect(t, said(t, m.Advance(66000, nil)), "BEA,9,0,464")
	// The start is ordered for tick 67000, which is 1464 after the wrap.
	expect(t, said(t, m.Take(cmd(wire.Sentence{Kind: wire.SetLamps, ID: 1, Go: 1, At: 1464, Timed: true}), nil)), "NTD,1")
	expect(t, said(t, m.Take(cmd(wire.Sentence{Kind: wire.SetLamps, ID: 1, Go: 1, At: 1464, Timed: true}), nil)), "NTD,1")
	expect(t, said(t, m.Advance(67600, nil)),
		"LMP,1,0,1,1464", "BEA,9,0,1464", "PAS,1,1,1,0,1964", "PAS,2,1,2,0,1964")
	// The same command again is answered again, not done again.
	expect(t, said(t, m.Take(cmd(wire.Sentence{Kind: wire.SetLamps, ID: 1, Go: 1, At: 1464, Timed: true}), nil)), "LMP,1,0,1,1464")
	// Lane 1 laps at 71500, lane 2 would at 72500. Power is cut 100 ms before
	// lane 1 gets there. Rolling 400 ms is good for a way of 200 ms, so it passes
	// when t - t*t/800 = 100: t = 400 - sqrt(160000-80000) = 117.2, in whole ticks 118.
	m.Advance(71400, nil)
	expect(t, said(t, m.Take(cmd(wire.Sentence{Kind: wire.SetPower, ID: 2, Mask: 0}), nil)), "PWR,2,00,5864")
	expect(t, said(t, m.Advance(75100, nil)),
		"PAS,3,1,1,0,5982", "BEA,9,3,6464", "BEA,9,3,7464", "BEA,9,3,8464", "BEA,9,3,9464")
	// Lane 1 has rolled 100 into its lap of 4000, lane 2 900 short of the line and rolled 200.
	m.Take(cmd(wire.Sentence{Kind: wire.SetPower, ID: 3, Mask: 3}), nil) // at 75100 = 9564
	got := said(t, m.Advance(79100, nil))
	got = slices.DeleteFunc(got, func(s string) bool { return s[:3] == "BEA" })
	// lane 2: 72500-71400 = 1100, less 200, so 900 after 9564. Lane 1: 3900 after it.
	expect(t, got, "PAS,4,1,2,0,10464", "PAS,5,1,1,0,13464")
	// Say again from 4, from the future.
	expect(t, said(t, m.Take(cmd(wire.Sentence{Kind: wire.SayAgain, From: 4}), nil)), "PAS,4,1,2,0,10464", "PAS,5,1,1,0,13464", "END,4,4,5")
	expect(t, said(t, m.Take(cmd(wire.Sentence{Kind: wire.SayAgain, From: 99}), nil)), "END,99,6,5")
	expect(t, said(t, m.Take(cmd(wire.Sentence{Kind: wire.SetLamps, ID: 7, Lit: 6}), nil)), "NOT,7")
}

// TestAHeatGoesOnAfterTheCounterWasOff: a counter that was switched on in the middle of a heat knows no start; when the heat goes
// on the cars set off all the same, and are not put back to the grid the next time.
func TestAHeatGoesOnAfterTheCounterWasOff(t *testing.T) {
	m, _ := NewMachine(Config{Lanes: 2, Rate: 1000, Laps: steady})
	m.Take(cmd(wire.Sentence{Kind: wire.SetPower, ID: 1, Mask: 3}), nil)
	m.Take(cmd(wire.Sentence{Kind: wire.SetLamps, ID: 1, Go: 2}), nil)
	expect(t, said(t, m.Advance(600, nil)), "PAS,1,1,1,0,500", "PAS,2,1,2,0,500")
	m.Take(cmd(wire.Sentence{Kind: wire.SetLamps, ID: 2, Go: 2}), nil)
	m.Advance(4400, nil)
	expect(t, said(t, m.Advance(4600, nil)), "PAS,3,1,1,0,4500")
}

func TestRingForgets(t *testing.T) {
	m, _ := NewMachine(Config{Lanes: 1, Rate: 1000, Ring: 3, Laps: steady})
	m.Take(cmd(wire.Sentence{Kind: wire.SetPower, ID: 1, Mask: 1}), nil)
	m.Take(cmd(wire.Sentence{Kind: wire.SetLamps, ID: 1, Go: 1}), nil)
	m.Advance(21_000, nil) // passes at 0.5, 4.5, ..., 20.5
	expect(t, said(t, m.Take(cmd(wire.Sentence{Kind: wire.SayAgain, From: 2}), nil)),
		"PAS,4,1,1,0,12500", "PAS,5,1,1,0,16500", "PAS,6,1,1,0,20500", "END,2,4,6")
}

// TestStepsDoNotMatter: the passes of a heat relative to its start are the same
// however coarsely time moves on and whenever the start is.
func TestStepsDoNotMatter(t *testing.T) {
	run := func(start uint64, step func() uint64) (passes []string) {
		m, _ := NewMachine(Config{Lanes: 4, Rate: 100_000, Bits: 24, Start: start, Laps: Model(Profile{}, 11), Coast: 300 * time.Millisecond,
			Faults: Faults{Bounce: 0.1, Phantom: 0.1, Miss: 0.05}, Seed: 5})
		m.Take(cmd(wire.Sentence{Kind: wire.SetPower, ID: 1, Mask: 15}), nil)
		m.Take(cmd(wire.Sentence{Kind: wire.SetLamps, ID: 1, Go: 1}), nil)
		m.Take(cmd(wire.Sentence{Kind: wire.SetPower, ID: 2, Mask: 0, Timed: true, At: start + 6_000_000}), nil)
		for m.Now() < start+7_000_000 {
			m.Advance(m.Now()+step(), nil)
		}
		for _, p := range m.Made() {
			p.Ticks -= start
			passes = append(passes, fmt.Sprint(p))
		}
		return passes
	}
	want := run(0, func() uint64 { return 7_000_000 })
	if len(want) < 30 {
		t.Fatalf("only %d passes in a minute", len(want))
	}
	rapid.Check(t, func(t *rapid.T) {
		start := rapid.Uint64Range(0, 1<<23).Draw(t, "start")
		width := rapid.Uint64Range(1000, 500_000).Draw(t, "width")
		seed := rapid.Uint64().Draw(t, "seed")
		n := uint64(0)
		got := run(start, func() uint64 { n++; return 1 + mix(seed, n)%width })
		if !slices.Equal(got, want) {
			t.Fatalf("got\n%v\nwant\n%v", got, want)
		}
	})
}

func TestModelIsInRange(t *testing.T) {
	laps := Model(Profile{}, 3)
	for heat := range 20 {
		for lane := 1; lane <= 8; lane++ {
			for lap := 1; lap < 50; lap++ {
				if d := laps(heat, lane, lap); d < 6*time.Second || d > 12600*time.Millisecond {
					t.Fatalf("heat %d lane %d lap %d: %v", heat, lane, lap, d)
				}
			}
		}
	}
}

// FuzzTake: nothing that comes over the line upsets a counter.
func FuzzTake(f *testing.F) {
	f.Add([]byte("$LWAGN,1*00\r\n"), uint64(5000))
	f.Add(cmd(wire.Sentence{Kind: wire.SetLamps, ID: 1, Go: 1, Timed: true, At: 7}), uint64(90000))
	f.Add(cmd(wire.Sentence{Kind: wire.SetPower, ID: 1, Mask: 7}), uint64(1))
	f.Fuzz(func(t *testing.T, b []byte, by uint64) {
		m, _ := NewMachine(Config{Rate: 1000, Bits: 8, Ring: 4})
		out := m.Take(b, nil)
		out = m.Advance(m.Now()+by%1_000_000, out)
		out = m.Take(b, out)
		for _, line := range said(t, out) {
			if line == "" {
				t.Fatal("an empty sentence")
			}
		}
	})
}
