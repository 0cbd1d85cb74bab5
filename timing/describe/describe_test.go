package describe

import (
	"bytes"
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"lanewright/timing/tape"
)

// TestChecksAgainstTheCatalogue: the values over the nine digits 123456789 are the
// "check" column of the Catalogue of parametrised CRC algorithms (CRC RevEng) for
// the CRCs; those of sums and exclusive or are worked out by hand: the sum of
// '1'..'9' is 0x31+...+0x39 = 477 = 0x1DD, the exclusive or 0x31.
func TestChecksAgainstTheCatalogue(t *testing.T) {
	want := map[string]uint32{
		"crc8-smbus": 0xF4, "crc8-maxim-dow": 0xA1,
		"crc16-arc": 0xBB3D, "crc16-modbus": 0x4B37, "crc16-xmodem": 0x31C3, "crc16-kermit": 0x2189,
		"crc16-ibm-3740": 0x29B1, "crc16-ibm-sdlc": 0x906E,
		"crc32-iso-hdlc": 0xCBF43926, "crc32-iscsi": 0xE3069283,
		"sum8": 0xDD, "sum16": 0x1DD, "sum8-complement": 0x22, "sum8-negated": 0x23, "xor8": 0x31, "xor8-complement": 0xCE,
	}
	digits := []byte("123456789")
	for _, c := range Checks() {
		w, ok := want[c.Name]
		if !ok {
			t.Errorf("%s has no published value here", c.Name)
		}
		if got := c.Of(digits); got != w {
			t.Errorf("%s: %X, want %X", c.Name, got, w)
		}
		delete(want, c.Name)
	}
	if len(want) > 0 {
		t.Errorf("missing: %v", want)
	}
	if !slices.IsSortedFunc(Checks(), func(a, b Check) int { return strings.Compare(a.Name, b.Name) }) {
		t.Error("not in the order of names")
	}
	// The standard library knows two of them for any input.
	for n := range 300 {
		b := bytes.Repeat([]byte{byte(n), 0xA7, byte(n >> 1)}, n)
		if got := find("crc32-iso-hdlc").Of(b); got != crc32.ChecksumIEEE(b) {
			t.Fatalf("%d bytes: %X", len(b), got)
		}
		if got := find("crc32-iscsi").Of(b); got != crc32.Checksum(b, crc32.MakeTable(crc32.Castagnoli)) {
			t.Fatalf("%d bytes: %X", len(b), got)
		}
	}
	// RFC 1662, appendix C: running the FCS over data and complemented FCS, low
	// byte first, leaves 0xF0B8 before the final complement.
	c := find("crc16-ibm-sdlc")
	v := c.Of(digits)
	if got := c.Of(append(slices.Clone(digits), byte(v), byte(v>>8))) ^ 0xFFFF; got != 0xF0B8 {
		t.Errorf("residue %X, want F0B8", got)
	}
}

// load reads a description from a file.
func load(path string) (*Description, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return Parse(path, text)
}

