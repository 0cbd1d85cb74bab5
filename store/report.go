package store

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// maxProblems bounds the list of problems kept from one scan.
const maxProblems = 200

// Problem is one thing wrong with a store file.
type Problem struct {
	Page  uint64 `json:"page,omitempty"`  // number of the page, 0 when no page is to blame
	Night uint32 `json:"night,omitempty"` // number of the night, 0 when it concerns none
	Seq   uint64 `json:"seq,omitempty"`   // number of the record, 0 when it concerns none
	What  string `json:"what"`
}

func (p Problem) String() string {
	var b strings.Builder
	if p.Page > 0 {
		fmt.Fprintf(&b, "page %d: ", p.Page)
	}
	if p.Night > 0 {
		fmt.Fprintf(&b, "night %d: ", p.Night)
	}
	if p.Seq > 0 {
		fmt.Fprintf(&b, "record %d: ", p.Seq)
	}
	return b.String() + p.What
}

// Range is a run of record numbers, both ends included.
type Range struct {
	From uint64 `json:"from"`
	To   uint64 `json:"to"`
}

// NightReport is what a scan found of one night.
type NightReport struct {
	Number  uint32  `json:"number"`
	ID      string  `json:"id"`
	Records uint64  `json:"records"` // good ones
	Last    uint64  `json:"last"`    // number of the last record, good or lost
	Missing []Range `json:"missing,omitempty"`
}

// Report is the answer of a scan over a whole store file.
type Report struct {
	Path      string        `json:"path"`
	FileID    string        `json:"file_id"`
	Format    uint32        `json:"format"`
	Bytes     int64         `json:"bytes"`
	Nights    []NightReport `json:"nights"`
	Documents int           `json:"documents"` // in the register, present revisions
	Revisions int           `json:"revisions"` // in the history
	Problems  []Problem     `json:"problems,omitempty"`
	Dropped   int           `json:"problems_dropped,omitempty"` // problems beyond the list's end
	Notices   []string      `json:"notices,omitempty"`
	Took      time.Duration `json:"took_ns"`
}

// Good reports whether the scan found nothing wrong.
func (r Report) Good() bool { return len(r.Problems) == 0 }

// Records returns the number of good records over all nights.
func (r Report) Records() (n uint64) {
	for _, night := range r.Nights {
		n += night.Records
	}
	return n
}

// inRanges reports whether seq lies in one of the ascending ranges.
func inRanges(rs []Range, seq uint64) bool {
	i, found := slices.BinarySearchFunc(rs, seq, func(r Range, seq uint64) int {
		switch {
		case r.To < seq:
			return -1
		case r.From > seq:
			return 1
		}
		return 0
	})
	return found && i < len(rs)
}

func rangesLen(rs []Range) (n uint64) {
	for _, r := range rs {
		n += r.To - r.From + 1
	}
	return n
}
