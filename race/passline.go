package race

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"strconv"
	"time"
	"unicode/utf8"
)

// passForm is the pass event for encoding/json: what [AppendPassed] writes and [decodePassed] falls back to.
type passForm struct {
	Wall    Wall          `json:"wall"`
	Source  string        `json:"source"`
	Segment int           `json:"segment"`
	Sensor  int           `json:"sensor"`
	Lane    int           `json:"lane"`
	Car     int           `json:"car"`
	At      time.Duration `json:"at_ns"`
	Ticks   uint64        `json:"ticks"`
	Serial  uint64        `json:"number"`
	Boot    uint64        `json:"boot"`
	Untimed bool          `json:"untimed"`
	Again   bool          `json:"again"`
	Heard   Wall          `json:"heard"`
	Raw     string        `json:"raw"`
}

func appendUint(b []byte, n uint64) []byte { return strconv.AppendUint(b, n, 10) }

// AppendPassed appends the JSON object of a pass event. It allocates nothing but room in b: this is written for every car at
// every lap. All members are always there and in this order, which is what makes reading them back quick.
func AppendPassed(b []byte, p *Passed) []byte {
	b = append(b, `{"wall":`...)
	b = strconv.AppendInt(b, int64(p.Wall), 10)
	b = append(b, `,"source":`...)
	b = appendString(b, p.Source)
	b = append(b, `,"segment":`...)
	b = strconv.AppendInt(b, int64(p.Segment), 10)
	b = append(b, `,"sensor":`...)
	b = strconv.AppendInt(b, int64(p.Sensor), 10)
	b = append(b, `,"lane":`...)
	b = strconv.AppendInt(b, int64(p.Lane), 10)
	b = append(b, `,"car":`...)
	b = strconv.AppendInt(b, int64(p.Car), 10)
	b = append(b, `,"at_ns":`...)
	b = strconv.AppendInt(b, int64(p.At), 10)
	b = append(b, `,"ticks":`...)
	b = strconv.AppendUint(b, p.Ticks, 10)
	b = append(b, `,"number":`...)
	b = strconv.AppendUint(b, p.Serial, 10)
	b = append(b, `,"boot":`...)
	b = strconv.AppendUint(b, p.Boot, 10)
	b = append(b, `,"untimed":`...)
	b = strconv.AppendBool(b, p.Untimed)
	b = append(b, `,"again":`...)
	b = strconv.AppendBool(b, p.Again)
	b = append(b, `,"heard":`...)
	b = strconv.AppendInt(b, int64(p.Heard), 10)
	b = append(b, `,"raw":`...)
	b = appendString(b, p.Raw)
	return append(b, '}')
}

// appendString appends s as a JSON string. Bytes that are not UTF-8 become the replacement character, as encoding/json does.
func appendString(b []byte, s string) []byte {
	const hex = "0123456789abcdef"
	b = append(b, '"')
	for i := 0; i < len(s); {
		switch c := s[i]; {
		case c == '"' || c == '\\':
			b = append(b, '\\', c)
			i++
		case c < 0x20:
			b = append(b, '\\', 'u', '0', '0', hex[c>>4], hex[c&15])
			i++
		case c < utf8.RuneSelf:
			b = append(b, c)
			i++
		default:
			r, n := utf8.DecodeRuneInString(s[i:])
			b = utf8.AppendRune(b, r)
			i += n
		}
	}
	return append(b, '"')
}

func decodePassed(data []byte) (Event, error) {
	var p Passed
	if ReadPassed(data, &p) {
		return p, nil
	}
	var f passForm
	if err := json.Unmarshal(data, &f); err != nil {
		return nil, err
	}
	return Passed{Stamp{f.Wall}, Pass{f.Source, f.Segment, f.Sensor, f.Lane, f.Car, f.At, f.Ticks, f.Serial, f.Boot, f.Untimed, f.Again, f.Heard, f.Raw}}, nil
}

// ReadPassed reads what [AppendPassed] wrote into p and tells whether data had exactly that form; other JSON is read by
// [Decode]. A source name equal to the one already in p is kept and not made anew.
func ReadPassed(data []byte, p *Passed) bool {
	s := scanner{rest: data, good: true}
	s.figures(p)
	s.string(`,"raw":`, &p.Raw)
	s.word("}")
	return s.good && len(s.rest) == 0
}

// SkimPassed is [ReadPassed] without the raw line, which no result depends on; it allocates nothing. The raw line is not looked at closely:
// use it on what the journal has checked.
func SkimPassed(data []byte, p *Passed) bool {
	s := scanner{rest: data, good: true}
	s.figures(p)
	s.word(`,"raw":"`)
	p.Raw = ""
	return s.good && len(s.rest) >= 2 && string(s.rest[len(s.rest)-2:]) == `"}`
}

