package wire

import (
	"bytes"
	"fmt"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// all decodes p, handed over in pieces of the given size (0: at once), and
// returns one printed line for each find.
func all(p []byte, piece int) (found []string) {
	var d Decoder
	var s Sentence
	if piece <= 0 {
		piece = len(p) + 1
	}
	for len(p) > 0 {
		part := p[:min(piece, len(p))]
		p = p[len(part):]
		for len(part) > 0 {
			n, ok := d.Decode(part, &s)
			part = part[n:]
			if ok {
				found = append(found, show(&s))
			}
		}
	}
	if d.Rest(&s) {
		found = append(found, show(&s))
	}
	return found
}

func show(s *Sentence) string {
	t := *s
	raw := string(t.Raw)
	name := string(t.Name)
	t.Raw, t.Name = nil, nil
	return fmt.Sprintf("%q %q %+v", raw, name, t)
}

func kinds(p []byte) (k []Kind) {
	var d Decoder
	var s Sentence
	for len(p) > 0 {
		n, ok := d.Decode(p, &s)
		p = p[n:]
		if ok {
			k = append(k, s.Kind)
		}
	}
	return k
}

// TestCheckPublished: the check value of the nine digits is the "check" of an
// 8-bit exclusive or as CRC catalogues use it (31 hex, computed by hand: it is
// '1'^...^'9'); the two position sentences are widely published examples of
// NMEA 0183: the first in the gpsd project's "NMEA Revealed", the second in
// Dale DePriest's "NMEA data" (both from memory, digits computed by hand).
func TestCheckPublished(t *testing.T) {
	for _, c := range []struct {
		body string
		want byte
	}{
		{"123456789", 0x31},
		{"GPGLL,5057.970,N,00146.110,E,142451,A", 0x27},
		{"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", 0x47},
	} {
		if got := Check([]byte(c.body)); got != c.want {
			t.Errorf("Check(%q) = %02X, want %02X", c.body, got, c.want)
		}
	}
}

// TestFramingOfAnotherField runs sentences of ships' instruments through the
// decoder: the framing is theirs, so all of them must be found sound, and those
// that their owners call bad must be refused. Source: see the file's head.
func TestFramingOfAnotherField(t *testing.T) {
	text, err := os.ReadFile("testdata/nmea0183.txt")
	if err != nil {
		t.Fatal(err)
	}
	want := Foreign
	var sound, bad int
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		if line == "bad\n" {
			want = Damaged
			continue
		}
		got := kinds([]byte(line))
		if len(got) != 1 || got[0] != want {
			t.Errorf("%q: %v, want %v", line, got, want)
		}
		if want == Foreign {
			sound++
		} else {
			bad++
		}
	}
	if sound < 300 || bad < 4 {
		t.Errorf("only %d sound and %d bad sentences in the file", sound, bad)
	}
	t.Logf("%d sentences verified, %d refused", sound, bad)
}

