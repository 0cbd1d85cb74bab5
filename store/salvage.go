package store

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Salvage copies all that is good in the store src into a new store dst, which
// must not exist, and reports what dst holds. src is only read.
//
// Records keep their numbers. Numbers that could not be saved are listed for
// each night in the report and in the new store ([NightInfo].Missing), and are
// not given out again. The report's Problems are those of src. The new store has
// an id of its own.
//
// Good is what matches its CRC. Records are taken from the tree of the newest
// commit that can be read, then from the commit before, then from loose pages,
// there only up to the end of the journal, if the end is certain. What lacks
// still, and has one wrong bit that its CRC can point at, is put right;
// each such case is a notice.
func Salvage(src, dst string) (Report, error) {
	fail := func(err error) (Report, error) {
		return Report{}, fmt.Errorf("salvage %s to %s: %w", src, dst, err)
	}
	if _, err := os.Lstat(dst); !errors.Is(err, fs.ErrNotExist) {
		if err == nil {
			err = fmt.Errorf("%w: name a new file", ErrExists)
		}
		return fail(err)
	}
	info, err := os.Stat(src)
	if err != nil {
		return fail(err)
	}
	if !info.Mode().IsRegular() {
		return fail(fmt.Errorf("%w: it is no plain file", ErrNotStore))
	}
	if err := notHeld(src, 0); err != nil {
		return fail(err)
	}
	f, err := os.Open(src)
	if err != nil {
		return fail(err)
	}
	defer f.Close()
	if info, err = f.Stat(); err != nil {
		return fail(err)
	}
	mem, _ := readSide(src) // a spoilt one helps no more than none
	w := newWreck(f, info.Size())
	if err := guard(func() error { w.collect(mem); return nil }); err != nil {
		return fail(err)
	}
	if w.empty() {
		return fail(fmt.Errorf("%w: nothing in it is a record or a document of ours; restore a backup", ErrNotStore))
	}
	doc := storeDoc{Format: Format, FileID: newFileID(), Created: time.Now().UnixNano(), CreatedBy: w.doc.CreatedBy, SalvagedFrom: w.doc.FileID}
	temp, err := build(dst, doc, w.fill)
	if err != nil {
		return fail(err)
	}
	if err := placeNew(temp, dst); err != nil {
		os.Remove(temp)
		return fail(err)
	}
	r, err := Check(dst)
	if err == nil && !r.Good() {
		err = &DamageError{dst, r.Problems}
	}
	if err != nil {
		return fail(fmt.Errorf("the new store does not pass its check: %w", err))
	}
	lasts := map[uint32]uint64{}
	for _, n := range r.Nights {
		lasts[n.Number] = n.Last
	}
	if err := newSide(doc.FileID, lasts, w.changes, time.Now().UnixNano()).write(dst); err != nil {
		return fail(err)
	}
	r.Problems, r.Dropped, r.Notices = w.problems, w.dropped, w.notices
	return r, nil
}

// wreck gathers what is good in a damaged store.
type wreck struct {
	file io.ReaderAt
	size int64

	doc      storeDoc
	nights   map[uint32]nightDoc
	records  map[uint32]map[uint64][]byte
	known    map[uint32]uint64 // the length that each journal had, as far as it can be told
	bounded  map[uint32]bool   // it is certain
	register map[string][]byte // key -> payload
	history  map[string][]byte
	changes  uint64
	suspects []suspect

	lostCommit    bool // the newest commit cannot be read
	lostDocuments bool // part of the register cannot be read
	pageSize      uint32
	problems      []Problem
	dropped       int
	notices       []string
}

// suspect is a pair that does not match its CRC.
type suspect struct {
	bucket     string
	key, value []byte
}

func newWreck(f io.ReaderAt, size int64) *wreck {
	return &wreck{
		file: f, size: size, pageSize: pageSize,
		nights: map[uint32]nightDoc{}, records: map[uint32]map[uint64][]byte{},
		known: map[uint32]uint64{}, bounded: map[uint32]bool{},
		register: map[string][]byte{}, history: map[string][]byte{},
	}
}

func (w *wreck) notice(format string, args ...any) {
	if len(w.notices) < maxProblems {
		w.notices = append(w.notices, fmt.Sprintf(format, args...))
	}
}

