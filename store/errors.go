package store

import (
	"errors"
	"fmt"
	"time"
)

// Kinds of failure, for errors.Is. The errors returned wrap one of them and say
// what, where and what to do.
var (
	ErrHeld      = errors.New("store is open in another program")
	ErrNewer     = errors.New("store has a newer format")
	ErrNotStore  = errors.New("not a store")
	ErrEmpty     = errors.New("store file is empty")
	ErrDamaged   = errors.New("store is damaged")
	ErrShorter   = errors.New("store is shorter than it was")
	ErrOtherFile = errors.New("another store's file")
	ErrDiskFull  = errors.New("disk is full")
	ErrReadOnly  = errors.New("store is open for reading only")
	ErrExists    = errors.New("already exists")
	ErrNotFound  = errors.New("not found")
	ErrConflict  = errors.New("changed by someone else")
	ErrClosed    = errors.New("store is closed")
	ErrInput     = errors.New("refused")
)

// HeldError says who has the store open, as far as the held note tells. It
// wraps [ErrHeld]. PID is 0 when there is no note: a program that only reads
// leaves none.
type HeldError struct {
	Path    string
	PID     int
	Program string
	Host    string
	Since   time.Time
}

func (e *HeldError) Error() string {
	if e.PID == 0 {
		return fmt.Sprintf("%s: another program has this store open; close it, or work on a backup", e.Path)
	}
	return fmt.Sprintf("%s: %s (process %d on %s) has this store open since %s; close it there, or work on a backup",
		e.Path, e.Program, e.PID, e.Host, e.Since.Local().Format("2006-01-02 15:04:05"))
}

func (e *HeldError) Unwrap() error { return ErrHeld }

// DamageError lists what is wrong with a store file. It wraps [ErrDamaged].
// Nothing has been written to the file.
type DamageError struct {
	Path     string
	Problems []Problem // at least one; the list is cut at maxProblems
}

func (e *DamageError) Error() string {
	what := "cannot be read"
	if len(e.Problems) > 0 {
		what = e.Problems[0].String()
	}
	more := ""
	if n := len(e.Problems); n > 1 {
		more = fmt.Sprintf(" (and %d more)", n-1)
	}
	return fmt.Sprintf("%s: damaged: %s%s; it was left untouched: salvage it into a new file, or restore a backup", e.Path, what, more)
}

func (e *DamageError) Unwrap() error { return ErrDamaged }

// Outcome says what became of records whose append failed.
type Outcome int

const (
	// NotWritten: the records are not in the journal; their numbers are free.
	NotWritten Outcome = iota
	// Unknown: they may be in the journal. Append them again with the numbers
	// First, First+1, ... set: what is there already is then not added twice.
	Unknown
)

func (o Outcome) String() string {
	if o == NotWritten {
		return "not written"
	}
	return "outcome unknown"
}

// AppendError reports an append that was not acknowledged. First is the number
// of its first record, 0 when none had been given yet. It wraps the cause.
type AppendError struct {
	Night   string
	First   uint64
	Count   int
	Outcome Outcome
	Err     error
}

func (e *AppendError) Error() string {
	return fmt.Sprintf("night %s: append of %d records: %s: %v", e.Night, e.Count, e.Outcome, e.Err)
}

func (e *AppendError) Unwrap() error { return e.Err }

// SeqError reports a record that was given a number which does not fit the
// journal: a gap, or a number that holds other data. It wraps [ErrConflict].
type SeqError struct {
	Night string
	Seq   uint64 // the number asked for
	Next  uint64 // the number the journal would give
}

func (e *SeqError) Error() string {
	if e.Seq < e.Next {
		return fmt.Sprintf("night %s: record %d is there already with other data; the next free number is %d", e.Night, e.Seq, e.Next)
	}
	return fmt.Sprintf("night %s: record %d would leave a gap; the next number is %d", e.Night, e.Seq, e.Next)
}

func (e *SeqError) Unwrap() error { return ErrConflict }
