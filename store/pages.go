package store

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"io"
)

// This file reads bbolt's pages without bbolt. The library trusts its pages: a
// damaged one makes it panic, or worse, read on as if nothing were wrong. Here
// every offset is checked, and so is that a page is laid out exactly as the
// library lays it out, because a flipped bit in a count or an offset hides
// records without touching any of them.
//
// Layout, in the byte order of the machine, from the library's source (bbolt v1.5.0,
// internal/common: page.go, inode.go, meta.go, bucket.go):
//
//	page    8 id  2 flags  2 count  4 overflow, then the elements, then keys and values back to back
//	leaf    4 flags  4 pos  4 key size  4 value size   (pos counts from the element's own start)
//	branch  4 pos  4 key size  8 child page
//	meta    4 magic  4 version  4 page size  4 flags  8 root page  8 root sequence  8 freelist page  8 pages in use  8 transaction  8 FNV-64a
//	bucket  8 root page (0: its page follows inline)  8 sequence
const (
	pageHead   = 16
	elemSize   = 16
	metaSize   = 64
	bucketHead = 16

	flagBranch   = 0x01
	flagLeaf     = 0x02
	flagMeta     = 0x04
	flagFreelist = 0x10

	elemBucket = 0x01

	metaMagic   = 0xED0CDAED
	metaVersion = 2
)

var machine = binary.NativeEndian

// meta is a meta page: the root of one version of the tree.
type meta struct {
	pageSize uint32
	root     uint64
	freelist uint64
	pages    uint64 // pages in use, from the file's start
	txid     uint64
}

// parseMeta reads the meta struct b, which starts behind the page head.
func parseMeta(b []byte) (meta, error) {
	if len(b) < metaSize {
		return meta{}, fmt.Errorf("cut short at %d bytes", len(b))
	}
	if m := machine.Uint32(b); m != metaMagic {
		return meta{}, fmt.Errorf("its magic number is %08x, not %08x", m, uint32(metaMagic))
	}
	h := fnv.New64a()
	h.Write(b[:56])
	if h.Sum64() != machine.Uint64(b[56:]) {
		return meta{}, fmt.Errorf("its checksum does not match")
	}
	if v := machine.Uint32(b[4:]); v != metaVersion {
		return meta{}, fmt.Errorf("its version is %d, not %d", v, metaVersion)
	}
	m := meta{
		pageSize: machine.Uint32(b[8:]),
		root:     machine.Uint64(b[16:]),
		freelist: machine.Uint64(b[32:]),
		pages:    machine.Uint64(b[40:]),
		txid:     machine.Uint64(b[48:]),
	}
	if m.pageSize < 1024 || m.pageSize > 1<<24 || m.pageSize&(m.pageSize-1) != 0 {
		return meta{}, fmt.Errorf("its page size is %d", m.pageSize)
	}
	return m, nil
}

// mendMeta looks for the one bit that, turned back, makes b a sound meta. The
// checksum has 64 bits and there are 512 bits to try, so a chance match does
// not happen.
func mendMeta(b []byte) (meta, bool) {
	if len(b) < metaSize {
		return meta{}, false
	}
	var c [metaSize]byte
	for bit := range metaSize * 8 {
		copy(c[:], b)
		c[bit/8] ^= 1 << (bit % 8)
		if m, err := parseMeta(c[:]); err == nil {
			return m, true
		}
	}
	return meta{}, false
}

// pageReader hands out pages of a file through a few windows, so that a scan
// needs little memory and few calls.
type pageReader struct {
	file     io.ReaderAt
	size     int64
	pageSize int64
	windows  [4]window
	clock    uint64
}

const windowSize = 256 << 10

type window struct {
	start int64 // -1 when empty
	buf   []byte
	used  uint64
}

func newPageReader(f io.ReaderAt, size int64, pageSize uint32) *pageReader {
	p := &pageReader{file: f, size: size, pageSize: int64(pageSize)}
	for i := range p.windows {
		p.windows[i].start = -1
	}
	return p
}

