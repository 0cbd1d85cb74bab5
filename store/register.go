package store

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Kind names a drawer of the register.
type Kind string

// The drawers that the program uses. Others may be added by name.
const (
	KindDriver Kind = "driver"
	KindCar    Kind = "car"
	KindLayout Kind = "layout"
	KindKit    Kind = "kit"
	KindClub   Kind = "club"
)

var kindPattern = regexp.MustCompile(`^[a-z][a-z0-9-]{0,31}$`)

// Doc is one document of the register, at one revision. Revisions count from 1
// over the life of an id, also past a deletion.
type Doc struct {
	Kind     Kind
	ID       string
	Revision uint64
	Saved    time.Time
	Data     json.RawMessage
}

// A document's payload on disk, big-endian: 8 revision, 8 unix nanoseconds, JSON.
const docHead = 16

var errDoc = errors.New("document cannot be read")

func encodeDoc(d Doc) []byte {
	b := make([]byte, docHead, docHead+len(d.Data))
	binary.BigEndian.PutUint64(b, d.Revision)
	binary.BigEndian.PutUint64(b[8:], uint64(d.Saved.UnixNano()))
	return append(b, d.Data...)
}

// decodeDoc reads a payload; Data aliases it.
func decodeDoc(payload []byte) (Doc, error) {
	if len(payload) < docHead {
		return Doc{}, fmt.Errorf("%w: %d bytes are too few", errDoc, len(payload))
	}
	return Doc{
		Revision: binary.BigEndian.Uint64(payload),
		Saved:    time.Unix(0, int64(binary.BigEndian.Uint64(payload[8:]))),
		Data:     json.RawMessage(payload[docHead:]),
	}, nil
}

func docKey(kind Kind, id string) []byte {
	return append(append([]byte(kind), 0), id...)
}

func revisionKey(kind Kind, id string, revision uint64) []byte {
	return binary.BigEndian.AppendUint64(append(docKey(kind, id), 0), revision)
}

func checkDoc(kind Kind, id string) error {
	if !kindPattern.MatchString(string(kind)) {
		return fmt.Errorf("%w: kind %q: wanted a lower-case letter, then up to 31 of a-z, 0-9, -", ErrInput, kind)
	}
	return checkPrintable(string(kind)+" id", id)
}

// Put saves data, which must be JSON of at most MaxData bytes, as the newest
// revision of document id. Data equal to what is there makes no new revision.
func (s *Store) Put(ctx context.Context, kind Kind, id string, data []byte) (Doc, error) {
	return s.put(ctx, kind, id, data, func(uint64) bool { return true })
}

// PutIf is [Store.Put] under a condition: the document's present revision must be
// revision, where 0 means that there is none. Otherwise the error wraps
// [ErrConflict].
func (s *Store) PutIf(ctx context.Context, kind Kind, id string, revision uint64, data []byte) (Doc, error) {
	return s.put(ctx, kind, id, data, func(present uint64) bool { return present == revision })
}

func (s *Store) put(ctx context.Context, kind Kind, id string, data []byte, fits func(present uint64) bool) (Doc, error) {
	if err := checkDoc(kind, id); err != nil {
		return Doc{}, err
	}
	if len(data) > MaxData || !json.Valid(data) {
		return Doc{}, fmt.Errorf("%w: %s %q: a document is valid JSON of at most %d bytes, this has %d", ErrInput, kind, id, MaxData, len(data))
	}
	doc := Doc{Kind: kind, ID: id, Saved: time.Unix(0, s.opt.now().UnixNano()), Data: bytes.Clone(data)}
	key, changes := docKey(kind, id), uint64(0)
	var sealed []byte
	r := &request{ctx: ctx, weight: 1}
	r.apply = func(tx *bolt.Tx) (bool, error) {
		register, history := tx.Bucket([]byte(bucketRegister)), tx.Bucket([]byte(bucketHistory))
		changes = register.Sequence()
		present, err := loadDoc(register, key)
		if err != nil && !errors.Is(err, ErrNotFound) {
			return false, err
		}
		ours := sealed != nil && bytes.Equal(register.Get(key), sealed) // from an attempt that failed
		if ours {
			return false, nil
		}
		if !fits(present.Revision) {
			return false, &refusal{fmt.Errorf("%s %q is at revision %d: %w", kind, id, present.Revision, ErrConflict)}
		}
		if err == nil && bytes.Equal(present.Data, data) {
			doc.Revision, doc.Saved = present.Revision, present.Saved
			return false, nil
		}
		newest, err := newestRevision(history, kind, id)
		if err != nil {
			return false, err
		}
		doc.Revision = newest + 1
		payload := encodeDoc(doc)
		sealed = seal(bucketRegister, key, payload)
		if err := register.Put(key, sealed); err != nil {
			return false, err
		}
		rk := revisionKey(kind, id, doc.Revision)
		if err := history.Put(rk, seal(bucketHistory, rk, payload)); err != nil {
			return false, err
		}
		changes++
		return true, register.SetSequence(changes)
	}
	r.present = func(tx *bolt.Tx) bool {
		return sealed != nil && bytes.Equal(tx.Bucket([]byte(bucketRegister)).Get(key), sealed)
	}
	r.durable = func() { s.changes.Store(changes) }
	if a := s.submit(r); a.err != nil {
		return Doc{}, fmt.Errorf("save %s %q: %w", kind, id, a.err)
	}
	doc.Data = bytes.Clone(data)
	return doc, nil
}

