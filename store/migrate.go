package store

import (
	"fmt"
	"os"

	bolt "go.etcd.io/bbolt"
)

// steps lead from an older format to [Format]: steps[f] copies a whole store of
// format f from one open transaction to another and says how many records it
// copied. There is no older format yet.
var steps = map[uint32]func(from, to *bolt.Tx) (records uint64, err error){}

func canMigrate(format uint32) bool { return steps[format] != nil }

// migrate brings the store at path to the present format: never in place, but
// as a copy, which is checked before it takes the name. The old file is kept;
// its new name is returned.
func migrate(path string, format uint32, opt Options) (kept string, err error) {
	step := steps[format]
	if step == nil {
		return "", fmt.Errorf("%s: %w: format %d is older than any this program can bring forward; use a program of its time to export its nights", path, ErrNotStore, format)
	}
	old := &Store{path: path, opt: opt}
	if err := old.openDB(false); err != nil {
		return "", err
	}
	defer old.release()
	var doc storeDoc
	var records uint64
	var temp string
	err = guard(func() error {
		return old.db.View(func(from *bolt.Tx) error {
			v := from.Bucket([]byte(bucketMeta)).Get([]byte(keyStore))
			if err := unsealJSON(bucketMeta, []byte(keyStore), v, &doc); err != nil {
				return err
			}
			doc.Format = Format
			var err error
			temp, err = build(path, doc, func(to *bolt.Tx) (err error) {
				records, err = step(from, to)
				return err
			})
			return err
		})
	})
	if err != nil {
		return "", fmt.Errorf("%s: bring it from format %d to %d: %w; the file is as it was", path, format, Format, err)
	}
	r, err := Check(temp)
	if err == nil && (!r.Good() || r.Records() != records) {
		err = fmt.Errorf("the copy has %d of %d records and %d problems", r.Records(), records, len(r.Problems))
	}
	if err != nil {
		os.Remove(temp)
		return "", fmt.Errorf("%s: bring it from format %d to %d: %w; the file is as it was", path, format, Format, err)
	}
	old.release() // Windows renames no open file
	if kept, err = setAside(path, fmt.Sprintf("format-%d", format)); err != nil {
		os.Remove(temp)
		return "", err
	}
	return kept, placeNew(temp, path)
}
