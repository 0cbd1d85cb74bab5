package store

import (
	"bytes"
	"cmp"
	"context"
	"encoding/binary"
	"fmt"
	"slices"
	"sync/atomic"
	"time"

	bolt "go.etcd.io/bbolt"
)

// NightInfo describes a night. Records and Last count durable records only; they
// differ by the numbers in Missing, which a salvage could not save.
type NightInfo struct {
	Number  uint32
	ID      string
	Created time.Time
	Meta    []byte // the caller's, given to CreateNight
	Records uint64
	Last    uint64
	Missing []Range
}

// Journal is the journal of one night. Its methods may be called from any
// goroutine.
type Journal struct {
	store *Store
	info  NightInfo     // Records and Last unset
	last  atomic.Uint64 // number of the last durable record
}

// addJournal registers a night that is in the file.
func (s *Store) addJournal(info NightInfo, last uint64) *Journal {
	j := &Journal{store: s, info: info}
	j.last.Store(last)
	s.journalsMu.Lock()
	defer s.journalsMu.Unlock()
	s.journals[info.Number] = j
	return j
}

// sortedJournals returns the journals in the order of their numbers, which is
// that of creation.
func (s *Store) sortedJournals() []*Journal {
	s.journalsMu.Lock()
	defer s.journalsMu.Unlock()
	js := make([]*Journal, 0, len(s.journals))
	for _, j := range s.journals {
		js = append(js, j)
	}
	slices.SortFunc(js, func(a, b *Journal) int { return cmp.Compare(a.info.Number, b.info.Number) })
	return js
}

// Nights lists the nights in the order of creation.
func (s *Store) Nights() ([]NightInfo, error) {
	var infos []NightInfo
	for _, j := range s.sortedJournals() {
		infos = append(infos, j.Info())
	}
	return infos, nil
}

// Night returns the journal of night id, or an error that wraps [ErrNotFound].
func (s *Store) Night(id string) (*Journal, error) {
	for _, j := range s.sortedJournals() {
		if j.info.ID == id {
			return j, nil
		}
	}
	return nil, fmt.Errorf("%s: night %q: %w", s.path, id, ErrNotFound)
}

// CreateNight starts a night with an empty journal. The id is 1 to 128 bytes of
// printable text and unique within the store ([ErrExists]); meta is the
// caller's, at most MaxData bytes.
func (s *Store) CreateNight(ctx context.Context, id string, meta []byte) (*Journal, error) {
	return s.createNight(ctx, id, meta, nil, nil)
}

// createNight also brings the night's first records, and the numbers missing
// among them, in the same transaction.
func (s *Store) createNight(ctx context.Context, id string, meta []byte, missing []Range, records []Record) (*Journal, error) {
	if err := checkPrintable("night id", id); err != nil {
		return nil, err
	}
	if len(meta) > MaxData {
		return nil, fmt.Errorf("%w: night %q: meta has %d bytes, at most %d fit", ErrInput, id, len(meta), MaxData)
	}
	var number uint32
	var j *Journal
	created := s.opt.now().UnixNano()
	doc := nightDoc{ID: id, Created: created, Meta: bytes.Clone(meta), Missing: missing}
	r := &request{ctx: ctx, weight: 1 + len(records)}
	r.apply = func(tx *bolt.Tx) (bool, error) {
		nights := tx.Bucket([]byte(bucketNights))
		next := uint32(1)
		for k, v := range eachIn(nights) {
			var have nightDoc
			if err := unsealJSON(bucketNights, k, v, &have); err != nil {
				return false, err
			}
			n := binary.BigEndian.Uint32(k)
			if have.ID == id {
				if n == number && have.Created == created {
					return false, nil // our own, from an attempt that failed
				}
				return false, &refusal{fmt.Errorf("night %q: %w", id, ErrExists)}
			}
			next = n + 1
		}
		number = next
		v, err := sealJSON(bucketNights, nightKey(number), doc)
		if err != nil {
			return false, err
		}
		if err := nights.Put(nightKey(number), v); err != nil {
			return false, err
		}
		b, err := tx.Bucket([]byte(bucketJournals)).CreateBucket(nightKey(number))
		if err != nil {
			return false, err
		}
		return true, fillJournal(b, number, missing, records)
	}
	r.present = func(tx *bolt.Tx) bool {
		return number != 0 && tx.Bucket([]byte(bucketNights)).Get(nightKey(number)) != nil
	}
	r.durable = func() {
		last := uint64(len(records)) + rangesLen(missing)
		j = s.addJournal(NightInfo{Number: number, ID: id, Created: time.Unix(0, created), Meta: doc.Meta, Missing: missing}, last)
	}
	if a := s.submit(r); a.err != nil {
		return nil, fmt.Errorf("create night %q: %w", id, a.err)
	}
	return j, nil
}

// fillJournal puts records, numbered as they are, into the new journal bucket b.
func fillJournal(b *bolt.Bucket, night uint32, missing []Range, records []Record) error {
	b.FillPercent = 1
	last := uint64(0)
	for _, rec := range records {
		v := encodeRecord(night, rec)
		sealRecord(rec.Seq, v)
		k := seqKey(rec.Seq)
		if err := b.Put(k[:], v); err != nil {
			return err
		}
		last = rec.Seq
	}
	if n := len(missing); n > 0 {
		last = max(last, missing[n-1].To)
	}
	return b.SetSequence(last)
}

// eachIn ranges over the pairs of b in order; key and value live as long as the
// transaction.
func eachIn(b *bolt.Bucket) func(func(k, v []byte) bool) {
	return func(yield func(k, v []byte) bool) {
		c := b.Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			if !yield(k, v) {
				return
			}
		}
	}
}
