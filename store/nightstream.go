package store

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
)

// A night travels as JSON Lines: a head, one line a record, an end. Each line
// carries a CRC-32C of itself (its JSON with crc ""), and the end the number of
// records and a CRC-32C over the crc texts of all lines before it, so that a line
// lost, doubled or moved is noticed.

const streamFormat = 1

type streamHead struct {
	Stream  string  `json:"lanewright"` // "night"
	Format  int     `json:"format"`
	ID      string  `json:"id"`
	Created int64   `json:"created"`
	Meta    []byte  `json:"meta,omitempty"`
	Missing []Range `json:"missing,omitempty"`
	From    string  `json:"from"` // file id of the store
	CRC     string  `json:"crc"`
}

type streamRecord struct {
	Seq  uint64 `json:"seq"`
	Kind uint16 `json:"kind"`
	Wall int64  `json:"wall"`
	Data []byte `json:"data"`
	CRC  string `json:"crc"`
}

type streamEnd struct {
	End uint64 `json:"end"` // records
	All string `json:"all"`
	CRC string `json:"crc"`
}

func (h streamHead) seal() (string, error)   { h.CRC = ""; return lineCRC(h) }
func (r streamRecord) seal() (string, error) { r.CRC = ""; return lineCRC(r) }
func (e streamEnd) seal() (string, error)    { e.CRC = ""; return lineCRC(e) }

func lineCRC(line any) (string, error) {
	b, err := json.Marshal(line)
	return fmt.Sprintf("%08x", crc32.Checksum(b, castagnoli)), err
}

// ExportNight writes night id, whole, as JSON Lines to w.
func (s *Store) ExportNight(id string, w io.Writer) error {
	j, err := s.Night(id)
	if err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	enc := json.NewEncoder(out)
	info := j.Info()
	h := streamHead{Stream: "night", Format: streamFormat, ID: info.ID, Created: info.Created.UnixNano(), Meta: info.Meta, Missing: info.Missing, From: s.doc.FileID}
	if h.CRC, err = h.seal(); err != nil {
		return err
	}
	if err := enc.Encode(h); err != nil {
		return err
	}
	all, n := crc32.Update(0, castagnoli, []byte(h.CRC)), uint64(0)
	err = j.Read(1, func(r Record) (err error) {
		line := streamRecord{Seq: r.Seq, Kind: r.Kind, Wall: r.Wall, Data: r.Data}
		if line.CRC, err = line.seal(); err != nil {
			return err
		}
		all, n = crc32.Update(all, castagnoli, []byte(line.CRC)), n+1
		return enc.Encode(line)
	})
	if err != nil {
		return fmt.Errorf("export night %q: %w", id, err)
	}
	end := streamEnd{End: n, All: fmt.Sprintf("%08x", all)}
	if end.CRC, err = end.seal(); err != nil {
		return err
	}
	if err := enc.Encode(end); err != nil {
		return err
	}
	return out.Flush()
}

// ImportNight reads a night as [Store.ExportNight] writes it and adds it as a
// new night, under its own id or, where as is not "", under that one. All of
// it is checked first; then all of it is added in one transaction, or nothing.
// Errors name the line; they wrap [ErrInput] for the stream, [ErrExists] for the id.
func (s *Store) ImportNight(ctx context.Context, r io.Reader, as string) (NightInfo, error) {
	h, records, err := readNight(r)
	if err != nil {
		return NightInfo{}, fmt.Errorf("import night: %w", err)
	}
	if as == "" {
		as = h.ID
	}
	j, err := s.createNight(ctx, as, h.Meta, h.Missing, records)
	if err != nil {
		return NightInfo{}, fmt.Errorf("import night: %w", err)
	}
	return j.Info(), nil
}

// maxLine holds the longest line that ExportNight writes: MaxData bytes in
// base64 and the rest.
const maxLine = MaxData/3*4 + 64<<10

