package control

import (
	"errors"
	"fmt"

	"lanewright/race"
)

// foldBatch is how many records are decoded in one go while others are applied.
const foldBatch = 512

// batch is a piece of a journal on its way: read, then decoded, then applied.
type batch struct {
	records []Record
	decoded []decoded
}

type decoded struct {
	seq    uint64
	kind   race.Kind
	passed bool
	pass   race.Passed
	event  race.Event
	err    error
}

var errEnough = errors.New("no more is wanted")

// Fold applies a journal to a new night and returns the number of the last event applied. Reading, decoding and applying run side by side,
// for restarts with long journals; records are applied in order.
func Fold(n *race.Night, past func(fn func(Record) error) error) (last uint64, err error) {
	read, ready, free := make(chan *batch, 4), make(chan *batch, 4), make(chan *batch, 8)
	for range cap(free) {
		free <- &batch{records: make([]Record, 0, foldBatch), decoded: make([]decoded, foldBatch)}
	}
	stop := make(chan struct{})
	var readErr error
	go func() { // reads
		defer close(read)
		b := <-free
		readErr = past(func(r Record) error {
			b.records = append(b.records, r)
			if len(b.records) < foldBatch {
				return nil
			}
			select {
			case <-stop:
				return errEnough
			case read <- b:
			}
			b = <-free
			return nil
		})
		select {
		case <-stop:
		case read <- b:
		}
	}()
	go func() { // decodes
		defer close(ready)
		for b := range read {
			for i := range b.records {
				b.decoded[i].decode(&b.records[i])
			}
			ready <- b
		}
	}()
	for b := range ready {
		for i := range b.records {
			if err != nil {
				break
			}
			if err = b.decoded[i].apply(n); err == nil {
				last = b.decoded[i].seq
			} else {
				close(stop)
			}
		}
		b.records = b.records[:0]
		free <- b
	}
	if err == nil && readErr != nil {
		err = readErr
	}
	return last, err
}

func (d *decoded) decode(r *Record) {
	d.seq, d.kind, d.event, d.err = r.Seq, race.Kind(r.Kind), nil, nil
	if d.passed = d.kind == race.KindPassed && race.SkimPassed(r.Data, &d.pass); !d.passed {
		d.event, d.err = race.Decode(d.kind, r.Data)
	}
}

func (d *decoded) apply(n *race.Night) error {
	err := d.err
	switch {
	case err != nil:
	case d.passed:
		err = n.ApplyPassed(d.seq, &d.pass)
	default:
		err = n.Apply(d.seq, d.event)
	}
	if err != nil {
		return fmt.Errorf("journal entry %d (%s): %w", d.seq, d.kind, err)
	}
	return nil
}
