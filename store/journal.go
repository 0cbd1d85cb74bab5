package store

import (
	"bytes"
	"context"
	"fmt"

	bolt "go.etcd.io/bbolt"
)

// Info describes the night with its present length.
func (j *Journal) Info() NightInfo {
	info := j.info
	info.Last = j.last.Load()
	info.Records = info.Last - rangesLen(info.Missing)
	return info
}

// Last returns the number of the last durable record, 0 for an empty journal.
func (j *Journal) Last() uint64 { return j.last.Load() }

// Append adds records to the journal and returns when they are durable: the
// number of the first one, the others following it. The records of one call
// are together, in order, and all there or none.
//
// A record whose Seq is 0 gets the next number. One with a Seq must be the next,
// or one that is there already with the same content; so an append whose
// outcome was [Unknown] can be repeated without adding anything twice.
// Otherwise the error is a *[SeqError].
//
// Any failure is an *[AppendError]. When ctx ends while the records are being
// written, its outcome is Unknown and it cannot tell their numbers; so a
// caller that is the only one to append does well to number its records itself.
func (j *Journal) Append(ctx context.Context, records ...Record) (first uint64, err error) {
	if len(records) == 0 {
		return j.last.Load() + 1, nil
	}
	values := make([][]byte, len(records))
	seqs := make([]uint64, len(records))
	for i, r := range records {
		if len(r.Data) > MaxData {
			return 0, &AppendError{Night: j.info.ID, Count: len(records), Err: fmt.Errorf("%w: record of %d bytes, at most %d fit", ErrInput, len(r.Data), MaxData)}
		}
		values[i], seqs[i] = encodeRecord(j.info.Number, r), r.Seq
	}
	key := nightKey(j.info.Number)
	last := uint64(0)
	r := &request{ctx: ctx, weight: len(records)}
	r.apply = func(tx *bolt.Tx) (bool, error) {
		b := tx.Bucket([]byte(bucketJournals)).Bucket(key)
		if b == nil {
			return false, fmt.Errorf("night %q has lost its journal", j.info.ID)
		}
		have := b.Sequence()
		next := have + 1
		for i := range records {
			seq := seqs[i] // asked for, or given by an attempt that failed
			if seq == 0 {
				seq = next
			}
			if seq > next {
				return false, &refusal{&SeqError{j.info.ID, seq, next}}
			}
			sealRecord(seq, values[i])
			if seq < next {
				k := seqKey(seq)
				if seq > have || !bytes.Equal(b.Get(k[:]), values[i]) {
					return false, &refusal{&SeqError{j.info.ID, seq, next}}
				}
			} else {
				next++
			}
			seqs[i] = seq
		}
		last = max(have, next-1)
		if next == have+1 {
			return false, nil
		}
		b.FillPercent = 1
		for i, seq := range seqs {
			if seq <= have {
				continue
			}
			k := seqKey(seq)
			if err := b.Put(k[:], values[i]); err != nil {
				return false, err
			}
		}
		return true, b.SetSequence(last)
	}
	r.present = func(tx *bolt.Tx) bool {
		b := tx.Bucket([]byte(bucketJournals)).Bucket(key)
		for i, seq := range seqs {
			k := seqKey(seq)
			if b == nil || !bytes.Equal(b.Get(k[:]), values[i]) {
				return false
			}
		}
		return true
	}
	r.durable = func() { j.last.Store(max(last, j.last.Load())) }
	a := j.store.submit(r)
	if a.err == nil {
		return seqs[0], nil
	}
	e := &AppendError{Night: j.info.ID, Count: len(records), Outcome: a.outcome, Err: a.err}
	if ctx.Err() == nil { // else the writing goroutine may still be at work on seqs
		e.First = seqs[0]
	}
	return 0, e
}