// Delete takes document id out of the register. Its history stays. The error
// wraps [ErrNotFound] when there is no such document.
func (s *Store) Delete(ctx context.Context, kind Kind, id string) error {
	if err := checkDoc(kind, id); err != nil {
		return err
	}
	key, changes, deleted := docKey(kind, id), uint64(0), false
	r := &request{ctx: ctx, weight: 1}
	r.apply = func(tx *bolt.Tx) (bool, error) {
		register := tx.Bucket([]byte(bucketRegister))
		changes = register.Sequence()
		if register.Get(key) == nil {
			if deleted {
				return false, nil // by an attempt that failed
			}
			return false, &refusal{ErrNotFound}
		}
		deleted = true
		changes++
		if err := register.Delete(key); err != nil {
			return false, err
		}
		return true, register.SetSequence(changes)
	}
	r.present = func(tx *bolt.Tx) bool { return tx.Bucket([]byte(bucketRegister)).Get(key) == nil }
	r.durable = func() { s.changes.Store(changes) }
	if a := s.submit(r); a.err != nil {
		return fmt.Errorf("delete %s %q: %w", kind, id, a.err)
	}
	return nil
}

// loadDoc reads the document under key; Data lives as long as the transaction.
func loadDoc(register *bolt.Bucket, key []byte) (Doc, error) {
	v := register.Get(key)
	if v == nil {
		return Doc{}, ErrNotFound
	}
	payload, err := unseal(bucketRegister, key, v)
	if err != nil {
		return Doc{}, err
	}
	return decodeDoc(payload)
}

// newestRevision returns the highest revision in the history, 0 when there is
// none.
func newestRevision(history *bolt.Bucket, kind Kind, id string) (uint64, error) {
	prefix := append(docKey(kind, id), 0)
	c := history.Cursor()
	k, _ := c.Seek(revisionKey(kind, id, 1<<64-1))
	if k == nil {
		k, _ = c.Last()
	} else if !bytes.Equal(k, revisionKey(kind, id, 1<<64-1)) {
		k, _ = c.Prev()
	}
	if len(k) != len(prefix)+8 || !bytes.HasPrefix(k, prefix) {
		return 0, nil
	}
	return binary.BigEndian.Uint64(k[len(prefix):]), nil
}

// Get returns the newest revision of document id; the error wraps [ErrNotFound]
// when there is none.
func (s *Store) Get(kind Kind, id string) (Doc, error) {
	docs, err := s.docs(kind, id, bucketRegister, docKey(kind, id), true)
	if err != nil {
		return Doc{}, err
	}
	return docs[0], nil
}

// GetRevision returns one revision of document id, deleted or not.
func (s *Store) GetRevision(kind Kind, id string, revision uint64) (Doc, error) {
	docs, err := s.docs(kind, id, bucketHistory, revisionKey(kind, id, revision), true)
	if err != nil {
		return Doc{}, fmt.Errorf("revision %d: %w", revision, err)
	}
	return docs[0], nil
}

// History returns all revisions of document id, oldest first.
func (s *Store) History(kind Kind, id string) ([]Doc, error) {
	return s.docs(kind, id, bucketHistory, append(docKey(kind, id), 0), false)
}

// List returns the documents of a kind, sorted by id, bytewise.
func (s *Store) List(kind Kind) ([]Doc, error) {
	return s.docs(kind, "", bucketRegister, append([]byte(kind), 0), false)
}

// Kinds lists the kinds of which there are documents, sorted.
func (s *Store) Kinds() (kinds []Kind, err error) {
	err = s.view(func(tx *bolt.Tx) error {
		for k := range eachIn(tx.Bucket([]byte(bucketRegister))) {
			name, _, _ := bytes.Cut(k, []byte{0})
			if n := len(kinds); n == 0 || kinds[n-1] != Kind(name) {
				kinds = append(kinds, Kind(name))
			}
		}
		return nil
	})
	return kinds, err
}

// docs reads the pair under key, or all pairs whose key begins with it. It
// knows the documents' ids from their keys.
func (s *Store) docs(kind Kind, id, bucket string, key []byte, one bool) (docs []Doc, err error) {
	err = s.view(func(tx *bolt.Tx) error {
		c := tx.Bucket([]byte(bucket)).Cursor()
		for k, v := c.Seek(key); bytes.HasPrefix(k, key); k, v = c.Next() {
			if one && len(k) != len(key) {
				break
			}
			if bucket == bucketHistory && !one && len(k) != len(key)+8 {
				continue // the history of another id
			}
			payload, err := unseal(bucket, k, v)
			if err != nil {
				return &DamageError{s.path, []Problem{{What: fmt.Sprintf("%s: key %q: %v", bucket, k, err)}}}
			}
			d, err := decodeDoc(bytes.Clone(payload))
			if err != nil {
				return &DamageError{s.path, []Problem{{What: fmt.Sprintf("%s: key %q: %v", bucket, k, err)}}}
			}
			d.Kind, d.ID = kind, id
			if id == "" {
				d.ID = string(k[len(key):])
			}
			docs = append(docs, d)
			if one {
				break
			}
		}
		return nil
	})
	if err == nil && one && len(docs) == 0 {
		err = fmt.Errorf("%s: %s %q: %w", s.path, kind, id, ErrNotFound)
	}
	return docs, err
}
