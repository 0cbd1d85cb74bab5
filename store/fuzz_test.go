package store

import (
	"bytes"
	"errors"
	"os"
	"reflect"
	"strings"
	"testing"
)

// The decoder of stored records: whatever it accepts encodes to the same bytes.
func FuzzDecodeRecord(f *testing.F) {
	for _, seq := range []uint64{0, 1, 2, 255, 1 << 40} {
		v := encodeRecord(uint32(seq%3), sample(seq%200))
		sealRecord(seq, v)
		k := seqKey(seq)
		f.Add(k[:], v)
		f.Add(k[:], v[:len(v)-1])
		f.Add(k[:7], v)
	}
	f.Add([]byte{}, []byte{})
	f.Fuzz(func(t *testing.T, key, value []byte) {
		night, r, err := decodeRecord(key, value)
		if (err == nil) != recorded(key, value) && len(value) > 0 && value[0] == recordVersion {
			t.Fatalf("decodeRecord: %v, recorded: %v", err, err != nil)
		}
		if err != nil {
			if !errors.Is(err, errRecord) {
				t.Fatalf("%v", err)
			}
			return
		}
		again := encodeRecord(night, r)
		sealRecord(r.Seq, again)
		k := seqKey(r.Seq)
		if !bytes.Equal(k[:], key) || !bytes.Equal(again, value) {
			t.Fatalf("%x %x encodes to %x %x", key, value, k, again)
		}
	})
}

// The reader of exported nights: whatever it accepts can be stored, and
// exporting that gives the same night.
func FuzzReadNight(f *testing.F) {
	s, err := Open(tempStore(f), Options{faults: &faults{noReserve: true}})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { s.Close() })
	for i, id := range []string{"n", "Löwen", "leer"} {
		j := night(f, s, id)
		appendSamples(f, j, 6-3*i)
		var b bytes.Buffer
		if err := s.ExportNight(id, &b); err != nil {
			f.Fatal(err)
		}
		text := b.String()
		f.Add([]byte(text))
		f.Add([]byte(text[:len(text)/2]))
		f.Add([]byte(strings.Replace(text, `"seq":2`, `"seq":3`, 1)))
		f.Add([]byte(strings.Replace(text, `"id":`, `"ID" : `, 1)))
		f.Add([]byte(strings.Replace(text, `"from"`, `"missing":[{"from":2,"to":9}],"from"`, 1)))
	}
	f.Fuzz(func(t *testing.T, stream []byte) {
		h, records, err := readNight(bytes.NewReader(stream))
		if err != nil {
			if !errors.Is(err, ErrInput) {
				t.Fatalf("%v", err)
			}
			return
		}
		if uint64(len(records)) > uint64(len(stream)) {
			t.Fatalf("%d records out of %d bytes", len(records), len(stream))
		}
		next := uint64(1)
		for _, r := range records {
			for inRanges(h.Missing, next) {
				next++
			}
			if r.Seq != next || len(r.Data) > MaxData {
				t.Fatalf("record %d where %d belongs", r.Seq, next)
			}
			next++
		}
		if err := checkPrintable("id", h.ID); err != nil {
			t.Fatal(err)
		}
	})
}

// The scan: no file, however mad, makes it panic or run on, and what the
// salvage takes for a record is one.
func FuzzSurvey(f *testing.F) {
	for _, tens := range []int{0, 1, 6} {
		image, err := os.ReadFile(madeOf(f, tens, tens))
		if err != nil {
			f.Fatal(err)
		}
		image = bytes.TrimRight(image, "\x00")
		f.Add(image, uint32(0), uint64(0))
		f.Add(image, uint32(4096*3+20), uint64(1<<40))
		f.Add(image[:len(image)/2], uint32(8192+10), uint64(0xFFFF))
		f.Add(rubbish(bytes.Clone(image), 4096*2+100, 300), uint32(4096+32), uint64(3))
	}
	f.Fuzz(func(t *testing.T, image []byte, at uint32, word uint64) {
		image = bytes.Clone(image)
		if n := len(image); n > 8 { // the fuzzer does not know where the pages are; help it
			machine.PutUint64(image[int(at)%(n-7):], word)
		}
		_, _ = surveyFile(bytes.NewReader(image), int64(len(image)), nil)
		w := newWreck(bytes.NewReader(image), int64(len(image)))
		w.collect(nil)
		for night, records := range w.records {
			for seq, v := range records {
				k := seqKey(seq)
				if n, r, err := decodeRecord(k[:], v); err != nil || n != night || r.Seq != seq {
					t.Fatalf("record %d of night %d: %v", seq, night, err)
				}
			}
		}
	})
}

func TestRangesAreChecked(t *testing.T) {
	for _, c := range []struct {
		rs   []Range
		good bool
	}{
		{nil, true},
		{[]Range{{1, 1}, {3, 9}}, true},
		{[]Range{{0, 1}}, false},
		{[]Range{{2, 1}}, false},
		{[]Range{{1, 2}, {3, 4}}, false},
		{[]Range{{5, 6}, {1, 2}}, false},
		{[]Range{{1, 1 << 63}}, false},
	} {
		if err := checkRanges(c.rs); (err == nil) != c.good {
			t.Errorf("%v: %v", c.rs, err)
		}
	}
	rs := []Range{{2, 3}, {7, 7}}
	var in []uint64
	for seq := range uint64(10) {
		if inRanges(rs, seq) {
			in = append(in, seq)
		}
	}
	if !reflect.DeepEqual(in, []uint64{2, 3, 7}) || rangesLen(rs) != 3 {
		t.Errorf("%v", in)
	}
}