// readNight reads and checks a whole stream.
func readNight(r io.Reader) (h streamHead, records []Record, err error) {
	in := &lineReader{r: bufio.NewReader(r)}
	if err := in.decode(&h); err != nil {
		return h, nil, err
	}
	if h.Stream != "night" {
		return h, nil, in.wrong("it is no night: the first line should say \"lanewright\":\"night\"")
	}
	if h.Format != streamFormat {
		return h, nil, in.wrong("stream format %d, this program knows %d", h.Format, streamFormat)
	}
	if err := in.check(h.seal, h.CRC); err != nil {
		return h, nil, err
	}
	if err := checkPrintable("night id", h.ID); err != nil {
		return h, nil, in.wrong("%v", err)
	}
	if err := checkRanges(h.Missing); err != nil {
		return h, nil, in.wrong("missing: %v", err)
	}
	all, next, missing := crc32.Update(0, castagnoli, []byte(h.CRC)), uint64(1), h.Missing
	for {
		for len(missing) > 0 && missing[0].From == next {
			next, missing = missing[0].To+1, missing[1:]
		}
		line, err := in.next()
		if err != nil {
			return h, nil, err
		}
		if bytes.HasPrefix(line, []byte(`{"end":`)) {
			var end streamEnd
			if err := in.strict(line, &end); err != nil {
				return h, nil, err
			}
			if err := in.check(end.seal, end.CRC); err != nil {
				return h, nil, err
			}
			if end.End != uint64(len(records)) || end.All != fmt.Sprintf("%08x", all) || len(missing) > 0 {
				return h, nil, in.wrong("the end speaks of %d records and checksum %s, before it stood %d and %08x: lines are lost, doubled or moved", end.End, end.All, len(records), all)
			}
			return h, records, in.nothingMore()
		}
		var rec streamRecord
		if err := in.strict(line, &rec); err != nil {
			return h, nil, err
		}
		if err := in.check(rec.seal, rec.CRC); err != nil {
			return h, nil, err
		}
		if rec.Seq != next {
			return h, nil, in.wrong("record %d, expected %d", rec.Seq, next)
		}
		if len(rec.Data) > MaxData {
			return h, nil, in.wrong("record of %d bytes, at most %d fit", len(rec.Data), MaxData)
		}
		all, next = crc32.Update(all, castagnoli, []byte(rec.CRC)), next+1
		records = append(records, Record{rec.Seq, rec.Kind, rec.Wall, rec.Data})
	}
}

// checkRanges accepts ascending ranges that do not touch.
func checkRanges(rs []Range) error {
	least := uint64(1)
	for _, r := range rs {
		if r.From < least || r.To < r.From || r.To > 1<<62 {
			return fmt.Errorf("range %d to %d is out of order", r.From, r.To)
		}
		least = r.To + 2
	}
	return nil
}

// lineReader counts lines and bounds their length.
type lineReader struct {
	r    *bufio.Reader
	line int
}

func (l *lineReader) wrong(format string, args ...any) error {
	return fmt.Errorf("%w: line %d: %s", ErrInput, l.line, fmt.Sprintf(format, args...))
}

func (l *lineReader) next() ([]byte, error) {
	l.line++
	var line []byte
	for {
		part, err := l.r.ReadSlice('\n')
		line = append(line, part...)
		if len(line) > maxLine {
			return nil, l.wrong("longer than %d bytes", maxLine)
		}
		switch {
		case err == nil:
			return bytes.TrimSpace(line), nil
		case errors.Is(err, bufio.ErrBufferFull):
		case errors.Is(err, io.EOF):
			return nil, l.wrong("the stream stops here, before its end line")
		default:
			return nil, fmt.Errorf("line %d: %w", l.line, err)
		}
	}
}

func (l *lineReader) decode(v any) error {
	line, err := l.next()
	if err != nil {
		return err
	}
	return l.strict(line, v)
}

func (l *lineReader) strict(line []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(line))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return l.wrong("%v", err)
	}
	if d.More() {
		return l.wrong("more than one value")
	}
	return nil
}

func (l *lineReader) check(seal func() (string, error), crc string) error {
	want, err := seal()
	if err != nil {
		return l.wrong("%v", err)
	}
	if want != crc {
		return l.wrong("it carries checksum %q, its content gives %q", crc, want)
	}
	return nil
}

func (l *lineReader) nothingMore() error {
	l.line++
	if _, err := l.r.ReadByte(); !errors.Is(err, io.EOF) {
		return l.wrong("something follows the end line")
	}
	return nil
}
