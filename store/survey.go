package store

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"
)

// survey is one pass over every page of a store file. It believes nothing: each
// page must be the page it should be, laid out as the library lays it out,
// used once and once only, and be either in the tree or on the list of free
// pages; keys must ascend; each record and document must match its CRC; each
// journal must run 1, 2, 3 ... to the length its bucket names.
//
// It goes on after a problem, so that the same pass serves the check and the
// salvage.
type survey struct {
	pages    *pageReader
	meta     meta
	reached  []uint64 // bit set of pages
	problems []Problem
	dropped  int
	within   string          // the bucket being walked
	spoilt   map[string]bool // buckets with problems

	doc       storeDoc
	haveDoc   bool
	buckets   map[string]bool
	nights    map[uint32]*nightSurvey
	documents int
	revisions int
	changes   uint64 // the register's sequence

	// For the salvage, nil otherwise: found gets every good record of the tree,
	// sealed every good sealed value, suspect every pair that does not match its
	// CRC (bucketJournals for a record). The slices last only during the call.
	found   func(night uint32, seq uint64, value []byte)
	sealed  func(bucket string, key, payload []byte)
	suspect func(bucket string, key, value []byte)
}

type nightSurvey struct {
	number     uint32
	doc        nightDoc
	haveDoc    bool
	haveBucket bool
	page       uint64 // root page of its journal, 0 inline
	records    uint64
	last       uint64 // last record found
	sequence   uint64 // last record by the bucket's own word
	gaps       []Range
}

// surveyFile reads the meta pages of f and walks the newest tree. Problems are
// in the result; the error says that there is no tree to walk.
func surveyFile(f io.ReaderAt, size int64, prepare func(*survey)) (*survey, error) {
	metas := readMetas(f, size)
	s := &survey{buckets: map[string]bool{}, nights: map[uint32]*nightSurvey{}}
	for i, m := range metas.page {
		if m.err != nil {
			s.problem(Problem{What: fmt.Sprintf("meta page %d is spoilt: %v; what the newest commit wrote may be out of reach", i, m.err)})
		}
	}
	best, ok := metas.newest()
	if !ok {
		return s, fmt.Errorf("both meta pages are spoilt (%v; %v)", metas.page[0].err, metas.page[1].err)
	}
	if a, b := metas.page[0], metas.page[1]; a.err == nil && b.err == nil {
		if !metas.follow() {
			s.problem(Problem{What: fmt.Sprintf("the meta pages hold commits %d and %d, which do not follow each other: a write got lost", a.meta.txid, b.meta.txid)})
		}
		if a.meta.pageSize != b.meta.pageSize {
			s.problem(Problem{What: fmt.Sprintf("the meta pages disagree on the page size: %d and %d", a.meta.pageSize, b.meta.pageSize)})
		}
	}
	s.walk(f, size, best, prepare)
	return s, nil
}

// metaPages are the two meta pages of a file as far as they could be read.
type metaPages struct {
	page [2]struct {
		meta meta
		raw  []byte
		err  error
	}
}

// readMetas reads page 0, and page 1 at the place that page 0's page size says
// or, failing that, at the first place where a sound one lies.
func readMetas(f io.ReaderAt, size int64) (m metaPages) {
	read := func(off int64) ([]byte, error) {
		b := make([]byte, pageHead+metaSize)
		if off+int64(len(b)) > size {
			return nil, fmt.Errorf("the file ends before it, at %d bytes", size)
		}
		_, err := f.ReadAt(b, off)
		return b[pageHead:], err
	}
	load := func(i int, off int64) {
		p := &m.page[i]
		if p.raw, p.err = read(off); p.err == nil {
			p.meta, p.err = parseMeta(p.raw)
		}
	}
	load(0, 0)
	if m.page[0].err == nil {
		load(1, int64(m.page[0].meta.pageSize))
		return m
	}
	for ps := int64(1024); ps <= 1<<24; ps *= 2 {
		if load(1, ps); m.page[1].err == nil && int64(m.page[1].meta.pageSize) == ps {
			return m
		}
	}
	load(1, 4096)
	return m
}

