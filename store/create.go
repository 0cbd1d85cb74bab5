package store

import (
	"crypto/rand"
	"encoding/base32"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	bolt "go.etcd.io/bbolt"
)

// create makes an empty store at path, which must be free. The library writes a
// new file's first pages in place, and a crash in that moment leaves a file that
// makes it panic; so the store is made whole and synced under another name, and
// only then gets its own.
func create(path string, doc storeDoc) error {
	temp, err := build(path, doc, nil)
	if err != nil {
		return err
	}
	if err := placeNew(temp, path); err != nil {
		os.Remove(temp)
		return err
	}
	return nil
}

// build makes a synced store under a temporary name beside path and returns the
// name. fill, where not nil, adds to it in the same and only transaction; it runs once.
func build(path string, doc storeDoc, fill func(*bolt.Tx) error) (temp string, err error) {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".new-*")
	if err != nil {
		return "", err
	}
	temp = f.Name()
	if err := f.Close(); err != nil {
		return "", err
	}
	defer func() {
		if err != nil {
			os.Remove(temp)
		}
	}()
	err = guard(func() error {
		db, err := bolt.Open(temp, 0o644, &bolt.Options{Timeout: defaultWait, FreelistType: bolt.FreelistArrayType, PageSize: pageSize})
		if err != nil {
			return err
		}
		db.AllocSize = allocSize
		err = db.Update(func(tx *bolt.Tx) error {
			for _, name := range []string{bucketMeta, bucketNights, bucketJournals, bucketRegister, bucketHistory} {
				if _, err := tx.CreateBucket([]byte(name)); err != nil {
					return err
				}
			}
			v, err := sealJSON(bucketMeta, []byte(keyStore), doc)
			if err != nil {
				return err
			}
			if err := tx.Bucket([]byte(bucketMeta)).Put([]byte(keyStore), v); err != nil {
				return err
			}
			if fill != nil {
				return fill(tx)
			}
			return nil
		})
		if cerr := db.Close(); err == nil {
			err = cerr
		}
		return err
	})
	if err != nil {
		return "", err
	}
	return temp, syncFile(temp)
}

// syncFile makes the content of an existing file durable.
func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	err = f.Sync()
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}

// removeStale deletes what creations that died have left beside path. Only the
// holder of the store may call it.
func removeStale(path string) {
	for _, pattern := range []string{".new-*", ".side.part-*", ".reserve.part-*"} {
		removeAll(path, pattern)
	}
}

// removeAll deletes the files whose names are path and what pattern matches.
func removeAll(path, pattern string) {
	names, err := filepath.Glob(escapeGlob(path) + pattern)
	if err != nil {
		return // a name that cannot be a pattern: leave it all
	}
	for _, name := range names {
		_ = os.Remove(name)
	}
}

func escapeGlob(path string) string {
	return strings.NewReplacer(`*`, `[*]`, `?`, `[?]`, `[`, `[[]`).Replace(path)
}

func newFileID() string {
	var b [16]byte
	rand.Read(b[:]) // never fails since Go 1.24
	return hex.EncodeToString(b[:])
}

// NewID returns a fresh random id for a document: 13 lower-case letters and
// digits, 64 bits.
func NewID() string {
	var b [8]byte
	rand.Read(b[:])
	return strings.ToLower(base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString(b[:]))
}

// checkPrintable accepts ids that people can read out and type.
func checkPrintable(what, id string) error {
	if id == "" || len(id) > 128 {
		return fmt.Errorf("%w: %s of %d bytes, wanted 1 to 128", ErrInput, what, len(id))
	}
	for _, r := range id {
		if r < 0x20 || r == 0x7f || r == 0xfffd {
			return fmt.Errorf("%w: %s %q has a control character or is not UTF-8", ErrInput, what, id)
		}
	}
	return nil
}
