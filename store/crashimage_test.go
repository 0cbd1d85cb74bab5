package store

import (
	"bytes"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	bolt "go.etcd.io/bbolt"
)

var images = flag.Int("images", 1_000, "crash images to try: go test -run Crash -images 10000 ./store")

// writeLog is what a program did to a file: writes, syncs, and the moments at
// which the store acknowledged something.
type writeLog struct {
	start []byte // the file before the first step
	steps []step
}

type step struct {
	off   int64
	data  []byte // nil for a sync or an acknowledgement
	sync  bool
	acked uint64 // the night's last acknowledged record
	docs  int    // acknowledged documents
}

// recordHeat runs a heat's worth of appends and logs every write. The library
// syncs before and after it writes a meta page and only then (bbolt v1.5.0,
// tx.go: write, writeMeta; it also syncs when the file grows, which gives the
// images no further freedom); TestTheLibrarySyncsAroundTheMetaPage watches that
// with strace where there is one.
func recordHeat(t *testing.T, path string, seed uint64) *writeLog {
	t.Helper()
	w := &writeLog{}
	logging := false
	f := &faults{noReserve: true}
	f.opened = func(db *bolt.DB, _ *os.File) {
		hookWrites(t, db, func(b []byte, off int64, write func([]byte, int64) (int, error)) (int, error) {
			n, err := write(b, off)
			if logging {
				meta := isMeta(b, off)
				if meta {
					w.steps = append(w.steps, step{sync: true})
				}
				w.steps = append(w.steps, step{off: off, data: bytes.Clone(b)})
				if meta {
					w.steps = append(w.steps, step{sync: true})
				}
			}
			return n, err
		})
	}
	s, err := Open(path, Options{faults: f})
	if err != nil {
		t.Fatal(err)
	}
	j := night(t, s, "n")
	appendSamples(t, j, 20)
	if err := s.Checkpoint(); err != nil {
		t.Fatal(err)
	}
	w.start = []byte(fileState(t, path))
	logging = true
	rng := rand.New(rand.NewPCG(seed, 2))
	docs := 0
	for range 150 {
		var batch []Record
		for i := range 1 + rng.IntN(8)*rng.IntN(2) {
			batch = append(batch, sample(j.Last()+1+uint64(i)))
		}
		if _, err := j.Append(ctx, batch...); err != nil {
			t.Fatal(err)
		}
		if rng.IntN(10) == 0 {
			docs++
			if _, err := s.Put(ctx, KindDriver, fmt.Sprintf("d%03d", docs), fmt.Appendf(nil, "%d", docs)); err != nil {
				t.Fatal(err)
			}
		}
		w.steps = append(w.steps, step{acked: j.Last(), docs: docs})
	}
	logging = false
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return w
}

// crash builds the file as a power cut after the first n steps may leave it:
// everything up to the last sync, and of the writes since then all, some whole,
// or some 512-byte sectors, in any order, as a disk is free to do (a sector
// is written whole or not at all).
func (w *writeLog) crash(n int, rng *rand.Rand) (image []byte, acked uint64, docs int, how string) {
	image = bytes.Clone(w.start)
	acked = 20
	put := func(off int64, data []byte) {
		if need := int(off) + len(data); need > len(image) {
			image = append(image, make([]byte, need-len(image))...)
		}
		copy(image[off:], data)
	}
	last := 0
	for i, s := range w.steps[:n] {
		switch {
		case s.sync:
			last = i
		case s.data == nil:
			acked, docs = s.acked, s.docs
		}
	}
	for _, s := range w.steps[:last] {
		put(s.off, s.data)
	}
	mode := rng.IntN(3)
	how = [...]string{"all written", "some written", "some sectors written"}[mode]
	pending := w.steps[last:n]
	for _, i := range rng.Perm(len(pending)) {
		s := pending[i]
		switch {
		case s.data == nil:
		case mode == 0 || mode == 1 && rng.IntN(2) == 0:
			put(s.off, s.data)
		case mode == 2:
			for at := 0; at < len(s.data); at += 512 {
				if rng.IntN(2) == 0 {
					put(s.off+int64(at), s.data[at:at+512])
				}
			}
		}
	}
	return image, acked, docs, how
}

