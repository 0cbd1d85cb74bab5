package tape

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"time"
)

// LineError says which line of a tape could not be read.
type LineError struct {
	Line int  // from 1
	Torn bool // it is the last one and has no end: the writer was killed
	Err  error
}

func (e *LineError) Error() string { return fmt.Sprintf("tape line %d: %v", e.Line, e.Err) }
func (e *LineError) Unwrap() error { return e.Err }

// lineMax bounds a line; a chunk of a port has at most 4096 bytes.
const lineMax = 1 << 20

// Reader reads a tape line by line.
type Reader struct {
	r     *bufio.Reader
	n     int
	start time.Time
}

// NewReader reads from r.
func NewReader(r io.Reader) *Reader {
	return &Reader{r: bufio.NewReaderSize(r, 1<<16), start: time.Unix(0, 0).UTC()}
}

// Next returns the next entry, io.EOF at the end, a [*LineError] for a line that
// cannot be read, behind which reading may go on, or the error of the
// underlying reader.
func (r *Reader) Next() (Entry, error) {
	for {
		text, err := r.line()
		if len(text) == 0 && err != nil {
			return Entry{}, err
		}
		r.n++
		if err != nil && err != io.EOF {
			if errors.Is(err, ErrLine) {
				return Entry{}, &LineError{Line: r.n, Err: err}
			}
			return Entry{}, err
		}
		torn := err == io.EOF
		text = bytes.TrimSpace(text)
		if len(text) == 0 {
			continue
		}
		e, perr := parse(text, r.start)
		if perr != nil {
			return Entry{}, &LineError{Line: r.n, Torn: torn, Err: perr}
		}
		if e.Start {
			r.start = e.At
		}
		return e, nil
	}
}

// line returns the next line without its end; io.EOF with text means that it has
// none.
func (r *Reader) line() ([]byte, error) {
	var text []byte
	long := false
	for {
		part, err := r.r.ReadSlice('\n')
		if !long {
			text = append(text, part...)
		}
		if len(text) > lineMax {
			long = true
			text = text[:1]
		}
		if err == bufio.ErrBufferFull {
			continue
		}
		if long {
			return text, fmt.Errorf("%w: longer than %d bytes", ErrLine, lineMax)
		}
		return text, err
	}
}

// Read reads a whole tape and stops at the first line that cannot be read. A torn
// last line is no error: it is what a killed program leaves.
func Read(r io.Reader) ([]Entry, error) {
	all, bad := Salvage(r)
	for _, err := range bad {
		var le *LineError
		if !errors.As(err, &le) || !le.Torn {
			return all, err
		}
	}
	return all, nil
}

// Salvage reads what can be read and returns the errors of the rest.
func Salvage(r io.Reader) (all []Entry, bad []error) {
	t := NewReader(r)
	for {
		e, err := t.Next()
		if err == io.EOF {
			return all, bad
		}
		var le *LineError
		if err != nil {
			bad = append(bad, err)
			if !errors.As(err, &le) {
				return all, bad
			}
			continue
		}
		all = append(all, e)
	}
}