// bytes returns n bytes from off, valid until the next call but three.
func (p *pageReader) bytes(off, n int64) ([]byte, error) {
	if off < 0 || n < 0 || off > p.size || n > p.size-off {
		return nil, fmt.Errorf("lies beyond the end of the file (%d bytes)", p.size)
	}
	p.clock++
	start := off &^ (windowSize - 1)
	if off+n > start+windowSize {
		b := make([]byte, n)
		_, err := p.file.ReadAt(b, off)
		return b, err
	}
	oldest := 0
	for i := range p.windows {
		w := &p.windows[i]
		if w.start == start {
			w.used = p.clock
			return w.buf[off-start : off-start+n], nil
		}
		if w.used < p.windows[oldest].used {
			oldest = i
		}
	}
	w := &p.windows[oldest]
	length := min(windowSize, p.size-start)
	if int64(len(w.buf)) < length {
		w.buf = make([]byte, length)
	}
	w.start, w.used = -1, p.clock
	if _, err := p.file.ReadAt(w.buf[:length], start); err != nil {
		return nil, err
	}
	w.start = start
	return w.buf[off-start : off-start+n], nil
}

// page returns page id with its overflow pages.
func (p *pageReader) page(id uint64) ([]byte, error) {
	if id > uint64(p.size/p.pageSize) {
		return nil, fmt.Errorf("lies beyond the end of the file (%d bytes)", p.size)
	}
	off := int64(id) * p.pageSize
	b, err := p.bytes(off, p.pageSize)
	if err != nil {
		return nil, err
	}
	if over := int64(machine.Uint32(b[12:])); over > 0 {
		return p.bytes(off, (over+1)*p.pageSize)
	}
	return b, nil
}

type pageHeader struct {
	id       uint64
	flags    uint16
	count    int
	overflow uint32
}

func header(b []byte) pageHeader {
	return pageHeader{machine.Uint64(b), machine.Uint16(b[8:]), int(machine.Uint16(b[10:])), machine.Uint32(b[12:])}
}

// leafElem is one pair of a leaf page. Key and value alias the page.
type leafElem struct {
	bucket     bool
	key, value []byte
}

// leaves calls visit for each element of leaf page b that can be read, sound or
// not, and returns the first thing wrong with the layout. A layout that is
// wrong still gives all elements whose bounds fit; each has to prove itself by
// its checksum.
func leaves(b []byte, visit func(leafElem)) error {
	var wrong error
	note := func(format string, args ...any) {
		if wrong == nil {
			wrong = fmt.Errorf(format, args...)
		}
	}
	count := header(b).count
	// The first element's pos is the length of the element table: a second
	// witness of the count. (The library hands out zeroed pages, so an empty
	// leaf has 0 there.)
	if room := (len(b) - pageHead) / elemSize; count > room {
		note("it says %d elements and has room for %d", count, room)
		count = room
	}
	if len(b) >= pageHead+elemSize {
		if pos := int(machine.Uint32(b[pageHead+4:])); pos != count*elemSize {
			note("it says %d elements, its layout says %d", count, pos/elemSize)
			if n := pos / elemSize; n > count && pageHead+pos <= len(b) {
				count = n
			}
		}
	}
	next := pageHead + count*elemSize
	for i := range count {
		at := pageHead + i*elemSize
		flags, pos := machine.Uint32(b[at:]), int(machine.Uint32(b[at+4:]))
		ksize, vsize := int(machine.Uint32(b[at+8:])), int(machine.Uint32(b[at+12:]))
		if flags > elemBucket {
			note("element %d has flags %x", i, flags)
		}
		if at+pos != next {
			note("element %d starts at %d, not at %d", i, at+pos, next)
		}
		k := at + pos
		if k < pageHead || k > len(b) || ksize > len(b)-k || vsize > len(b)-k-ksize {
			note("element %d reaches beyond its page", i)
			continue
		}
		if ksize == 0 {
			note("element %d has an empty key", i)
			continue
		}
		next = k + ksize + vsize
		visit(leafElem{flags&elemBucket != 0, b[k : k+ksize : k+ksize], b[k+ksize : next : next]})
	}
	return wrong
}