// follow reports whether the two metas are those of successive commits. The
// library writes commit n to page n mod 2, except in a copy made by
// Tx.WriteTo, which has the newest on page 0 and its double, numbered one less,
// on page 1; the first commit to such a copy may then leave a distance of two.
func (m metaPages) follow() bool {
	newer, older, page := m.page[0].meta.txid, m.page[1].meta.txid, uint64(1)
	if older > newer {
		newer, older, page = older, newer, 0
	}
	return newer == older+1 || newer == older+2 && older%2 != page
}

// newest returns the sound meta with the higher transaction.
func (m metaPages) newest() (best meta, ok bool) {
	for _, p := range m.page {
		if p.err == nil && (!ok || p.meta.txid > best.txid) {
			best, ok = p.meta, true
		}
	}
	return best, ok
}

// walk surveys the tree under m.
func (s *survey) walk(f io.ReaderAt, size int64, m meta, prepare func(*survey)) {
	if prepare != nil {
		prepare(s)
	}
	s.meta = m
	s.pages = newPageReader(f, size, m.pageSize)
	if limit := uint64(size / int64(m.pageSize)); m.pages > limit {
		s.problem(Problem{What: fmt.Sprintf("the file holds %d pages, its newest commit speaks of %d: it was cut off", limit, m.pages)})
		s.meta.pages = limit
	}
	s.reached = make([]uint64, s.meta.pages/64+1)
	s.reach(0, 0)
	s.reach(1, 0)
	s.tree(m.root, 0, s.root)
	s.freelist()
	s.account()
	s.judge()
}

func (s *survey) problem(p Problem) {
	if s.within != "" {
		if s.spoilt == nil {
			s.spoilt = map[string]bool{}
		}
		s.spoilt[s.within] = true
	}
	if len(s.problems) == maxProblems {
		s.dropped++
		return
	}
	s.problems = append(s.problems, p)
}

// reach marks page id and its overflow; it reports false when that cannot be.
func (s *survey) reach(id uint64, overflow uint32) bool {
	for i := id; i <= id+uint64(overflow); i++ {
		if i >= s.meta.pages {
			s.problem(Problem{Page: i, What: fmt.Sprintf("is in use, but the file has %d pages only", s.meta.pages)})
			return false
		}
		if s.reached[i/64]&(1<<(i%64)) != 0 {
			s.problem(Problem{Page: i, What: "is used twice"})
			return false
		}
		s.reached[i/64] |= 1 << (i % 64)
	}
	return true
}

// load returns tree page id after the checks that all pages share.
func (s *survey) load(id uint64) []byte {
	b, err := s.pages.page(id)
	if err != nil {
		s.problem(Problem{Page: id, What: err.Error()})
		return nil
	}
	h := header(b)
	if h.id != id {
		s.problem(Problem{Page: id, What: fmt.Sprintf("calls itself page %d", h.id)})
	}
	if !s.reach(id, h.overflow) {
		return nil
	}
	return b
}

// maxDepth bounds the tree: with at least two children a branch, 64 levels hold
// more pages than any file.
const maxDepth = 64

// tree walks the tree of one bucket from page id; visit gets its pairs in order
// with the page they stand on. Keys must ascend over the whole tree.
func (s *survey) tree(id uint64, depth int, visit func(page uint64, e leafElem)) {
	var last []byte
	s.subtree(id, depth, nil, &last, visit)
}

