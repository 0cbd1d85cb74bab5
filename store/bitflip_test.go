package store

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"testing"
)

var (
	flips    = flag.Int("flips", 20_000, "single-bit flips to try: go test -run Flip -flips 1000000 ./store")
	flipFull = flag.Int("flipfull", 50, "every so-many-th flip goes through Open, Read and Salvage on disk too; 1 for all")
)

// flipped is the small store of the flip test and what it holds.
type flipped struct {
	t       *testing.T
	path    string
	image   []byte
	mem     *side
	records map[uint32]map[uint64][]byte
	sealed  map[string][]byte
}

const flipRecords, flipDocuments = 60, 5

// contents surveys image and returns everything that stands in its tree.
func contents(image []byte) (records map[uint32]map[uint64][]byte, sealed map[string][]byte, problems []Problem) {
	records, sealed = map[uint32]map[uint64][]byte{1: {}, 2: {}}, map[string][]byte{}
	look, err := surveyFile(bytes.NewReader(image), int64(len(image)), func(s *survey) {
		s.found = func(night uint32, seq uint64, value []byte) {
			if records[night] == nil {
				records[night] = map[uint64][]byte{}
			}
			records[night][seq] = bytes.Clone(value)
		}
		s.sealed = func(bucket string, key, payload []byte) { sealed[bucket+"\x00"+string(key)] = bytes.Clone(payload) }
	})
	if err != nil {
		return nil, nil, []Problem{{What: err.Error()}}
	}
	return records, sealed, look.problems
}

// One bit is turned in a small store, anywhere. Either the scan at opening finds
// nothing, and then the store holds exactly what it held, or it finds damage;
// and then a salvage gives back every record unchanged, or names it as missing.
// Each flip is judged on the file's image in memory, and every so-many-th in
// full, through the library, on disk.
func TestNoFlippedBitGoesUnnoticed(t *testing.T) {
	f := &flipped{t: t, path: madeOf(t, flipRecords/10, flipDocuments)}
	f.image = []byte(fileState(t, f.path))
	f.image = f.image[:lastUsed(t, f.image)+4096]
	var problems []Problem
	if f.records, f.sealed, problems = contents(f.image); len(problems) > 0 || len(f.records[2]) != flipRecords || len(f.sealed) != 1+2+2*flipDocuments {
		t.Fatalf("the store to begin with: %v, %d records, %d sealed", problems, len(f.records[2]), len(f.sealed))
	}
	var err error
	if f.mem, err = readSide(f.path); err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(20_000, 7))
	flips := *flips
	if raceOn {
		flips /= 10
	}
	var unharmed, refused, whole, named, full int
	for i := range flips {
		bit := rng.IntN(len(f.image) * 8)
		where := fmt.Sprintf("bit %d of byte %d of page %d", bit%8, bit/8%4096, bit/8/4096)
		f.image[bit/8] ^= 1 << (bit % 8)
		records, sealed, problems := contents(f.image)
		lost := 0
		if len(problems) == 0 {
			unharmed++
			f.same(where, records, f.records)
			if len(sealed) != len(f.sealed) {
				t.Errorf("%s: %d sealed values, want %d", where, len(sealed), len(f.sealed))
			}
			for k, v := range sealed {
				if !bytes.Equal(v, f.sealed[k]) {
					t.Errorf("%s: %q was changed in silence", where, k)
				}
			}
		} else {
			refused++
			if lost = f.salvageable(where); lost == 0 {
				whole++
			}
			named += lost
		}
		if i%*flipFull == 0 {
			full++
			f.onDisk(where, len(problems) == 0, lost)
		}
		f.image[bit/8] ^= 1 << (bit % 8)
	}
	t.Logf("%d single bits turned in a store of %d bytes: %d did no harm (free or unused bytes), %d were refused as damage, 0 went unnoticed; of the refused ones %d gave back every record, the others named %d as missing; %d went through the disk too",
		flips, len(f.image), unharmed, refused, whole, named, full)
	if unharmed == 0 || refused < flips/10 {
		t.Errorf("the flips did not reach what they should")
	}
}

func (f *flipped) same(where string, got, want map[uint32]map[uint64][]byte) {
	f.t.Helper()
	for night, records := range want {
		if len(got[night]) != len(records) {
			f.t.Errorf("%s: night %d has %d records, want %d", where, night, len(got[night]), len(records))
		}
		for seq, value := range records {
			if !bytes.Equal(got[night][seq], value) {
				f.t.Errorf("%s: record %d of night %d is lost or changed in silence", where, seq, night)
			}
		}
	}
}

// salvageable collects what a salvage would save and returns how many records
// it would name as missing.
func (f *flipped) salvageable(where string) (lost int) {
	w := newWreck(bytes.NewReader(f.image), int64(len(f.image)))
	w.collect(f.mem)
	for night, records := range f.records {
		for seq, value := range records {
			switch v := w.records[night][seq]; {
			case v == nil:
				lost++
			case !bytes.Equal(v, value):
				f.t.Errorf("%s: salvage changed record %d of night %d", where, seq, night)
			}
		}
		// A lost number below the known end is a gap that the new store names; one
		// beyond it would be lost in silence.
		if len(w.records[night]) > flipRecords || w.known[night] < flipRecords || w.known[night] > flipRecords+batchRecords {
			f.t.Errorf("%s: night %d: %d records, known length %d", where, night, len(w.records[night]), w.known[night])
		}
	}
	if len(w.records) != 2 {
		f.t.Errorf("%s: salvage found %d nights", where, len(w.records))
	}
	return lost
}

// onDisk takes the present image through the public functions.
func (f *flipped) onDisk(where string, opens bool, lost int) {
	if err := os.WriteFile(f.path, f.image, 0o644); err != nil {
		f.t.Fatal(err)
	}
	s, err := Open(f.path, Options{ReadOnly: true})
	if opens {
		if err != nil {
			f.t.Errorf("%s: %v", where, err)
			return
		}
		if !sameAs(f.t, s, flipRecords, flipDocuments) {
			f.t.Errorf("%s: opened, but holds something else", where)
		}
		s.Close()
		return
	}
	if !errors.Is(err, ErrDamaged) {
		f.t.Errorf("%s: %v is not called damage", where, err)
		return
	}
	dst := f.path + ".saved"
	r, err := Salvage(f.path, dst)
	if err != nil {
		f.t.Errorf("%s: %v", where, err)
		return
	}
	missing := uint64(0)
	for _, n := range r.Nights {
		missing += rangesLen(n.Missing)
	}
	if want := uint64(2*flipRecords - lost); r.Records() != want || missing < uint64(lost) {
		f.t.Errorf("%s: %d records saved and %d named as missing, want %d and %d", where, r.Records(), missing, want, lost)
	}
	for _, name := range []string{dst, sidePath(dst)} {
		if err := os.Remove(name); err != nil {
			f.t.Error(err)
		}
	}
}
