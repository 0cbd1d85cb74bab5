package listen

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"lanewright/timing/bench"
	"lanewright/timing/describe"
	"lanewright/timing/port"
	"lanewright/timing/tape"
	"lanewright/timing/wire"
)

// TestMakeCaptures writes the captures of the bench anew with -update. They come
// from the simulated counter and from invented counters of other kinds; a capture of
// a real counter is added by hand.
func TestMakeCaptures(t *testing.T) {
	if !*update {
		t.Skip("only with -update")
	}
	began := time.Date(2026, 3, 14, 19, 30, 0, 0, time.UTC)
	save := func(name string, chunks []tape.Entry) {
		text, err := tape.Append(nil, &tape.Entry{Start: true, At: began})
		if err != nil {
			t.Fatal(err)
		}
		for i := range chunks {
			if text, err = tape.Append(text, &chunks[i]); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.WriteFile(filepath.Join(captures, name+".tape"), text, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	heat := func(c bench.Config, seconds int) (chunks []tape.Entry) {
		m, hello := bench.NewMachine(c)
		say := func(b []byte) {
			if len(b) > 0 {
				chunks = append(chunks, tape.Entry{T: time.Duration(m.Now()-c.Start) * time.Microsecond, Heard: b})
			}
		}
		say(hello)
		say(m.Take(wire.Append(nil, &wire.Sentence{Kind: wire.SayAgain, From: beyondAll}), nil))
		say(m.Take(wire.Append(nil, &wire.Sentence{Kind: wire.SetPower, ID: 1, Mask: 15}), nil))
		say(m.Take(wire.Append(nil, &wire.Sentence{Kind: wire.SetLamps, ID: 2, Go: 1}), nil))
		for range seconds * 10 {
			say(m.Advance(m.Now()+100_000, nil))
		}
		return chunks
	}
	save("bench-heat", heat(bench.Config{Boot: 5, Start: 4290000000, Laps: bench.Model(bench.Profile{}, 21)}, 30))
	save("bench-bad-line", heat(bench.Config{Boot: 6, Laps: bench.Model(bench.Profile{}, 22), Seed: 9,
		Faults: bench.Faults{Garble: 0.15, Noise: 0.3, Bounce: 0.1, Phantom: 0.1}}, 30))

	// A line with faults, and a program that asks again.
	synctest.Test(t, func(t *testing.T) {
		file := &memory{}
		w := tape.NewWriter(file, time.Now())
		k := bench.New(bench.Config{Boot: 7, Laps: bench.Model(bench.Profile{}, 23), Seed: 4, Faults: bench.Faults{Drop: 0.15, Garble: 0.15}})
		s, err := Listen(context.Background(), Config{Name: "counter", Port: port.Config{Dial: k.Dial}, Record: w})
		if err != nil {
			t.Fatal(err)
		}
		until(t, s, isBeatAfter(0))
		goAt := start(t, s, 15)
		until(t, s, isBeatAfter(goAt+40*time.Second))
		s.Close()
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(captures, "bench-asked.tape"), file.text, 0o644); err != nil {
			t.Fatal(err)
		}
	})

	// Invented counters: the same 24 passes in their ways of saying them.
	xor := func(b string) string { return fmt.Sprintf("%02X", wire.Check([]byte(b))) }
	var text, fields, frames, bits []tape.Entry
	seal := describe.Checks()
	modbus := seal[0]
	for _, c := range seal {
		if c.Name == "crc16-modbus" {
			modbus = c
		}
	}
	text = append(text, tape.Entry{Heard: []byte("\r\nGATES v3 READY\r\n")})
	bits = append(bits, tape.Entry{Heard: []byte{0x0F}})
	for i := range 24 {
		lane := i*7%4 + 1
		ms := 60000 + 1371*i + 90*lane
		at := time.Duration(1371*i+90*lane) * time.Millisecond
		text = append(text, tape.Entry{T: at, Heard: fmt.Appendf(nil, "LANE %d  %d:%06.3f\r\n", lane, ms/60000, float64(ms%60000)/1000)})
		body := fmt.Sprintf("P;%d;%d;%X", i+1, lane-1, ms%65536)
		fields = append(fields, tape.Entry{T: at, Heard: []byte(body + "*" + xor(body) + "\n")})
		fr := []byte{0xA5, 0x5A, byte(lane - 1), byte(ms), byte(ms >> 8), byte(ms >> 16), 0, 0}
		v := modbus.Of(fr[2:6])
		fr[6], fr[7] = byte(v), byte(v>>8)
		if i%5 == 4 {
			fr = append([]byte{0xA5, 0x5A, 0xA5, 0x00}, fr...) // noise that looks like a start
		}
		frames = append(frames, tape.Entry{T: at, Heard: fr})
		bits = append(bits, tape.Entry{T: at, Heard: []byte{0x0F &^ (1 << (4 - lane))}}, tape.Entry{T: at + 20*time.Millisecond, Heard: []byte{0x0F}})
	}
	save("shed-text", text)
	save("cellar-fields", fields)
	save("attic-frames", frames)
	save("garage-bits", bits)
	for name, toml := range map[string]string{
		"shed-text": `# An invented counter: a line of text for each pass, with the time since it was
# switched on.
name = "shed gates"
kind = "text"
lanes = 4

[port]
baud = 9600

[clock]
ticks_per_second = 1000
bits = 32

[text]
pattern = '^LANE (?P<lane>\d)\s+(?P<minutes>\d+):(?P<seconds>\d\d\.\d{3})$'
ignore = '^GATES v\d+ READY$'
`,
		"cellar-fields": `# An invented counter: fields parted by semicolons, running number, lane from 0,
# sixteen bits of milliseconds in hexadecimal, check digits behind a star.
name = "cellar counter"
kind = "fields"
lanes = 4
count_from = 0

[port]
baud = 19200

[clock]
ticks_per_second = 1000
bits = 16

[fields]
separator = ";"
begins = "P"
serial = 2
lane = 3
ticks = 4
count = 4
base = 16
check = "xor8"
`,
		"attic-frames": `# An invented counter: frames of eight bytes, two start bytes, lane from 0,
# milliseconds in 24 bits, and a CRC.
name = "attic box"
kind = "frame"
lanes = 4
count_from = 0

[port]
baud = 38400

[clock]
ticks_per_second = 1000
bits = 24

[frame]
length = 8
starts = [0xA5, 0x5A]
lane = { offset = 2, width = 1 }
ticks = { offset = 3, width = 3, endian = "little" }
check = { kind = "crc16-modbus", offset = 6, from = 2, to = 6, endian = "little" }
`,
		"garage-bits": `# An invented counter without a clock: one byte whenever a gate changes; a gate
# that is interrupted gives a 0. Lane 1 is the highest of four bits.
name = "garage gates"
kind = "bits"
lanes = 4

[port]
baud = 57600

[bits]
lanes = [3, 2, 1, 0]
inverted = true
`,
	} {
		if err := os.WriteFile(filepath.Join(captures, name+".toml"), bytes.TrimLeft([]byte(toml), "\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
