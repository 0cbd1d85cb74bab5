package store

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
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
// commit that can be read (a meta page with one wrong bit is mended for that
// purpose), then from the commit before, then from loose pages, there only up
// to the number that the journal is known to have had; beyond it only when
// the newest commit cannot be read.
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
	if err := (&Store{path: src}).salvageable(); err != nil {
		return fail(err)
	}
	f, err := os.Open(src)
	if err != nil {
		return fail(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return fail(err)
	}
	w := newWreck(f, info.Size())
	if err := guard(func() error { w.collect(); return nil }); err != nil {
		return fail(err)
	}
	if mem, err := readSide(src); err == nil && mem != nil && (w.doc.FileID == "" || mem.FileID == w.doc.FileID) {
		w.remember(mem)
	}
	if w.empty() {
		return fail(fmt.Errorf("%w: nothing in it matches its checksum; restore a backup", ErrDamaged))
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

// salvageable refuses what is no store and what another program is writing to.
func (s *Store) salvageable() error {
	s.opt = Options{ReadOnly: true}
	if err := s.prepare(); err != nil {
		return err
	}
	return notHeld(s.path, 0)
}

// wreck gathers what is good in a damaged store.
type wreck struct {
	file *os.File
	size int64

	doc      storeDoc
	nights   map[uint32]nightDoc
	records  map[uint32]map[uint64][]byte
	known    map[uint32]uint64 // the length that each journal is known to have had
	register map[string][]byte // key -> payload
	history  map[string][]byte
	changes  uint64

	lostCommit    bool // the newest commit cannot be read
	lostDocuments bool // part of the register cannot be read
	pageSize      uint32
	problems      []Problem
	dropped       int
	notices       []string
}

func newWreck(f *os.File, size int64) *wreck {
	return &wreck{
		file: f, size: size, pageSize: uint32(os.Getpagesize()),
		nights: map[uint32]nightDoc{}, records: map[uint32]map[uint64][]byte{}, known: map[uint32]uint64{},
		register: map[string][]byte{}, history: map[string][]byte{},
	}
}

// collect reads everything: trees first, newest first, then loose pages.
func (w *wreck) collect() {
	metas := readMetas(w.file, w.size)
	var trees []meta
	for i, p := range metas.page {
		m, ok := p.meta, p.err == nil
		if !ok {
			w.problems = append(w.problems, Problem{What: fmt.Sprintf("meta page %d is spoilt: %v", i, p.err)})
			if m, ok = mendMeta(p.raw); ok {
				w.notices = append(w.notices, fmt.Sprintf("meta page %d had one wrong bit; it was read with that bit put right", i))
			}
		}
		if ok {
			trees = append(trees, m)
		}
	}
	slices.SortFunc(trees, func(a, b meta) int {
		if a.txid > b.txid {
			return -1
		}
		return 1
	})
	w.lostCommit, w.lostDocuments = len(trees) < 2, len(trees) == 0
	for i, m := range trees {
		w.pageSize = m.pageSize
		w.tree(m, i == 0)
	}
	before := w.count()
	w.loose()
	if n := w.count() - before; n > 0 {
		w.notices = append(w.notices, fmt.Sprintf("%d records were found on loose pages", n))
	}
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
// wrong, how long the journals are and what the register holds.
func (w *wreck) tree(m meta, newest bool) {
	s := &survey{buckets: map[string]bool{}, nights: map[uint32]*nightSurvey{}}
	s.walk(w.file, w.size, m, func(s *survey) {
		s.found = w.record
		s.sealed = func(bucket string, key, payload []byte) {
			if bucket == bucketRegister && !newest {
				return // what was deleted since must not come back
			}
			w.sealed(bucket, key, payload)
		}
	})
	if !newest {
		return
	}
	w.problems = append(w.problems, s.problems...)
	w.dropped += s.dropped
	w.lostDocuments = s.spoilt[bucketRegister] || !s.buckets[bucketRegister]
	w.changes = s.changes
	for number, last := range s.lasts() {
		w.known[number] = last
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
// documents that no tree led to.
func (w *wreck) loose() {
	found := map[uint32]map[uint64][]byte{}
	var visit func(e leafElem)
	visit = func(e leafElem) {
		if e.bucket {
			if len(e.value) > bucketHead+pageHead {
				_ = leaves(e.value[bucketHead:], visit)
			}
			return
		}
		if night, r, err := decodeRecord(e.key, e.value); err == nil {
			if found[night] == nil {
				found[night] = map[uint64][]byte{}
			}
			if found[night][r.Seq] == nil {
				found[night][r.Seq] = bytes.Clone(e.value)
			}
			return
		}
		for _, bucket := range []string{bucketMeta, bucketNights, bucketHistory} {
			if bucket == bucketNights && len(e.key) != 4 {
				continue
			}
			if payload, err := unseal(bucket, e.key, e.value); err == nil {
				w.sealed(bucket, e.key, payload)
			}
		}
	}
	pages := newPageReader(w.file, w.size, w.pageSize)
	for id := range uint64(w.size / int64(w.pageSize)) {
		b, err := pages.page(id)
		if err != nil {
			b, err = pages.bytes(int64(id)*pages.pageSize, pages.pageSize) // its overflow may be nonsense
		}
		if err == nil && header(b).flags&flagLeaf != 0 {
			_ = leaves(b, visit)
		}
	}
	noTree := len(w.known) == 0
	for _, night := range slices.Sorted(maps.Keys(found)) {
		known, sure := w.known[night]
		for _, seq := range slices.Sorted(maps.Keys(found[night])) {
			if seq <= known || noTree && w.lostCommit {
				w.record(night, seq, found[night][seq])
			}
		}
		if !w.lostCommit || noTree {
			continue
		}
		// The newest commit is out of reach, so how long the journal was is not
		// known: go on as far as the numbers follow each other.
		if !sure {
			known = 0
		}
		for seq := known + 1; found[night][seq] != nil; seq++ {
			w.record(night, seq, found[night][seq])
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
		w.notices = append(w.notices, fmt.Sprintf("%d documents were taken from the history; deleted ones may be among them", n))
	}
}

// remember raises the known lengths to what the side file says.
func (w *wreck) remember(mem *side) {
	for _, n := range mem.Nights {
		w.known[n.Number] = max(w.known[n.Number], n.Last)
	}
	w.changes = max(w.changes, mem.Changes)
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
		w.notices = append(w.notices, fmt.Sprintf("the description of night %d is lost; it is called %q now", n, doc.ID))
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
