package listen

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"testing/synctest"
	"time"

	"lanewright/timing"
	"lanewright/timing/bench"
	"lanewright/timing/describe"
	"lanewright/timing/port"
	"lanewright/timing/tape"
)

var update = flag.Bool("update", false, "write the expected passes of the captures anew")

const captures = "../../testdata/captures"

// capture is one recording: bytes as they came, and the passes in them.
type capture struct {
	name   string
	bytes  []byte
	want   []string // one line a pass
	format *describe.Description
}

// load reads every capture: NAME.tape with NAME.passes beside it and, for counters
// that do not speak our sentences, NAME.toml.
func load(t testing.TB) (all []capture) {
	t.Helper()
	tapes, err := filepath.Glob(filepath.Join(captures, "*.tape"))
	if err != nil || len(tapes) < 5 {
		t.Fatalf("%d captures in %s, %v", len(tapes), captures, err)
	}
	for _, path := range tapes {
		base := strings.TrimSuffix(path, ".tape")
		c := capture{name: filepath.Base(base)}
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		entries, err := tape.Read(bytes.NewReader(text))
		if err != nil {
			t.Fatalf("%s: %v", path, err)
		}
		for _, e := range entries {
			c.bytes = append(c.bytes, e.Heard...)
		}
		if text, err := os.ReadFile(base + ".toml"); err == nil {
			if c.format, err = describe.Parse(base+".toml", text); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(base + ".passes")
		if err != nil && !*update {
			t.Fatal(err)
		}
		c.want = strings.Split(strings.TrimSpace(string(want)), "\n")
		if *update {
			c.want = c.hear(bytes.NewReader(c.bytes))
			if err := os.WriteFile(base+".passes", []byte(strings.Join(c.want, "\n")+"\n"), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		all = append(all, c)
	}
	return all
}

// hear reads r to its end, every read being heard at the same moment, and
// returns the passes.
func (c *capture) hear(r io.Reader) (got []string) {
	e := NewEar(EarConfig{Format: c.format})
	take := func() {
		e.Say()
		for _, m := range e.Messages() {
			if p, ok := m.(timing.Pass); ok {
				line := fmt.Sprintf("sensor %d lane %d car %d serial %d ticks %d", p.Sensor, p.Lane, p.Car, p.Serial, p.Ticks)
				if p.Timed {
					line += fmt.Sprintf(" at %v/%d", p.At, p.Segment)
				}
				got = append(got, line)
			}
		}
	}
	e.Port(timing.Silent, "", noon)
	buf := make([]byte, 4096)
	for {
		n, err := r.Read(buf)
		if n > 0 {
			e.Hear(buf[:n], noon)
			take()
		}
		if err != nil {
			break
		}
	}
	for { // what waits for an answer that never comes
		due, ok := e.Due()
		if !ok || due.After(noon.Add(time.Hour)) {
			return got
		}
		e.Wake(due)
		take()
	}
}

// TestCapturesHoweverCut: every capture gives its passes whole, byte by byte and
// cut in two at every position.
func TestCapturesHoweverCut(t *testing.T) {
	for _, c := range load(t) {
		t.Run(c.name, func(t *testing.T) {
			check := func(how string, r io.Reader) {
				if got := c.hear(r); !slices.Equal(got, c.want) {
					t.Fatalf("%s:\ngot\n%s\nwant\n%s", how, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
				}
			}
			check("whole", bytes.NewReader(c.bytes))
			check("byte by byte", iotest.OneByteReader(bytes.NewReader(c.bytes)))
			for i := range c.bytes {
				check(fmt.Sprintf("cut at %d", i), io.MultiReader(bytes.NewReader(c.bytes[:i]), bytes.NewReader(c.bytes[i:])))
			}
		})
	}
}

// TestGarbageBetweenLines: noise between the lines of a text capture changes nothing.
func TestGarbageBetweenLines(t *testing.T) {
	garbage := []string{"\x00", "\xff\xfe\x80", "boot v0.9 ready", "AT+GCAP\r", "$LWPAS,9,1", "$GPGLL,5057.970,N,00146.110,E,142451,A*27"}
	for _, c := range load(t) {
		if c.format != nil && (c.format.Kind == "frame" || c.format.Kind == "bits") {
			continue // binary: there are no lines to put it between
		}
		lines := bytes.SplitAfter(c.bytes, []byte("\n"))
		for i, g := range garbage {
			var stream []byte
			for _, l := range lines {
				stream = append(stream, l...)
				stream = append(stream, g...)
				stream = append(stream, "\r\n"...)
			}
			if got := c.hear(bytes.NewReader(stream)); !slices.Equal(got, c.want) {
				t.Errorf("%s, garbage %d:\ngot\n%s\nwant\n%s", c.name, i, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
		}
	}
}

// TestInventedCountersByHand: the four counters of other kinds said the same 24
// passes in their own ways, lane and time after these rules.
func TestInventedCountersByHand(t *testing.T) {
	width := map[string]int{"shed-text": 1 << 32, "cellar-fields": 1 << 16, "attic-frames": 1 << 24, "garage-bits": 1}
	for _, c := range load(t) {
		if width[c.name] == 0 {
			continue
		}
		if len(c.want) != 24 {
			t.Errorf("%s: %d passes", c.name, len(c.want))
		}
		for i, line := range c.want {
			lane := i*7%4 + 1
			ticks := (60000 + 1371*i + 90*lane) % width[c.name]
			serial := 0
			if c.name == "cellar-fields" {
				serial = i + 1
			}
			if want := fmt.Sprintf("sensor 1 lane %d car 0 serial %d ticks %d", lane, serial, ticks); !strings.HasPrefix(line, want) {
				t.Errorf("%s, pass %d: %s, want %s", c.name, i+1, line, want)
			}
		}
	}
}

// TestReplayIsLive: a tape of a live night, with faults on the line, gives the
// passes, and everything else that depends on bytes alone, as the live line gave them.
func TestReplayIsLive(t *testing.T) {
	var live []timing.Message
	file := &memory{}
	synctest.Test(t, func(t *testing.T) {
		w := tape.NewWriter(file, time.Now())
		k := bench.New(bench.Config{Boot: 1, Laps: steady, Seed: 3, Faults: bench.Faults{Drop: 0.1, Garble: 0.1, Noise: 0.2}})
		s, err := Listen(context.Background(), Config{Name: "main", Port: port.Config{Dial: k.Dial}, Record: w})
		if err != nil {
			t.Fatal(err)
		}
		live = until(t, s, isBeatAfter(0))
		if _, err := s.Power(15); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Lamps(0, timing.Start); err != nil {
			t.Fatal(err)
		}
		if err := w.Do(time.Now(), "go", nil); err != nil {
			t.Fatal(err)
		}
		live = append(live, until(t, s, isBeatAfter(200*time.Second))...)
		s.Close()
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
	})
	entries, err := tape.Read(bytes.NewReader(file.text))
	if err != nil {
		t.Fatal(err)
	}
	var replayed []timing.Message
	p := NewPlayer(EarConfig{Name: "main"})
	do := 0
	for i := range entries {
		replayed = append(replayed, p.Play(&entries[i])...)
		if entries[i].Do == "go" {
			do++
		}
	}
	replayed = append(replayed, p.End()...)
	want, got := lines(live), lines(replayed)
	if len(got) < len(want) || !slices.Equal(got[:len(want)], want) {
		for i := range want {
			if i >= len(got) || got[i] != want[i] {
				t.Fatalf("message %d:\ngot  %v\nwant %v", i, got[i:min(i+3, len(got))], want[i])
			}
		}
	}
	if do != 1 || len(passes(replayed)) < 150 {
		t.Errorf("%d actions, %d passes", do, len(passes(replayed)))
	}
}

// lines prints messages with all that they hold.
func lines(all []timing.Message) (text []string) {
	for _, m := range all {
		switch m := m.(type) {
		case timing.Port: // when silence was noticed may differ by the grain of waking
			continue
		case timing.Pass:
			m.Heard = m.Heard.Round(0).UTC()
			text = append(text, fmt.Sprintf("%+v", m))
		default:
			text = append(text, brief(m))
		}
	}
	return text
}

type memory struct{ text []byte }

func (m *memory) Write(b []byte) (int, error) { m.text = append(m.text, b...); return len(b), nil }
func (m *memory) Sync() error                 { return nil }
func (m *memory) Close() error                { return nil }