func TestDecode(t *testing.T) {
	line := func(body string) string { return fmt.Sprintf("$%s*%02X\r\n", body, Check([]byte(body))) }
	pass := line("LWPAS,7,1,2,0,123")
	for _, c := range []struct {
		name string
		in   string
		want []Kind
	}{
		{"a pass", pass, []Kind{Pass}},
		{"the example of the specification", "$LWPAS,1207,1,3,0,48211734*4D\r\n", []Kind{Pass}},
		{"lower-case digits", "$LWPAS,1207,1,3,0,48211734*4d\r\n", []Kind{Pass}},
		{"lone LF", strings.Replace(pass, "\r\n", "\n", 1) + pass, []Kind{Pass, Pass}},
		{"lone CR", strings.Replace(pass, "\r\n", "\r", 1) + pass, []Kind{Pass, Pass}},
		{"LF CR", strings.Replace(pass, "\r\n", "\n\r", 1) + pass, []Kind{Pass, Pass}},
		{"boot banner before", "\r\nhello, v1.2\r\n" + pass, []Kind{Damaged, Pass}},
		{"banner without line end", "hello" + pass, []Kind{Damaged, Pass}},
		{"zero bytes from a break", "\x00\x00" + pass, []Kind{Damaged, Pass}},
		{"zero byte inside", "$LWPAS,7,\x001,2,0,123*5A\r\n" + pass, []Kind{Damaged, Pass}},
		{"half a sentence, then a whole one", pass[:9] + pass, []Kind{Damaged, Pass}},
		{"cut inside the check digits", pass[:len(pass)-3] + pass, []Kind{Damaged, Pass}},
		{"wrong check", strings.Replace(pass, ",2,", ",3,", 1), []Kind{Damaged}},
		{"no check at all", "$LWPAS,7,1,2,0,123\r\n", []Kind{Damaged}},
		{"stray bytes behind the check", strings.TrimSpace(pass) + "x\r\n" + pass, []Kind{Damaged, Pass}},
		{"never ending line", "$" + strings.Repeat("a", 300) + "\n" + pass, []Kind{Damaged, Damaged, Pass}},
		{"serial 0", line("LWPAS,0,1,2,0,123"), []Kind{Damaged}},
		{"neither lane nor car", line("LWPAS,7,1,0,0,123"), []Kind{Damaged}},
		{"lane 33", line("LWPAS,7,1,33,0,123"), []Kind{Damaged}},
		{"field missing", line("LWPAS,7,1,2,0"), []Kind{Damaged}},
		{"empty field", line("LWPAS,7,1,2,,123"), []Kind{Damaged}},
		{"sign in a number", line("LWPAS,7,1,2,0,-123"), []Kind{Damaged}},
		{"twenty digits", line("LWPAS,7,1,2,0,12345678901234567890"), []Kind{Damaged}},
		{"a later version's further field", line("LWPAS,7,1,2,0,123,99"), []Kind{Pass}},
		{"a later version's sentence", line("LWXYZ,1"), []Kind{Foreign}},
		{"beat", line("LWBEA,3,7,999"), []Kind{Beat}},
		{"capabilities", line("LWCAP,1,3,shed,4,1,1000000,1,32,256,1,5"), []Kind{Caps}},
		{"capabilities without a tick rate", line("LWCAP,1,3,shed,4,1,0,1,32,256,1,5"), []Kind{Damaged}},
		{"power", line("LWPWR,12,0F,999") + line("LWPWR,12,f,999"), []Kind{Power, Power}},
		{"power without mask", line("LWPWR,12,,999"), []Kind{Damaged}},
		{"lamps", line("LWLMP,12,0,1,999"), []Kind{Lamps}},
		{"go 3", line("LWLMP,12,0,3,999"), []Kind{Damaged}},
		{"end of say again", line("LWEND,5,7,9"), []Kind{End}},
		{"not possible", line("LWNOT,5"), []Kind{Refused}},
		{"commands", line("LWQCP") + line("LWSPW,1,03") + line("LWSPW,1,03,77") + line("LWSLM,2,5,0") + line("LWSLM,2,0,1,77") + line("LWAGN,4"),
			[]Kind{AskCaps, SetPower, SetPower, SetLamps, SetLamps, SayAgain}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := kinds([]byte(c.in)); fmt.Sprint(got) != fmt.Sprint(c.want) {
				t.Errorf("%q:\ngot  %v\nwant %v", c.in, got, c.want)
			}
			whole := all([]byte(c.in), 0)
			for _, piece := range []int{1, 2, 3, 7} {
				if got := all([]byte(c.in), piece); fmt.Sprint(got) != fmt.Sprint(whole) {
					t.Errorf("in pieces of %d:\ngot  %v\nwant %v", piece, got, whole)
				}
			}
		})
	}
}

