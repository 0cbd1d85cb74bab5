package store

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io/fs"
	"os"
	"slices"
)

// side is the content of path.side: how long everything was at the last clean
// moment. A store shorter than that has been rolled back, swapped or emptied,
// which no checksum inside the file can tell.
type side struct {
	FileID  string      `json:"file_id"`
	Records uint64      `json:"records"` // over all nights
	Nights  []sideNight `json:"nights"`  // ascending
	Changes uint64      `json:"changes"` // of the register
	Saved   int64       `json:"saved"`   // unix nanoseconds
	CRC     string      `json:"crc"`     // CRC-32C of this JSON with crc ""
}

type sideNight struct {
	Number uint32 `json:"number"`
	Last   uint64 `json:"last"`
}

var errSide = errors.New("side file unreadable")

func sidePath(path string) string { return path + ".side" }

func newSide(fileID string, lasts map[uint32]uint64, changes uint64, saved int64) side {
	s := side{FileID: fileID, Changes: changes, Saved: saved}
	for number, last := range lasts {
		s.Nights = append(s.Nights, sideNight{number, last})
		s.Records += last
	}
	slices.SortFunc(s.Nights, func(a, b sideNight) int { return cmp.Compare(a.Number, b.Number) })
	return s
}

func (s side) crc() (string, error) {
	s.CRC = ""
	b, err := json.Marshal(s)
	return fmt.Sprintf("%08x", crc32.Checksum(b, castagnoli)), err
}

func (s side) write(path string) (err error) {
	if s.CRC, err = s.crc(); err != nil {
		return err
	}
	b, err := json.Marshal(s)
	if err != nil {
		return err
	}
	return writeAtomic(sidePath(path), append(b, '\n'))
}

// readSide returns nil without an error when there is no side file.
func readSide(path string) (*side, error) {
	b, err := os.ReadFile(sidePath(path))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var s side
	if err := json.Unmarshal(b, &s); err != nil {
		return nil, fmt.Errorf("%w: %s: %v", errSide, sidePath(path), err)
	}
	if want, err := s.crc(); err != nil || want != s.CRC {
		return nil, fmt.Errorf("%w: %s: checksum does not match", errSide, sidePath(path))
	}
	return &s, nil
}

// compare says in what the store is shorter than s remembers; "" when in
// nothing.
func (s *side) compare(lasts map[uint32]uint64, changes uint64) string {
	for _, n := range s.Nights {
		last, ok := lasts[n.Number]
		if !ok {
			return fmt.Sprintf("night %d with %d records is gone", n.Number, n.Last)
		}
		if last < n.Last {
			return fmt.Sprintf("night %d ends at record %d, it had %d", n.Number, last, n.Last)
		}
	}
	if changes < s.Changes {
		return fmt.Sprintf("the register has seen %d changes, it had seen %d", changes, s.Changes)
	}
	return ""
}