// subtree walks from page id, whose keys must be low or higher, and higher than
// *last, which it moves on.
func (s *survey) subtree(id uint64, depth int, low []byte, last *[]byte, visit func(uint64, leafElem)) {
	if depth > maxDepth {
		s.problem(Problem{Page: id, What: "the tree is too deep"})
		return
	}
	b := s.load(id)
	if b == nil {
		return
	}
	var wrong error
	switch flags := header(b).flags; flags {
	case flagLeaf:
		wrong = s.leaf(id, b, low, last, visit)
	case flagBranch:
		var children []branchElem
		children, wrong = branches(b)
		s.fits(id, b, wrong)
		for _, c := range children {
			if bytes.Compare(c.key, low) < 0 || bytes.Compare(c.key, *last) <= 0 {
				s.problem(Problem{Page: id, What: errOrder.Error()})
			}
			low = nil
			s.subtree(c.child, depth+1, c.key, last, visit)
		}
	default:
		wrong = fmt.Errorf("is neither a leaf nor a branch (flags %#x)", flags)
		if s.found != nil { // salvage: take what proves itself
			b = bytes.Clone(b)
			_ = leaves(b, func(e leafElem) { visit(id, e) })
		}
	}
	if wrong != nil {
		s.problem(Problem{Page: id, What: wrong.Error()})
	}
}

var errOrder = errors.New("its keys do not ascend")

// fits checks that page b has as many overflow pages as its content needs.
func (s *survey) fits(id uint64, b []byte, wrong error) {
	if wrong != nil {
		return // the content cannot be measured
	}
	h := header(b)
	need := max(0, (used(b, h.flags == flagBranch)-1)/int(s.meta.pageSize))
	if need != int(h.overflow) {
		s.problem(Problem{Page: id, What: fmt.Sprintf("says %d overflow pages, its content needs %d", h.overflow, need)})
	}
}

func (s *survey) leaf(id uint64, b, low []byte, last *[]byte, visit func(uint64, leafElem)) error {
	if holdsBuckets(b) {
		b = bytes.Clone(b) // a visit walks on, and the page may leave its window meanwhile
	}
	wrong := ordered(b, low, last, func(e leafElem) { visit(id, e) })
	s.fits(id, b, wrong)
	return wrong
}

// ordered is leaves with a check that keys ascend from low and *last.
func ordered(b, low []byte, last *[]byte, visit func(leafElem)) error {
	ascending := true
	wrong := leaves(b, func(e leafElem) {
		if bytes.Compare(e.key, low) < 0 || bytes.Compare(e.key, *last) <= 0 {
			ascending = false
		}
		*last = append((*last)[:0], e.key...)
		visit(e)
	})
	if wrong == nil && !ascending {
		return errOrder
	}
	return wrong
}

func holdsBuckets(b []byte) bool {
	for at := pageHead; at+elemSize <= len(b) && at < pageHead+header(b).count*elemSize; at += elemSize {
		if machine.Uint32(b[at:])&elemBucket != 0 {
			return true
		}
	}
	return false
}

// bucket walks the bucket whose header is value, standing on page.
func (s *survey) bucket(page uint64, value []byte, depth int, visit func(uint64, leafElem)) (root, sequence uint64) {
	if len(value) < bucketHead {
		s.problem(Problem{Page: page, What: "holds a bucket whose header is cut short"})
		return 0, 0
	}
	root, sequence = machine.Uint64(value), machine.Uint64(value[8:])
	if root != 0 {
		if len(value) != bucketHead {
			s.problem(Problem{Page: page, What: "holds a bucket that is both inline and not"})
		}
		s.tree(root, depth, visit)
		return root, sequence
	}
	inline := value[bucketHead:]
	if len(inline) < pageHead {
		s.problem(Problem{Page: page, What: "holds an inline bucket that is cut short"})
		return 0, sequence
	}
	if h := header(inline); h.flags != flagLeaf || h.id != 0 || h.overflow != 0 {
		s.problem(Problem{Page: page, What: "holds an inline bucket with a spoilt header"})
	}
	var last []byte
	wrong := ordered(inline, nil, &last, func(e leafElem) { visit(page, e) })
	if wrong == nil && used(inline, false) != len(inline) {
		wrong = fmt.Errorf("its size does not match its content")
	}
	if wrong != nil {
		s.problem(Problem{Page: page, What: "inline bucket: " + wrong.Error()})
	}
	return 0, sequence
}