// collect reads everything: trees first, newest first, then loose pages. mem is
// the side file, nil when there is none.
func (w *wreck) collect(mem *side) {
	metas := readMetas(w.file, w.size)
	var trees []meta
	for i, p := range metas.page {
		m, ok := p.meta, p.err == nil
		if !ok {
			w.problems = append(w.problems, Problem{What: fmt.Sprintf("meta page %d is spoilt: %v", i, p.err)})
			if m, ok = mendMeta(p.raw); ok {
				w.notice("meta page %d had one wrong bit; it was read with that bit put right", i)
			}
		}
		if ok {
			trees = append(trees, m)
		}
	}
	slices.SortFunc(trees, func(a, b meta) int { return cmp.Compare(b.txid, a.txid) })
	w.lostCommit, w.lostDocuments = len(trees) < 2, len(trees) == 0
	var surveys []*survey
	for i, m := range trees {
		w.pageSize = m.pageSize
		surveys = append(surveys, w.tree(m, i == 0))
	}
	loose := w.loose()
	w.lengths(surveys, loose, mem)
	w.takeLoose(loose)
	w.mendSuspects()
	w.mendRegister()
}

func (w *wreck) count() (n int) {
	for _, night := range w.records {
		n += len(night)
	}
	return n
}

func (w *wreck) empty() bool {
	return w.count() == 0 && len(w.nights) == 0 && len(w.register) == 0 && len(w.history) == 0 && w.doc.FileID == ""
}

// tree takes what the tree under m holds. The newest one also says what is
// wrong and what the register holds.
func (w *wreck) tree(m meta, newest bool) *survey {
	s := &survey{buckets: map[string]bool{}, nights: map[uint32]*nightSurvey{}}
	s.walk(w.file, w.size, m, func(s *survey) {
		s.found = w.record
		s.sealed = func(bucket string, key, payload []byte) {
			if bucket == bucketRegister && !newest {
				return // what was deleted since must not come back
			}
			w.sealed(bucket, key, payload)
		}
		s.suspect = func(bucket string, key, value []byte) {
			if newest && len(value) <= mendable && len(w.suspects) < maxSuspects {
				w.suspects = append(w.suspects, suspect{bucket, bytes.Clone(key), bytes.Clone(value)})
			}
		}
	})
	if newest {
		w.problems = append(w.problems, s.problems...)
		w.dropped += s.dropped
		w.lostDocuments = s.spoilt[bucketRegister] || !s.buckets[bucketRegister]
		w.changes = s.changes
	}
	return s
}

// lengths finds out how long each journal was. It is certain where the newest
// tree can be read and the last record in it has the number that the bucket
// names. Otherwise it is the highest number that a record, the side file or,
// within reason, the bucket speaks of: one wrong bit there could speak of
// billions.
func (w *wreck) lengths(surveys []*survey, loose map[uint32]map[uint64][]byte, mem *side) {
	for i, s := range surveys {
		for _, n := range s.sortedNights() {
			if i == 0 && !w.lostCommit && n.haveBucket && n.last == n.sequence && (n.last > 0 || !s.spoilt[bucketJournals]) {
				w.bounded[n.number] = true
			}
			w.known[n.number] = max(w.known[n.number], n.last)
		}
	}
	if mem != nil && (w.doc.FileID == "" || mem.FileID == w.doc.FileID) {
		for _, n := range mem.Nights {
			if !w.bounded[n.Number] {
				w.known[n.Number] = max(w.known[n.Number], n.Last)
			}
		}
		w.changes = max(w.changes, mem.Changes)
	}
	for night, records := range loose {
		for seq := range records {
			if !w.bounded[night] {
				w.known[night] = max(w.known[night], seq)
			}
		}
	}
	for _, s := range surveys {
		for _, n := range s.sortedNights() {
			if _, told := w.nights[n.number]; !told && w.known[n.number] == 0 {
				delete(w.known, n.number) // a page of something else, read as a night
				continue
			}
			if !w.bounded[n.number] && n.sequence <= w.known[n.number]+batchRecords {
				w.known[n.number] = max(w.known[n.number], n.sequence)
			}
		}
	}
}

