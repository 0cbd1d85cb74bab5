package main

import (
	"context"
	"encoding/json"

	"lanewright/race"
	"lanewright/race/control"
	"lanewright/store"
)

// journal lets the loop write to a night of the store.
type journal struct{ *store.Journal }

// Append writes records as one group, durable on return. The loop numbers them, so that writing them again after a failure with
// unknown outcome writes nothing twice.
func (j journal) Append(ctx context.Context, records []control.Record) error {
	group := make([]store.Record, len(records))
	for i, r := range records {
		group[i] = store.Record{Seq: r.Seq, Kind: r.Kind, Wall: r.Wall, Data: r.Data}
	}
	_, err := j.Journal.Append(ctx, group...)
	return err
}

// pastOf reads a night of the store for the fold.
func pastOf(j *store.Journal) func(fn func(control.Record) error) error {
	return func(fn func(control.Record) error) error {
		return j.Read(1, func(r store.Record) error {
			return fn(control.Record{Seq: r.Seq, Kind: r.Kind, Wall: r.Wall, Data: r.Data})
		})
	}
}

// metaOf is what the list of nights shows without folding any.
type metaOf struct {
	Title  string `json:"title,omitempty"`
	Club   string `json:"club,omitempty"`
	Layout string `json:"layout,omitempty"`
}

func nightMeta(begin []race.Event) []byte {
	var m metaOf
	for _, e := range begin {
		if o, ok := e.(race.Opened); ok {
			m = metaOf{o.Title, o.Club, o.Layout.Name}
		}
	}
	data, err := json.Marshal(m)
	if err != nil {
		return nil // three strings cannot fail
	}
	return data
}