// root visits the top level: the five buckets.
func (s *survey) root(page uint64, e leafElem) {
	name := string(e.key)
	if !e.bucket {
		s.problem(Problem{Page: page, What: fmt.Sprintf("has the plain value %q where only buckets belong", name)})
		return
	}
	value := bytes.Clone(e.value) // the page may leave its window during the walk
	s.buckets[name] = true
	s.within = name
	defer func() { s.within = "" }()
	var sequence uint64
	switch name {
	case bucketMeta:
		s.bucket(page, value, 1, s.sealedIn(name, func(key, payload []byte) error {
			if string(key) != keyStore {
				return fmt.Errorf("unknown key %q", key)
			}
			s.haveDoc = true
			return json.Unmarshal(payload, &s.doc)
		}))
	case bucketNights:
		s.bucket(page, value, 1, s.sealedIn(name, func(key, payload []byte) error {
			if len(key) != 4 {
				return fmt.Errorf("night key of %d bytes", len(key))
			}
			n := s.night(binary.BigEndian.Uint32(key))
			n.haveDoc = true
			return json.Unmarshal(payload, &n.doc)
		}))
	case bucketJournals:
		s.bucket(page, value, 1, s.journal)
	case bucketRegister:
		_, sequence = s.bucket(page, value, 1, s.sealedIn(name, func(key, payload []byte) error {
			s.documents++
			_, err := decodeDoc(payload)
			return err
		}))
		s.changes = sequence
	case bucketHistory:
		s.bucket(page, value, 1, s.sealedIn(name, func(key, payload []byte) error {
			s.revisions++
			_, err := decodeDoc(payload)
			return err
		}))
	default:
		s.problem(Problem{Page: page, What: fmt.Sprintf("has an unknown bucket %q", name)})
	}
}

func (s *survey) night(number uint32) *nightSurvey {
	n := s.nights[number]
	if n == nil {
		n = &nightSurvey{number: number}
		s.nights[number] = n
	}
	return n
}

// sealedIn visits a bucket of sealed values.
func (s *survey) sealedIn(name string, take func(key, payload []byte) error) func(uint64, leafElem) {
	return func(page uint64, e leafElem) {
		if e.bucket {
			s.problem(Problem{Page: page, What: fmt.Sprintf("has a bucket in %s, where only values belong", name)})
			return
		}
		payload, err := unseal(name, e.key, e.value)
		if err == nil {
			err = take(e.key, payload)
		}
		if err != nil {
			s.problem(Problem{Page: page, What: fmt.Sprintf("%s: key %q: %v", name, e.key, err)})
			if s.suspect != nil {
				s.suspect(name, e.key, e.value)
			}
			return
		}
		if s.sealed != nil {
			s.sealed(name, e.key, payload)
		}
	}
}

// journal visits the bucket of journals: one bucket a night.
func (s *survey) journal(page uint64, e leafElem) {
	if !e.bucket || len(e.key) != 4 {
		s.problem(Problem{Page: page, What: fmt.Sprintf("journals: key %x is not a night", e.key)})
		return
	}
	n := s.night(binary.BigEndian.Uint32(e.key))
	n.haveBucket = len(e.value) >= bucketHead
	n.page, n.sequence = s.bucket(page, bytes.Clone(e.value), 2, func(page uint64, e leafElem) {
		if e.bucket {
			s.problem(Problem{Page: page, Night: n.number, What: "has a bucket among the records"})
			return
		}
		night, r, err := decodeRecord(e.key, e.value)
		if err == nil && night != n.number {
			err = fmt.Errorf("%w: it belongs to night %d", errRecord, night)
		}
		if err != nil {
			var seq uint64
			if len(e.key) == 8 {
				seq = binary.BigEndian.Uint64(e.key)
			}
			s.problem(Problem{Page: page, Night: n.number, Seq: seq, What: err.Error()})
			if s.suspect != nil {
				s.suspect(bucketJournals, e.key, e.value)
			}
			return
		}
		if s.found != nil {
			s.found(n.number, r.Seq, e.value)
		}
		if r.Seq <= n.last { // order is judged by the tree; here only the count matters
			return
		}
		if r.Seq > n.last+1 {
			n.gaps = append(n.gaps, Range{n.last + 1, r.Seq - 1})
		}
		n.records++
		n.last = r.Seq
	})
}