// takeLoose adds records from loose pages, up to the end of their journals: a
// commit that failed may have left others behind.
func (w *wreck) takeLoose(loose map[uint32]map[uint64][]byte) {
	before := w.count()
	for night, records := range loose {
		for seq, value := range records {
			if seq <= w.known[night] {
				w.record(night, seq, value)
			}
		}
	}
	if n := w.count() - before; n > 0 {
		w.notice("%d records were found on loose pages", n)
	}
}

func (w *wreck) record(night uint32, seq uint64, value []byte) {
	m := w.records[night]
	if m == nil {
		m = map[uint64][]byte{}
		w.records[night] = m
	}
	if m[seq] == nil {
		m[seq] = bytes.Clone(value)
	}
}

func (w *wreck) sealed(bucket string, key, payload []byte) {
	switch bucket {
	case bucketMeta:
		if string(key) == keyStore && w.doc.FileID == "" {
			_ = json.Unmarshal(payload, &w.doc)
		}
	case bucketNights:
		var d nightDoc
		n := binary.BigEndian.Uint32(key)
		if _, have := w.nights[n]; !have && json.Unmarshal(payload, &d) == nil {
			w.nights[n] = d
		}
	case bucketRegister:
		keep(w.register, key, payload)
	case bucketHistory:
		keep(w.history, key, payload)
	}
}

func keep(m map[string][]byte, key, payload []byte) {
	if _, have := m[string(key)]; !have {
		m[string(key)] = bytes.Clone(payload)
	}
}

// loose looks at each page of the file, whatever it belongs to, for records and
// documents. It takes the documents and returns the records.
func (w *wreck) loose() map[uint32]map[uint64][]byte {
	found := map[uint32]map[uint64][]byte{}
	odd := false // the page at hand has something on it that is nothing of ours
	var visit func(e leafElem)
	visit = func(e leafElem) {
		if e.bucket && len(e.key) != 8 {
			if len(e.value) > bucketHead+pageHead {
				odd = leaves(e.value[bucketHead:], visit) != nil || odd
			}
			return
		}
		if recorded(e.key, e.value) {
			night, r, err := decodeRecord(e.key, e.value)
			if err != nil || w.records[night][r.Seq] != nil {
				return
			}
			if found[night] == nil {
				found[night] = map[uint64][]byte{}
			}
			if found[night][r.Seq] == nil {
				found[night][r.Seq] = bytes.Clone(e.value)
			}
			return
		}
		for _, bucket := range []string{bucketMeta, bucketNights, bucketHistory, bucketRegister} {
			if bucket == bucketNights && len(e.key) != 4 {
				continue
			}
			if !sealed(bucket, e.key, e.value) {
				continue
			}
			if payload, err := unseal(bucket, e.key, e.value); err == nil && bucket != bucketRegister { // a deleted document must not come back
				w.sealed(bucket, e.key, payload)
			}
			return
		}
		odd = true
	}
	pages := newPageReader(w.file, w.size, w.pageSize)
	for id := uint64(2); id < uint64(w.size/int64(w.pageSize)); id++ {
		b, err := pages.page(id)
		if err != nil {
			b, err = pages.bytes(int64(id)*pages.pageSize, pages.pageSize) // its overflow may be nonsense
		}
		if err != nil || header(b).flags&(flagBranch|flagMeta|flagFreelist) != 0 && header(b).flags&flagLeaf == 0 {
			continue
		}
		odd = false
		if leaves(b, visit) != nil || odd {
			mislaid(b, visit)
		}
	}
	return found
}

const (
	mendable    = 4 << 10 // bytes of the largest value whose bits are tried
	maxSuspects = 10_000
)

// mendSuspects puts right what has a single wrong bit. A CRC-32C points at it:
// among the b bits of a value with other damage, one that would satisfy the CRC is
// found by chance with probability b/2^32, for a usual record 2 in 10 million.
func (w *wreck) mendSuspects() {
	for _, s := range w.suspects {
		mendBit(s.key, s.value, func() bool {
			if s.bucket == bucketJournals {
				if !recorded(s.key, s.value) {
					return false
				}
				night, r, err := decodeRecord(s.key, s.value)
				if err != nil {
					return false
				}
				if w.records[night][r.Seq] == nil {
					w.record(night, r.Seq, s.value)
					w.known[night] = max(w.known[night], r.Seq)
					w.notice("record %d of night %d had one wrong bit; it was put right", r.Seq, night)
				}
				return true
			}
			if !sealed(s.bucket, s.key, s.value) {
				return false
			}
			payload, err := unseal(s.bucket, s.key, s.value)
			if err != nil {
				return false
			}
			w.sealed(s.bucket, s.key, payload)
			w.notice("%s: key %q had one wrong bit; it was put right", s.bucket, s.key)
			return true
		})
	}
}