// A power cut at any moment of a heat, with the disk having done its unsynced
// writes in any way it likes: the store opens without a word of complaint,
// holds everything that was acknowledged, and can be written to.
func TestCrashImages(t *testing.T) {
	count := *images
	if raceOn {
		count /= 10
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "heat.lw")
	const seed = 31
	w := recordHeat(t, path, seed)
	var writes, syncs int
	for _, s := range w.steps {
		if s.sync {
			syncs++
		} else if s.data != nil {
			writes++
		}
	}
	if writes < 500 || syncs < 300 {
		t.Fatalf("the log has %d writes and %d syncs only", writes, syncs)
	}
	look, err := surveyFile(bytes.NewReader(w.start), int64(len(w.start)), nil)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(seed, 3))
	torn, tails := 0, 0
	for i := range count {
		n := 1 + rng.IntN(len(w.steps))
		image, acked, docs, how := w.crash(n, rng)
		where := fmt.Sprintf("image %d: after step %d of %d, %s", i, n, len(w.steps), how)
		if i%20 != 0 {
			// Most images are judged by the scan that every opening makes.
			records, sealed, problems := contents(image)
			for _, p := range problems {
				t.Errorf("%s: %s", where, p)
			}
			have := uint64(len(records[1]))
			for seq := range have {
				k := seqKey(seq + 1)
				if _, r, err := decodeRecord(k[:], records[1][seq+1]); err != nil || string(r.Data) != string(sample(seq+1).Data) {
					t.Errorf("%s: record %d: %v", where, seq+1, err)
				}
			}
			if got := (len(sealed) - 2) / 2; have < acked || got < docs {
				t.Errorf("%s: %d of %d acknowledged records, %d of %d documents", where, have, acked, got, docs)
			} else if have > acked {
				tails++
			}
		} else {
			torn++
			p := filepath.Join(dir, "image.lw")
			if err := os.WriteFile(p, image, 0o644); err != nil {
				t.Fatal(err)
			}
			if err := newSide(look.doc.FileID, look.lasts(), look.changes, 1).write(p); err != nil {
				t.Fatal(err)
			}
			goOn(t, where, p, acked, docs)
		}
		if t.Failed() {
			break
		}
	}
	t.Logf("%d crash images out of %d writes and %d syncs, %d of them opened and written to: nothing acknowledged was lost; %d held records that had not been acknowledged yet",
		count, writes, syncs, torn, tails)
}

// goOn opens the store at p, looks for what was acknowledged, and appends.
func goOn(t *testing.T, where, p string, acked uint64, docs int) {
	t.Helper()
	s, err := Open(p, Options{faults: &faults{noReserve: true}})
	if err != nil {
		t.Errorf("%s: %v", where, err)
		return
	}
	j, err := s.Night("n")
	if err != nil {
		t.Errorf("%s: %v", where, err)
		return
	}
	if got := uint64(len(readAll(t, j))); got < acked {
		t.Errorf("%s: %d of %d acknowledged records", where, got, acked)
	}
	if list, err := s.List(KindDriver); err != nil || len(list) < docs {
		t.Errorf("%s: %d of %d documents: %v", where, len(list), docs, err)
	}
	appendSamples(t, j, 3)
	if err := s.Close(); err != nil {
		t.Errorf("%s: %v", where, err)
	}
	checkGood(t, p)
}

// The same images without their syncs must fail: else the test above could not
// find anything.
func TestCrashImagesWithoutSyncsLoseRecords(t *testing.T) {
	w := recordHeat(t, tempStore(t), 32)
	lying := &writeLog{start: w.start}
	for _, s := range w.steps {
		if !s.sync {
			lying.steps = append(lying.steps, s)
		}
	}
	rng := rand.New(rand.NewPCG(32, 3))
	bad := 0
	const count = 100
	for range count {
		image, acked, _, _ := lying.crash(1+rng.IntN(len(lying.steps)), rng)
		records, _, problems := contents(image)
		if len(problems) > 0 || uint64(len(records[1])) < acked {
			bad++
		}
	}
	t.Logf("a disk that ignores syncs: %d of %d images are damaged or lack acknowledged records", bad, count)
	if bad < count/2 {
		t.Errorf("only %d of %d images of a disk that ignores syncs were found out", bad, count)
	}
}