func parse(t testing.TB, text string) *Description {
	t.Helper()
	d, err := Parse("test.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// feed decodes b in pieces and prints what was found.
func feed(d *Description, b []byte, piece int) (found []string) {
	dec := d.Decoder()
	for len(b) > 0 {
		n := min(piece, len(b))
		dec.Feed(b[:n], func(ev *Event) { found = append(found, show(ev)) })
		b = b[n:]
	}
	var ev Event
	if dec.Rest(&ev) {
		found = append(found, show(&ev))
	}
	return found
}

func show(ev *Event) string {
	if ev.Damaged {
		return fmt.Sprintf("damaged %d at %d: %s", ev.Bytes, ev.Offset, ev.Why)
	}
	s := fmt.Sprintf("sensor %d lane %d car %d at %d", ev.Sensor, ev.Lane, ev.Car, ev.Offset)
	if ev.HasTicks {
		s += fmt.Sprintf(" ticks %d", ev.Ticks)
	}
	if ev.HasSerial {
		s += fmt.Sprintf(" serial %d", ev.Serial)
	}
	return s
}

const head = "name = \"x\"\nlanes = 4\n"
const tick = "[clock]\nticks_per_second = 1000\nbits = 32\n"

func TestDecode(t *testing.T) {
	for _, c := range []struct {
		name, toml, in string
		want           []string
	}{
		{"text", head + "kind = \"text\"\n" + tick + "[text]\npattern = '^L(?P<lane>\\d) T(?P<ticks>\\d+)$'\nignore = '^#'\n",
			"L1 T500\r\n# hello\r\nL5 T600\r\nwhat\nL4 T99999999999999999999\n\nL2 T700\n",
			[]string{"sensor 1 lane 1 car 0 at 0 ticks 500", "damaged 7 at 18: a number is missing or out of range", "damaged 4 at 27: does not match the pattern",
				"damaged 24 at 32: a number is missing or out of range", "sensor 1 lane 2 car 0 at 58 ticks 700"}},
		{"text with seconds", head + "kind = \"text\"\n" + strings.Replace(tick, "1000", "32768", 1) + "[text]\npattern = '^(?P<sensor>\\d)/(?P<car>\\d+) (?:(?P<minutes>\\d+):)?(?P<seconds>[\\d.,]+)$'\n",
			"1/17 2.5\n2/17 1:00,25\n1/3 1.\n1/3 x\n1/3 1.2.3\n",
			[]string{"sensor 1 lane 0 car 17 at 0 ticks 81920", "sensor 2 lane 0 car 17 at 9 ticks 1974272", "sensor 1 lane 0 car 3 at 22 ticks 32768",
				"damaged 5 at 29: does not match the pattern", "damaged 9 at 35: a number is missing or out of range"}},
		{"text without clock", head + "kind = \"text\"\ncount_from = 0\n[text]\npattern = '^g(?P<lane>\\d)$'\n",
			"g0\ng3\ng4\n", []string{"sensor 1 lane 1 car 0 at 0", "sensor 1 lane 4 car 0 at 3", "damaged 2 at 6: a number is missing or out of range"}},
		{"a line without end", head + "kind = \"text\"\n[text]\npattern = '^g(?P<lane>\\d)$'\n",
			strings.Repeat("y", 600) + "\ng1\n", []string{"damaged 256 at 0: line too long", "damaged 256 at 256: line too long", "damaged 88 at 512: line too long", "sensor 1 lane 1 car 0 at 601"}},
		{"fields", head + "kind = \"fields\"\n" + tick + "[fields]\nseparator = \",\"\nbegins = \"P\"\nlane = 2\nticks = 4\nserial = 3\nbase = 16\n",
			"P,1,10,fF\nP,1,10\nQ,1,10,1\nP,9,10,1\nP,x,1,1\nP,2,11,100,more\n",
			[]string{"sensor 1 lane 1 car 0 at 0 ticks 255 serial 10", "damaged 6 at 10: wrong number of fields", "damaged 8 at 17: another beginning",
				"damaged 8 at 26: lane, car or sensor out of range", "damaged 7 at 35: a field is no number", "sensor 1 lane 2 car 0 at 43 ticks 256 serial 11"}},
		{"fields with a check", head + "kind = \"fields\"\n[fields]\nseparator = \" \"\nlane = 1\ncount = 2\ncheck = \"sum8\"\n",
			// '1'+' '+'7' = 0x31+0x20+0x37 = 0x88; the second with '$' in front, which does not count
			"1 7*88\n$1 7*88\n1 7*89\n1 7\n1 7 7*DF\n1 7*088\n",
			[]string{"sensor 1 lane 1 car 0 at 0", "damaged 7 at 7: a field is no number", "damaged 6 at 15: check digits disagree", "damaged 3 at 22: no check",
				"damaged 8 at 26: wrong number of fields", "damaged 7 at 35: check digits disagree"}},
		{"frames", head + "kind = \"frame\"\n" + tick + "[frame]\nlength = 6\nstarts = [0xAA]\nends = [0x55]\nlane = { offset = 1, mask = 0x70, shift = 4 }\nticks = { offset = 2, width = 2, endian = \"big\" }\ncheck = { kind = \"xor8\", offset = 4, from = 1 }\n",
			// 1F^12^34 = 39; a false start before the second frame
			"\xAA\x1F\x12\x34\x39\x55\x00\x00\xAA\xAA\x2F\x00\x01\x2E\x55",
			[]string{"sensor 1 lane 1 car 0 at 0 ticks 4660", "damaged 3 at 6: no start of a frame", "sensor 1 lane 2 car 0 at 9 ticks 1"}},
		{"frames, inverted, little", head + "kind = \"frame\"\n[frame]\nlength = 3\nstarts = [0x7E]\ncar = { offset = 1, width = 2, endian = \"little\", inverted = true }\n",
			"\x7E\xFE\xFE", []string{"sensor 1 lane 0 car 257 at 0"}},
		{"bits", head + "kind = \"bits\"\n[bits]\nlanes = [0, 1, 2, 3]\n",
			"\x01\x01\x03\x00\x0F\x00",
			[]string{"sensor 1 lane 2 car 0 at 2", "sensor 1 lane 1 car 0 at 4", "sensor 1 lane 2 car 0 at 4", "sensor 1 lane 3 car 0 at 4", "sensor 1 lane 4 car 0 at 4"}},
		{"bits, two bytes, inverted, going off", head + "kind = \"bits\"\n[bits]\nlanes = [8, 0]\nbytes = 2\ninverted = true\nfalling = true\n",
			"\x00\x00\x00\x01\x01\x01", []string{"sensor 1 lane 1 car 0 at 2", "sensor 1 lane 2 car 0 at 4"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := parse(t, c.toml)
			got := feed(d, []byte(c.in), 1<<20)
			if !slices.Equal(got, c.want) {
				t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(c.want, "\n"))
			}
			for piece := 1; piece < 9; piece++ {
				if again := feed(d, []byte(c.in), piece); !slices.Equal(again, got) {
					t.Errorf("in pieces of %d:\n%s", piece, strings.Join(again, "\n"))
				}
			}
		})
	}
}

func TestBadDescriptions(t *testing.T) {
	text := head + "kind = \"text\"\n"
	fields := head + "kind = \"fields\"\n"
	frame := head + "kind = \"frame\"\n"
	bits := head + "kind = \"bits\"\n"
	for _, c := range []struct{ name, toml, want string }{
		{"empty", "", "name is missing"},
		{"no TOML", "name = ", "test.toml:1:"},
		{"unknown key", head + "kind = \"text\"\n[text]\npatern = 'x'\n", "test.toml:5: unknown key text.patern"},
		{"unknown kind", head + "kind = \"speech\"\n", "expected text, fields, frame or bits"},
		{"table of another kind", text + "[bits]\nlanes = [0]\n", "a table of that name"},
		{"lanes", "name = \"x\"\nlanes = 99\n", "lanes = 99"},
		{"count from", head + "count_from = 2\n", "count_from = 2"},
		{"port", head + "kind = \"bits\"\n[port]\nbaud = 1\n[bits]\nlanes = [0]\n", "baud 1"},
		{"clock", text + "[clock]\nticks_per_second = 0\nbits = 32\n[text]\npattern = 'x'\n", "ticks_per_second = 0"},
		{"clock width", text + "[clock]\nticks_per_second = 10\nbits = 64\n[text]\npattern = 'x'\n", "bits = 64"},
		{"bad pattern", text + "[text]\npattern = '('\n", "pattern: error parsing regexp"},
		{"bad ignore", text + "[text]\npattern = '(?P<lane>x)'\nignore = '('\n", "ignore"},
		{"unknown group", text + "[text]\npattern = '(?P<lap>x)'\n", `group "lap"`},
		{"group twice", text + "[text]\npattern = '(?P<lane>x)(?P<lane>x)'\n", "lane"},
		{"minutes alone", text + tick + "[text]\npattern = '(?P<lane>x)(?P<minutes>x)'\n", "minutes but not seconds"},
		{"neither lane nor car", text + "[text]\npattern = 'x'\n", "neither lane nor car"},
		{"ticks without clock", text + "[text]\npattern = '(?P<lane>x)(?P<ticks>x)'\n", "no [clock]"},
		{"clock without ticks", text + tick + "[text]\npattern = '(?P<lane>x)'\n", "no ticks"},
		{"base", text + "[text]\npattern = '(?P<lane>x)'\nbase = 8\n", "= 8"},
		{"separator", fields + "[fields]\nseparator = \"\"\nlane = 1\n", "separator"},
		{"field twice", fields + "[fields]\nseparator = \",\"\nlane = 1\ncar = 1\n", "used twice"},
		{"field is the beginning", fields + "[fields]\nseparator = \",\"\nbegins = \"P\"\nlane = 1\n", "used twice"},
		{"field 99", fields + "[fields]\nseparator = \",\"\nlane = 99\n", "field 99"},
		{"check", fields + "[fields]\nseparator = \",\"\nlane = 1\ncheck = \"crc\"\n", "crc16-modbus"},
		{"frame without start", frame + "[frame]\nlength = 4\nlane = { offset = 1 }\n", "starts is missing"},
		{"frame length", frame + "[frame]\nlength = 0\nstarts = [1]\n", "length = 0"},
		{"frame start", frame + "[frame]\nlength = 3\nstarts = [256]\nlane = { offset = 1 }\n", "byte 256"},
		{"frame of starts", frame + "[frame]\nlength = 1\nstarts = [1, 2]\n", "more bytes than"},
		{"number outside", frame + "[frame]\nlength = 3\nstarts = [1]\nlane = { offset = 3 }\n", "lane: offset 3"},
		{"number's order", frame + "[frame]\nlength = 3\nstarts = [1]\nlane = { offset = 1, width = 2 }\n", "endian"},
		{"number's shift", frame + "[frame]\nlength = 3\nstarts = [1]\nlane = { offset = 1, shift = 64 }\n", "shift = 64"},
		{"seal kind", frame + "[frame]\nlength = 3\nstarts = [1]\nlane = { offset = 1 }\ncheck = { kind = \"x\", offset = 2 }\n", "one of"},
		{"seal outside", frame + "[frame]\nlength = 3\nstarts = [1]\nlane = { offset = 1 }\ncheck = { kind = \"sum16\", offset = 2, endian = \"big\" }\n", "inside 3 bytes"},
		{"seal covers itself", frame + "[frame]\nlength = 3\nstarts = [1]\nlane = { offset = 1 }\ncheck = { kind = \"sum8\", offset = 2, to = 3 }\n", "covers its own"},
		{"seal's order", frame + "[frame]\nlength = 4\nstarts = [1]\nlane = { offset = 1 }\ncheck = { kind = \"sum16\", offset = 2 }\n", "endian"},
		{"samples with clock", bits + tick + "[bits]\nlanes = [0]\n", "no ticks"},
		{"bit twice", bits + "[bits]\nlanes = [0, 0]\n", "two lanes"},
		{"bit 8 of one byte", bits + "[bits]\nlanes = [8]\n", "bit 8"},
		{"five bytes", bits + "[bits]\nlanes = [0]\nbytes = 5\n", "bytes = 5"},
		{"no lanes", bits + "[bits]\n", "lanes"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse("test.toml", []byte(c.toml))
			if !errors.Is(err, ErrDescription) || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "test.toml") {
				t.Errorf("%v", err)
			}
		})
	}
}