func TestFields(t *testing.T) {
	var d Decoder
	var s Sentence
	in := []byte("$LWCAP,1,3,shed,4,2,32768,3,24,256,1,5*2A\r\n")
	x := Check(in[1:bytes.IndexByte(in, '*')])
	copy(in[len(in)-4:], fmt.Sprintf("%02X", x))
	if _, ok := d.Decode(in, &s); !ok {
		t.Fatal("not decoded")
	}
	got := fmt.Sprint(s.Kind, s.Version, s.Boot, string(s.Name), s.Lanes, s.Sensors, s.Num, s.Den, s.Bits, s.Ring, s.HasPower, s.Lit)
	want := fmt.Sprint(Caps, 1, 3, "shed", 4, 2, 32768, 3, 24, 256, true, 5)
	if got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// sentence draws any sentence that can be sent.
func sentence(t *rapid.T) Sentence {
	big := rapid.Uint64Range(0, 1e19-1)
	s := Sentence{Kind: Kind(rapid.IntRange(int(Caps), int(SayAgain)).Draw(t, "kind"))}
	switch s.Kind {
	case Pass:
		s.Serial = max(1, big.Draw(t, "serial"))
		s.Ticks = big.Draw(t, "ticks")
		s.Sensor = rapid.Uint32Range(1, 99).Draw(t, "sensor")
		s.Lane = rapid.Uint32Range(0, LaneMax).Draw(t, "lane")
		if s.Lane == 0 {
			s.Car = 9
		}
	case Beat:
		s.Boot, s.Last, s.Ticks = big.Draw(t, "boot"), big.Draw(t, "last"), big.Draw(t, "ticks")
	case Caps:
		s.Version, s.Boot, s.Name = 1, rapid.Uint64Range(0, 1<<32).Draw(t, "boot"), []byte(rapid.StringMatching(`[a-z ]{0,12}`).Draw(t, "name"))
		s.Lanes, s.Sensors, s.Num, s.Den, s.Bits = 4, 1, 1000000, 1, rapid.Uint32Range(8, 63).Draw(t, "bits")
		s.Ring, s.HasPower, s.Lit = 256, rapid.Bool().Draw(t, "power"), 5
	case Power:
		s.ID, s.Mask, s.Ticks = big.Draw(t, "id"), rapid.Uint32().Draw(t, "mask"), big.Draw(t, "ticks")
	case Lamps:
		s.ID, s.Lit, s.Go, s.Ticks = big.Draw(t, "id"), 3, rapid.Uint32Range(0, 2).Draw(t, "go"), big.Draw(t, "ticks")
	case End:
		s.From, s.First, s.Last = big.Draw(t, "from"), big.Draw(t, "first"), big.Draw(t, "last")
	case Refused, Noted:
		s.ID = big.Draw(t, "id")
	case SetPower:
		s.ID, s.Mask, s.Timed = big.Draw(t, "id"), rapid.Uint32().Draw(t, "mask"), rapid.Bool().Draw(t, "timed")
	case SetLamps:
		s.ID, s.Lit, s.Go, s.Timed = big.Draw(t, "id"), 3, 1, rapid.Bool().Draw(t, "timed")
	case SayAgain:
		s.From = big.Draw(t, "from")
	}
	if s.Timed {
		s.At = big.Draw(t, "at")
	}
	return s
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := sentence(t)
		line := Append(nil, &s)
		if len(line) == 0 || len(line) > LenMax {
			t.Fatalf("%+v encodes to %q", s, line)
		}
		var d Decoder
		var got Sentence
		n, ok := d.Decode(line, &got)
		s.Raw, s.Bytes = line[:len(line)-2], len(line)-2
		if !ok || n != len(line)-1 || show(&got) != show(&s) {
			t.Fatalf("%q\ngot  %s\nwant %s", line, show(&got), show(&s))
		}
	})
}

