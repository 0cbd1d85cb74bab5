package wire

import (
	"encoding/binary"
	"math/bits"
)

// The quick way through a sentence that lies in one piece. Eight bytes are looked at
// at once, in one 64-bit number, the first byte being the lowest.

const (
	ones  = 0x0101010101010101
	highs = 0x8080808080808080
)

// zeros marks the zero bytes of x in their highest bits; marks above the lowest one
// may be false.
func zeros(x uint64) uint64 { return (x - ones) &^ x & highs }

// special marks, in the highest bit, every byte that cannot be in the body of a
// sentence: '*', '$' and what is not printable. Marks above the lowest one may be false.
func special(x uint64) uint64 {
	return zeros(x^'*'*ones) | zeros(x^'$'*ones) | (x-' '*ones)&^x&highs | (x|(x+ones))&highs // from 0x7F on the sum has its high bit
}

// whole reads a sentence that lies in p from '$' to its line end and is sound. It
// finds what the slow way would find, without copying; whatever is out of the
// ordinary it leaves to the slow way.
func (d *Decoder) whole(p []byte, s *Sentence) (used int, ok bool) {
	var sum uint64
	i := 1 // bytes looked at
	for {
		if i+8 > len(p) || i > LenMax {
			return d.wholeEnd(p, s, i, fold(sum))
		}
		x := binary.LittleEndian.Uint64(p[i:])
		if m := special(x); m != 0 {
			n := bits.TrailingZeros64(m) &^ 7 // bits before the special byte
			sum ^= x & (1<<n - 1)
			return d.wholeEnd(p, s, i+n/8, fold(sum))
		}
		sum ^= x
		i += 8
	}
}

// fold joins the eight columns of an exclusive or.
func fold(x uint64) byte {
	x ^= x >> 32
	x ^= x >> 16
	return byte(x ^ x>>8)
}

// wholeEnd goes on at i byte by byte, x being the check so far.
func (d *Decoder) wholeEnd(p []byte, s *Sentence, i int, x byte) (used int, ok bool) {
	for ; i+3 < len(p) && i <= LenMax-5; i++ {
		c := p[i]
		if c == '*' {
			hi, ok1 := hexDigit(p[i+1])
			lo, ok2 := hexDigit(p[i+2])
			if end := p[i+3]; !ok1 || !ok2 || hi<<4|lo != x || (end != '\r' && end != '\n') {
				return 0, false
			}
			*s = Sentence{}
			if !s.quickPass(p[:i+1]) {
				*s = Sentence{}
				if !s.understand(p[1:i]) {
					return 0, false
				}
			}
			s.Raw, s.Bytes, s.Offset = p[:i+3:i+3], i+3, d.offset
			return i + 4, true
		}
		if c-' ' > '~'-' ' || c == '$' {
			return 0, false
		}
		x ^= c
	}
	return 0, false
}

// quickPass reads an ordinary pass, "$LWPAS,serial,sensor,lane,car,ticks*", whose
// sensor, lane and car have one digit. False means that the slow way must look, and
// then nothing of s counts.
func (s *Sentence) quickPass(b []byte) bool {
	if len(b) < 18 || string(b[1:7]) != "LWPAS," {
		return false
	}
	serial, i := digits(b, 7)
	if i == 7 || i > 26 || i+7 >= len(b) || b[i] != ',' || b[i+2] != ',' || b[i+4] != ',' || b[i+6] != ',' {
		return false
	}
	sensor, lane, car := b[i+1]-'0', b[i+3]-'0', b[i+5]-'0'
	ticks, j := digits(b, i+7)
	if j == i+7 || j > i+26 || j != len(b)-1 { // '*' follows at once
		return false
	}
	if serial == 0 || sensor-1 > 8 || lane > 9 || car > 9 || lane|car == 0 {
		return false
	}
	s.Kind, s.Serial, s.Sensor, s.Lane, s.Car, s.Ticks = Pass, serial, uint32(sensor), uint32(lane), uint32(car), ticks
	return true
}

// digits reads decimal digits from i on and returns the index behind the last. b
// must end with a byte that is no digit.
func digits(b []byte, i int) (v uint64, end int) {
	for ; i < len(b); i++ {
		d := b[i] - '0'
		if d > 9 {
			break
		}
		v = v*10 + uint64(d)
	}
	return v, i
}