// TestGuess: of all captures each is recognised among all descriptions, with at
// least 30 % to spare, and noise is recognised as nothing.
func TestGuess(t *testing.T) {
	const dir = "../../testdata/captures"
	var known []*Description
	paths, _ := filepath.Glob(filepath.Join(dir, "*.toml"))
	for _, p := range paths {
		d, err := load(p)
		if err != nil {
			t.Fatal(err)
		}
		known = append(known, d)
	}
	tapes, _ := filepath.Glob(filepath.Join(dir, "*.tape"))
	if len(known) < 4 || len(tapes) < 6 {
		t.Fatal("captures are missing")
	}
	for _, path := range tapes {
		f, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		entries, err := tape.Read(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		var stream []byte
		for _, e := range entries {
			stream = append(stream, e.Heard...)
		}
		want := OurOwn
		if d, err := load(strings.TrimSuffix(path, ".tape") + ".toml"); err == nil {
			want = d.Name
		}
		g := Guess(stream, known)
		if g[0].Name != want || g[0].Sure < 0.5 || g[0].Sure < g[1].Sure*1.3 {
			t.Errorf("%s: %+v", filepath.Base(path), g[:2])
		}
		t.Logf("%-22s %-18s sure %.2f, next %.2f", filepath.Base(path), g[0].Name, g[0].Sure, g[1].Sure)
		if g := Guess(stream[:min(len(stream), 40)], known); g[0].Sure > 0.75 {
			t.Errorf("%s: sure %.2f after 40 bytes", filepath.Base(path), g[0].Sure)
		}
	}
	noise := make([]byte, 4000)
	x := uint32(1)
	for i := range noise {
		x = x*1664525 + 1013904223
		noise[i] = byte(x >> 24)
	}
	for _, in := range [][]byte{nil, noise, []byte("hello\r\n")} {
		if g := Guess(in, known); g[0].Sure > 0.1 {
			t.Errorf("%d bytes of nothing are %+v", len(in), g[0])
		}
	}
}

func FuzzParse(f *testing.F) {
	paths, _ := filepath.Glob("../../testdata/captures/*.toml")
	for _, p := range paths {
		text, err := os.ReadFile(p)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text, []byte("L1 T500\r\n\xA5\x5A\x00\x01"), 3)
	}
	f.Fuzz(func(t *testing.T, text, stream []byte, piece int) {
		d, err := Parse("x.toml", text)
		if err != nil {
			if !errors.Is(err, ErrDescription) {
				t.Fatalf("%v", err)
			}
			return
		}
		if piece < 1 || piece > 50 {
			piece = 1
		}
		whole := feed(d, stream, 1<<20)
		if got := feed(d, stream, piece); !slices.Equal(got, whole) {
			t.Fatalf("in pieces of %d\n%q\nwhole\n%q", piece, got, whole)
		}
	})
}