// freelist reads the list of free pages and marks them: a page both free and in
// use would be overwritten by the next commit.
func (s *survey) freelist() {
	b := s.load(s.meta.freelist)
	if b == nil {
		return
	}
	if f := header(b).flags; f != flagFreelist {
		s.problem(Problem{Page: s.meta.freelist, What: fmt.Sprintf("is not the list of free pages it should be (flags %#x)", f)})
		return
	}
	ids, err := freePages(b)
	if err != nil {
		s.problem(Problem{Page: s.meta.freelist, What: "list of free pages: " + err.Error()})
	}
	for _, id := range ids {
		if !s.reach(id, 0) && s.dropped > 0 {
			return
		}
	}
}

// account looks for pages that are neither in use nor free.
func (s *survey) account() {
	for id := range s.meta.pages {
		if s.reached[id/64]&(1<<(id%64)) == 0 {
			s.problem(Problem{Page: id, What: "is neither in use nor free"})
			if s.dropped > 0 {
				return
			}
		}
	}
}

// judge compares what was found with what should be there.
func (s *survey) judge() {
	for _, name := range []string{bucketMeta, bucketNights, bucketJournals, bucketRegister, bucketHistory} {
		if !s.buckets[name] {
			s.problem(Problem{What: fmt.Sprintf("bucket %q is missing", name)})
		}
	}
	if !s.haveDoc {
		s.problem(Problem{What: "the description of the store is missing"})
	}
	for _, n := range s.sortedNights() {
		switch {
		case !n.haveDoc:
			s.problem(Problem{Night: n.number, What: "its description is missing"})
		case !n.haveBucket:
			s.problem(Problem{Night: n.number, What: "its journal is missing"})
		}
		if n.last < n.sequence {
			n.gaps = append(n.gaps, Range{n.last + 1, n.sequence})
		}
		if n.last > n.sequence && n.haveBucket {
			s.problem(Problem{Night: n.number, What: fmt.Sprintf("its journal says it ends at record %d, but record %d is there", n.sequence, n.last)})
		}
		if !slices.Equal(n.gaps, n.doc.Missing) {
			for _, g := range n.gaps {
				if !slices.Contains(n.doc.Missing, g) {
					s.problem(Problem{Night: n.number, Seq: g.From, What: fmt.Sprintf("is missing (%d records, to number %d)", g.To-g.From+1, g.To)})
				}
			}
			for _, g := range n.doc.Missing {
				if !slices.Contains(n.gaps, g) {
					s.problem(Problem{Night: n.number, What: fmt.Sprintf("records %d to %d are declared lost, but are not", g.From, g.To)})
				}
			}
		}
	}
}

func (s *survey) sortedNights() []*nightSurvey {
	ns := make([]*nightSurvey, 0, len(s.nights))
	for _, n := range s.nights {
		ns = append(ns, n)
	}
	slices.SortFunc(ns, func(a, b *nightSurvey) int { return cmp.Compare(a.number, b.number) })
	return ns
}

// report turns s into the public answer.
func (s *survey) report(path string, size int64, took time.Duration) Report {
	r := Report{
		Path: path, FileID: s.doc.FileID, Format: s.doc.Format, Bytes: size,
		Documents: s.documents, Revisions: s.revisions,
		Problems: s.problems, Dropped: s.dropped, Took: took,
	}
	for _, n := range s.sortedNights() {
		r.Nights = append(r.Nights, NightReport{
			Number: n.number, ID: n.doc.ID, Records: n.records,
			Last: max(n.last, n.sequence), Missing: n.gaps,
		})
	}
	return r
}

// lasts returns the last record number of each night.
func (s *survey) lasts() map[uint32]uint64 {
	m := make(map[uint32]uint64, len(s.nights))
	for _, n := range s.nights {
		m[n.number] = max(n.last, n.sequence)
	}
	return m
}