func (s *scanner) figures(p *Passed) {
	p.Wall = Wall(s.int(`{"wall":`))
	s.string(`,"source":`, &p.Source)
	p.Segment = int(s.int(`,"segment":`))
	p.Sensor = int(s.int(`,"sensor":`))
	p.Lane = int(s.int(`,"lane":`))
	p.Car = int(s.int(`,"car":`))
	p.At = time.Duration(s.int(`,"at_ns":`))
	p.Ticks = s.uint(`,"ticks":`)
	p.Serial = s.uint(`,"number":`)
	p.Boot = s.uint(`,"boot":`)
	p.Untimed = s.bool(`,"untimed":`)
	p.Again = s.bool(`,"again":`)
	p.Heard = Wall(s.int(`,"heard":`))
}

type scanner struct {
	rest []byte
	good bool
}

func (s *scanner) word(w string) {
	if s.good && len(s.rest) >= len(w) && string(s.rest[:len(w)]) == w {
		s.rest = s.rest[len(w):]
		return
	}
	s.good = false
}

func (s *scanner) uint(name string) uint64 {
	s.word(name)
	if !s.good {
		return 0
	}
	b := s.rest
	var n uint64
	i := 0
	for i <= 8 && len(b)-i >= 8 { // up to two times eight digits
		v, ok := eight(b[i:])
		if !ok {
			break
		}
		n = n*1e8 + v
		i += 8
	}
	for ; i < len(b) && b[i]-'0' <= 9; i++ {
		d := uint64(b[i] - '0')
		if n >= (1<<64-1)/10 && (n > (1<<64-1)/10 || d > (1<<64-1)%10) {
			s.good = false
			return 0
		}
		n = n*10 + d
	}
	if i == 0 || i > 1 && b[0] == '0' {
		s.good = false
		return 0
	}
	s.rest = b[i:]
	return n
}

// eight reads eight digits at once: neighbours are joined to two, four, eight digits by one multiplication each (a well-known
// trick, from memory; checked against strconv in the tests).
func eight(b []byte) (uint64, bool) {
	v := binary.LittleEndian.Uint64(b)
	if v&0xF0F0F0F0F0F0F0F0|(v+0x0606060606060606)&0xF0F0F0F0F0F0F0F0>>4 != 0x3333333333333333 {
		return 0, false
	}
	v = v & 0x0F0F0F0F0F0F0F0F * (10<<8 + 1) >> 8
	v = v & 0x00FF00FF00FF00FF * (100<<16 + 1) >> 16
	v = v & 0x0000FFFF0000FFFF * (10000<<32 + 1) >> 32
	return v, true
}

func (s *scanner) int(name string) int64 {
	s.word(name)
	minus := s.good && len(s.rest) > 0 && s.rest[0] == '-'
	if minus {
		s.rest = s.rest[1:]
	}
	n := s.uint("")
	switch {
	case minus && (n == 0 || n > 1<<63), !minus && n > 1<<63-1:
		s.good = false
		return 0
	case minus:
		return -int64(n)
	}
	return int64(n)
}

func (s *scanner) bool(name string) bool {
	s.word(name)
	if s.good && len(s.rest) > 0 && s.rest[0] == 't' {
		s.word("true")
		return s.good
	}
	s.word("false")
	return false
}

func (s *scanner) string(name string, into *string) {
	s.word(name)
	s.word(`"`)
	if !s.good {
		return
	}
	end := bytes.IndexByte(s.rest, '"')
	if end < 0 {
		s.good = false
		return
	}
	part := s.rest[:end]
	for _, c := range part {
		if c == '\\' || c < 0x20 || c >= utf8.RuneSelf { // rare: let encoding/json do it
			s.slow(into)
			return
		}
	}
	if string(part) != *into {
		*into = string(part)
	}
	s.rest = s.rest[end+1:]
}

// slow reads a string with escapes or other than ASCII characters; the opening mark has been taken.
func (s *scanner) slow(into *string) {
	for i := 0; i < len(s.rest); i++ {
		switch s.rest[i] {
		case '\\':
			i++
		case '"':
			quoted := make([]byte, 0, i+2)
			quoted = append(append(quoted, '"'), s.rest[:i+1]...)
			s.good = json.Unmarshal(quoted, into) == nil
			s.rest = s.rest[i+1:]
			return
		}
	}
	s.good = false
}

// String tells a pass in words, for messages.
func (p Pass) String() string {
	return fmt.Sprintf("pass %d of lane %d at %v", p.Serial, p.Lane, p.At)
}