func FuzzDecode(f *testing.F) {
	var known []*Description
	paths, _ := filepath.Glob("../../testdata/captures/*.toml")
	for _, p := range paths {
		d, err := load(p)
		if err != nil {
			f.Fatal(err)
		}
		known = append(known, d)
	}
	f.Add([]byte("LANE 1  1:00.090\r\nP;1;0;EABA*42\n"), 1)
	f.Add([]byte("\xA5\x5A\x00\xBA\xEA\x00\x00\x00\x0F\x07"), 5)
	f.Fuzz(func(t *testing.T, stream []byte, piece int) {
		if piece < 1 || piece > 50 {
			piece = 1
		}
		for _, d := range known {
			whole := feed(d, stream, 1<<20)
			if got := feed(d, stream, piece); !slices.Equal(got, whole) {
				t.Fatalf("%s in pieces of %d\n%q\nwhole\n%q", d.Name, piece, got, whole)
			}
		}
		Guess(stream, known)
	})
}

func BenchmarkFeed(b *testing.B) {
	for _, c := range []struct{ name, toml, line string }{
		{"text", head + "kind = \"text\"\n" + tick + "[text]\npattern = '^P,(?P<lane>\\d),(?P<ticks>\\d+)$'\n", "P,3,48211734\r\n"},
		{"fields", head + "kind = \"fields\"\n" + tick + "[fields]\nseparator = \",\"\nbegins = \"P\"\nlane = 2\nticks = 3\n", "P,3,48211734\r\n"},
		{"frame", head + "kind = \"frame\"\n" + tick + "[frame]\nlength = 8\nstarts = [0xA5, 0x5A]\nlane = { offset = 2 }\nticks = { offset = 3, width = 4, endian = \"little\" }\ncheck = { kind = \"xor8\", offset = 7, from = 2 }\n", "\xA5\x5A\x03\x01\x02\x03\x04\x07"},
		{"bits", head + "kind = \"bits\"\n[bits]\nlanes = [0, 1, 2, 3]\n", "\x00\x01"},
	} {
		b.Run(c.name, func(b *testing.B) {
			d := parse(b, c.toml)
			stream := bytes.Repeat([]byte(c.line), 250)
			dec := d.Decoder()
			n := 0
			f := func(ev *Event) {
				if ev.Damaged {
					b.Fatal(show(ev))
				}
				n++
			}
			b.ReportAllocs()
			for b.Loop() {
				dec.Feed(stream, f)
			}
			b.ReportMetric(float64(n)/b.Elapsed().Seconds()/1e6, "Mpasses/s")
		})
	}
}
