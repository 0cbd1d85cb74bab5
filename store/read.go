package store

import (
	"bytes"
	"fmt"

	bolt "go.etcd.io/bbolt"
)

// readChunk is how many records one read transaction fetches: a long one would
// make the file grow, and the writer wait.
const readChunk = 1024

const arenaSize = 32 << 10

// Read calls fn for each durable record from number from on (0 and 1 mean the
// start), in order, until the last one there was at the call, or until fn
// returns an error, which Read then returns. Data is fn's to keep. Every record
// is checked against its CRC and its place again; damage is a *[DamageError].
// Numbers in the night's Missing are passed over.
func (j *Journal) Read(from uint64, fn func(Record) error) error {
	next, last := max(from, 1), j.last.Load()
	for next <= last {
		chunk, after, err := j.chunk(next, last)
		for _, r := range chunk {
			if err := fn(r); err != nil {
				return err
			}
		}
		if err != nil {
			return err
		}
		next = after
	}
	return nil
}

// chunk reads up to readChunk records with numbers next to last and returns the
// number to go on with.
func (j *Journal) chunk(next, last uint64) (chunk []Record, after uint64, err error) {
	s := j.store
	fault := func(seq uint64, what string) error {
		return &DamageError{s.path, []Problem{{Night: j.info.Number, Seq: seq, What: what}}}
	}
	err = s.view(func(tx *bolt.Tx) error {
		journals := tx.Bucket([]byte(bucketJournals))
		if journals == nil {
			return fault(0, "the journals are missing")
		}
		b := journals.Bucket(nightKey(j.info.Number))
		if b == nil {
			return fault(0, "its journal is missing")
		}
		start := seqKey(next)
		chunk = make([]Record, 0, min(readChunk, last-next+1))
		var arena []byte // the data of many records at once
		c := b.Cursor()
		for k, v := c.Seek(start[:]); next <= last; k, v = c.Next() {
			for inRanges(j.info.Missing, next) {
				next++
			}
			if next > last || len(chunk) == readChunk {
				return nil
			}
			if want := seqKey(next); !bytes.Equal(k, want[:]) {
				return fault(next, "is missing")
			}
			night, r, err := decodeRecord(k, v)
			if err != nil {
				return fault(next, err.Error())
			}
			if night != j.info.Number {
				return fault(next, fmt.Sprintf("belongs to night %d", night))
			}
			if len(r.Data) > cap(arena)-len(arena) {
				arena = make([]byte, 0, max(arenaSize, len(r.Data)))
			}
			at := len(arena)
			arena = append(arena, r.Data...)
			r.Data = arena[at:len(arena):len(arena)]
			chunk = append(chunk, r)
			next++
		}
		return nil
	})
	return chunk, next, err
}