// mislaid calls visit with what the elements of leaf page b could be if entries
// of its table are wrong: where one element ends the next begins, so each
// bound is written down twice, and a record's key has 8 bytes; or a single bit
// of an entry is wrong. Most of what visit gets is nonsense, and nothing is certain
// but what proves itself.
func mislaid(b []byte, visit func(leafElem)) {
	room := (len(b) - pageHead) / elemSize
	count := min(header(b).count, room)
	if n := int(machine.Uint32(b[pageHead+4:])) / elemSize; n > count && n <= room {
		count = n
	}
	try := func(from, ksize, to int) {
		if from >= pageHead && ksize > 0 && from <= to && ksize <= to-from && to <= len(b) {
			visit(leafElem{key: b[from : from+ksize : from+ksize], value: b[from+ksize : to : to]})
		}
	}
	var entry [elemSize]byte
	read := func(at int) (start, ksize, end int) {
		start = at + int(machine.Uint32(entry[4:]))
		ksize = int(machine.Uint32(entry[8:]))
		return start, ksize, start + ksize + int(machine.Uint32(entry[12:]))
	}
	before := pageHead + count*elemSize // where the element before ends
	for i := range count {
		at := pageHead + i*elemSize
		copy(entry[:], b[at:])
		start, ksize, end := read(at)
		after := end
		if i+1 < count {
			after = at + elemSize + int(machine.Uint32(b[at+elemSize+4:]))
		}
		try(start, ksize, end)
		try(start, 8, after)
		try(before, 8, after)
		for bit := 32; bit < elemSize*8; bit++ {
			entry[bit/8] ^= 1 << (bit % 8)
			try(read(at))
			entry[bit/8] ^= 1 << (bit % 8)
		}
		before = end
	}
}

// used returns how many bytes of leaf or branch page b are in use, so that the
// number of overflow pages can be checked; it trusts a layout already checked.
func used(b []byte, branch bool) int {
	h := header(b)
	n := pageHead + h.count*elemSize
	for i := range h.count {
		at := pageHead + i*elemSize
		if branch {
			n += int(machine.Uint32(b[at+4:]))
		} else {
			n += int(machine.Uint32(b[at+8:])) + int(machine.Uint32(b[at+12:]))
		}
	}
	return n
}

// branchElem is one child of a branch page. Key is a copy.
type branchElem struct {
	key   []byte
	child uint64
}

// branches returns the children of branch page b that can be read, and the
// first thing wrong with its layout.
func branches(b []byte) (elems []branchElem, wrong error) {
	note := func(format string, args ...any) {
		if wrong == nil {
			wrong = fmt.Errorf(format, args...)
		}
	}
	count := header(b).count
	if count == 0 {
		note("a branch without children")
	}
	if room := (len(b) - pageHead) / elemSize; count > room {
		note("it says %d children and has room for %d", count, room)
		count = room
	}
	if pos := int(machine.Uint32(b[pageHead:])); count > 0 && pos != count*elemSize {
		note("it says %d children, its layout says %d", count, pos/elemSize)
		if n := pos / elemSize; n > count && pageHead+pos <= len(b) {
			count = n
		}
	}
	next := pageHead + count*elemSize
	for i := range count {
		at := pageHead + i*elemSize
		pos, ksize := int(machine.Uint32(b[at:])), int(machine.Uint32(b[at+4:]))
		if at+pos != next {
			note("child %d's key starts at %d, not at %d", i, at+pos, next)
		}
		e := branchElem{child: machine.Uint64(b[at+8:])}
		if k := at + pos; k < pageHead || k > len(b) || ksize > len(b)-k || ksize == 0 {
			note("child %d's key does not fit its page", i)
		} else {
			e.key = append(e.key, b[k:k+ksize]...)
			next = k + ksize
		}
		elems = append(elems, e)
	}
	return elems, wrong
}

// freePages returns the page numbers that freelist page b lists.
func freePages(b []byte) ([]uint64, error) {
	n, at := header(b).count, pageHead
	if n == 0xFFFF { // the library's way to say: the count stands in the first place
		if len(b) < at+8 {
			return nil, fmt.Errorf("cut short")
		}
		big := machine.Uint64(b[at:])
		at += 8
		if big > uint64(len(b)/8) {
			return nil, fmt.Errorf("it says %d free pages, more than fit", big)
		}
		n = int(big)
	}
	if n > (len(b)-at)/8 {
		return nil, fmt.Errorf("it says %d free pages and has room for %d", n, (len(b)-at)/8)
	}
	ids := make([]uint64, n)
	for i := range ids {
		ids[i] = machine.Uint64(b[at+8*i:])
	}
	return ids, nil
}
