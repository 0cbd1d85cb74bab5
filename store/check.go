package store

import (
	"bytes"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Check scans the store at path without writing anything and reports what it
// found. The error says why it could not look, which includes a file that is
// not a store and one that another program has open for writing ([ErrHeld]);
// what is wrong with a store that could be looked at stands in the report.
func Check(path string) (Report, error) {
	began := time.Now()
	s := &Store{path: path, opt: Options{ReadOnly: true, Wait: lookWait}}
	if err := s.prepare(); err != nil {
		return Report{Path: path}, err
	}
	if err := s.openDB(true); err != nil {
		return asReport(path, err)
	}
	defer s.release()
	info, err := s.file.Stat()
	if err != nil {
		return Report{Path: path}, err
	}
	look, err := surveyFile(s.file, info.Size(), nil)
	if err != nil {
		return asReport(path, &DamageError{path, []Problem{{What: err.Error()}}})
	}
	r := look.report(path, info.Size(), time.Since(began))
	if look.doc.Format > Format {
		return r, &newerError{path, look.doc.Format}
	}
	mem, err := readSide(path)
	switch {
	case err != nil:
		r.Notices = append(r.Notices, err.Error())
	case mem == nil:
		r.Notices = append(r.Notices, "there is no side file; it cannot be told whether the store has become shorter")
	case mem.FileID != r.FileID:
		r.Problems = append(r.Problems, Problem{What: fmt.Sprintf("the side file belongs to another store (%s, this is %s)", short(mem.FileID), short(r.FileID))})
	default:
		if less := mem.compare(look.lasts(), look.changes); less != "" {
			r.Problems = append(r.Problems, Problem{What: "shorter than at the last clean moment: " + less})
		}
	}
	return r, nil
}

// asReport turns damage that even opening met into an answer.
func asReport(path string, err error) (Report, error) {
	if d, ok := err.(*DamageError); ok {
		return Report{Path: path, Problems: d.Problems}, nil
	}
	return Report{Path: path}, err
}

// Check scans the open store as of now; racing goes on meanwhile.
func (s *Store) Check() (Report, error) {
	began := time.Now()
	var image bytes.Buffer
	err := s.steadyView(func(tx *bolt.Tx) error {
		_, err := tx.WriteTo(&image)
		return err
	})
	if err != nil {
		return asReport(s.path, err)
	}
	look, err := surveyFile(bytes.NewReader(image.Bytes()), int64(image.Len()), nil)
	if err != nil {
		return asReport(s.path, &DamageError{s.path, []Problem{{What: err.Error()}}})
	}
	return look.report(s.path, int64(image.Len()), time.Since(began)), nil
}