// TestGarbageBetween: sound sentences with anything but '$' between their
// lines are all found, however the stream is cut.
func TestGarbageBetween(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var stream []byte
		want := 0
		for range rapid.IntRange(1, 6).Draw(t, "n") {
			junk := rapid.SliceOfN(rapid.Byte(), 0, 100).Draw(t, "junk")
			stream = append(stream, junk...)
			s := sentence(t)
			stream = Append(stream, &s)
			want++
		}
		whole := all(stream, 0)
		if got := all(stream, rapid.IntRange(1, 50).Draw(t, "piece")); fmt.Sprint(got) != fmt.Sprint(whole) {
			t.Fatalf("cuts matter:\ngot  %v\nwant %v", got, whole)
		}
		sound := 0
		for _, k := range kinds(stream) {
			if k != Damaged && k != Foreign {
				sound++
			}
		}
		if sound < want {
			t.Fatalf("%d sentences found in %q, %d were sent", sound, stream, want)
		}
	})
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte("$LWPAS,1207,1,3,0,48211734*4D\r\n"), 1)
	f.Add([]byte("x$LWPA$LWBEA,3,7,999*00\r\n$GPGLL,5057.970,N,00146.110,E,142451,A*27\n"), 3)
	f.Add([]byte("$LWCAP,1,3,shed,4,1,1000000,1,32,256,1,5*2A\r\n$LWSPW,1,03,77*00\n"), 7)
	f.Fuzz(func(t *testing.T, p []byte, piece int) {
		whole := all(p, 0)
		if got := all(p, piece&63); fmt.Sprint(got) != fmt.Sprint(whole) {
			t.Fatalf("cuts matter:\ngot  %v\nwant %v", got, whole)
		}
		var d Decoder
		var s, again Sentence
		used := uint64(0)
		for rest := p; len(rest) > 0; {
			n, ok := d.Decode(rest, &s)
			rest = rest[n:]
			if !ok {
				continue
			}
			if s.Offset < used || s.Offset+uint64(s.Bytes) > uint64(len(p)) {
				t.Fatalf("find at %d, %d bytes, after %d of %d", s.Offset, s.Bytes, used, len(p))
			}
			used = s.Offset + uint64(s.Bytes)
			if s.Kind == Damaged || s.Kind == Foreign {
				continue
			}
			// What is accepted encodes to something that says the same.
			line := Append(nil, &s)
			if len(line) == 0 {
				continue // a further field made it too long to repeat, or leading zeros
			}
			var e Decoder
			if _, ok := e.Decode(line, &again); !ok || again.Kind != s.Kind || again.Serial != s.Serial || again.Ticks != s.Ticks || again.ID != s.ID || again.Mask != s.Mask {
				t.Fatalf("%q encodes to %q", s.Raw, line)
			}
		}
	})
}

func BenchmarkDecode(b *testing.B) {
	stream := block()
	var d Decoder
	var s Sentence
	sentences := 0
	b.SetBytes(int64(len(stream)))
	b.ReportAllocs()
	for b.Loop() {
		for p := stream; len(p) > 0; {
			n, ok := d.Decode(p, &s)
			p = p[n:]
			if ok {
				sentences++
			}
		}
	}
	b.ReportMetric(float64(sentences)/b.Elapsed().Seconds()/1e6, "Msentences/s")
}

func BenchmarkDecodeByteByByte(b *testing.B) {
	stream := block()
	var d Decoder
	var s Sentence
	sentences := 0
	b.SetBytes(int64(len(stream)))
	b.ReportAllocs()
	for b.Loop() {
		for i := range stream {
			if _, ok := d.Decode(stream[i:i+1], &s); ok {
				sentences++
			}
		}
	}
	b.ReportMetric(float64(sentences)/b.Elapsed().Seconds()/1e6, "Msentences/s")
}

func BenchmarkAppend(b *testing.B) {
	s := Sentence{Kind: Pass, Serial: 1207, Sensor: 1, Lane: 3, Ticks: 48211734}
	buf := make([]byte, 0, LenMax)
	n := 0
	b.ReportAllocs()
	for b.Loop() {
		buf = Append(buf[:0], &s)
		n++
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds()/1e6, "Msentences/s")
}

// block is a thousand passes as a four-lane counter sends them.
func block() (stream []byte) {
	for i := range 1000 {
		s := Sentence{Kind: Pass, Serial: uint64(1000 + i), Sensor: 1, Lane: uint32(1 + i%4), Ticks: uint64(48211734 + 731234*i)}
		stream = Append(stream, &s)
	}
	return stream
}