// mendBit tries each bit of key and value until good says that all is well.
func mendBit(key, value []byte, good func() bool) {
	for _, b := range [][]byte{value, key} {
		for i := range len(b) * 8 {
			b[i/8] ^= 1 << (i % 8)
			if good() {
				return
			}
			b[i/8] ^= 1 << (i % 8)
		}
	}
}

// mendRegister brings back documents from the history when part of the register
// cannot be read. Whether one of them had been deleted cannot be told.
func (w *wreck) mendRegister() {
	if !w.lostDocuments {
		return
	}
	newest := map[string][]byte{}
	for _, key := range slices.Sorted(maps.Keys(w.history)) { // ascending revisions
		if len(key) > 9 {
			newest[key[:len(key)-9]] = w.history[key]
		}
	}
	n := 0
	for _, key := range slices.Sorted(maps.Keys(newest)) {
		if w.register[key] == nil {
			w.register[key] = newest[key]
			n++
		}
	}
	if n > 0 {
		w.notice("%d documents were taken from the history; deleted ones may be among them", n)
	}
}

// fill writes everything into the new store.
func (w *wreck) fill(tx *bolt.Tx) error {
	numbers := map[uint32]bool{}
	for n := range w.nights {
		numbers[n] = true
	}
	for n := range w.records {
		numbers[n] = true
	}
	for n := range w.known {
		numbers[n] = true
	}
	ids := map[string]bool{}
	for _, d := range w.nights {
		ids[d.ID] = true
	}
	for _, n := range slices.Sorted(maps.Keys(numbers)) {
		if err := w.fillNight(tx, n, ids); err != nil {
			return err
		}
	}
	register, history := tx.Bucket([]byte(bucketRegister)), tx.Bucket([]byte(bucketHistory))
	if err := fillSealed(register, bucketRegister, w.register); err != nil {
		return err
	}
	if err := fillSealed(history, bucketHistory, w.history); err != nil {
		return err
	}
	return register.SetSequence(w.changes)
}

func (w *wreck) fillNight(tx *bolt.Tx, n uint32, ids map[string]bool) error {
	doc, have := w.nights[n]
	if !have {
		doc.ID = fmt.Sprintf("night-%d", n)
		for ids[doc.ID] {
			doc.ID += "-salvaged"
		}
		ids[doc.ID] = true
		w.notice("the description of night %d is lost; it is called %q now", n, doc.ID)
	}
	seqs := slices.Sorted(maps.Keys(w.records[n]))
	last := w.known[n]
	if len(seqs) > 0 {
		last = max(last, seqs[len(seqs)-1])
	}
	doc.Missing = nil
	next := uint64(1)
	for _, seq := range append(seqs, last+1) {
		if seq > next {
			doc.Missing = append(doc.Missing, Range{next, seq - 1})
		}
		next = seq + 1
	}
	v, err := sealJSON(bucketNights, nightKey(n), doc)
	if err != nil {
		return err
	}
	if err := tx.Bucket([]byte(bucketNights)).Put(nightKey(n), v); err != nil {
		return err
	}
	b, err := tx.Bucket([]byte(bucketJournals)).CreateBucket(nightKey(n))
	if err != nil {
		return err
	}
	b.FillPercent = 1
	for _, seq := range seqs {
		k := seqKey(seq)
		if err := b.Put(k[:], w.records[n][seq]); err != nil {
			return err
		}
	}
	return b.SetSequence(last)
}

func fillSealed(b *bolt.Bucket, bucket string, pairs map[string][]byte) error {
	for _, key := range slices.Sorted(maps.Keys(pairs)) {
		if err := b.Put([]byte(key), seal(bucket, []byte(key), pairs[key])); err != nil {
			return err
		}
	}
	return nil
}
