package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	bolt "go.etcd.io/bbolt"
)

// BackupInfo says what a backup holds.
type BackupInfo struct {
	Path    string
	Records uint64 // over all nights
	Bytes   int64
	Took    time.Duration
}

// inMemory is the size up to which a backup is copied through memory, so that a
// slow stick does not keep a read transaction open.
const inMemory = 64 << 20

// Backup writes a copy of the store, as of one moment, to dst while racing goes
// on. The copy is written under another name, synced, scanned like any store
// that is opened, and compared with the journals; only then does it become dst.
//
// An older backup of the same store at dst is replaced, at that last moment.
// Anything else there is left alone: [ErrOtherFile] for another store or a
// file with more in it, [ErrNotStore] for a foreign file, [ErrHeld]. A damaged
// backup of any store is set aside under another name.
func (s *Store) Backup(ctx context.Context, dst string) (info BackupInfo, err error) {
	began := time.Now()
	fail := func(err error) (BackupInfo, error) {
		if isDiskFull(err) && !errors.Is(err, ErrDiskFull) {
			err = fmt.Errorf("%w (%w)", ErrDiskFull, err)
		}
		return BackupInfo{}, fmt.Errorf("back up %s to %s: %w", s.path, dst, err)
	}
	s.backupMu.Lock()
	defer s.backupMu.Unlock()
	damaged, err := s.mayReplace(dst)
	if err != nil {
		return fail(err)
	}
	before, changes := s.lasts(), s.changes.Load()
	removeAll(dst, ".part-*") // what a killed backup has left behind
	f, err := os.CreateTemp(filepath.Dir(dst), filepath.Base(dst)+".part-*")
	if err != nil {
		return fail(err)
	}
	temp := f.Name()
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(temp)
		}
	}()
	if err := s.copyTo(ctx, f); err != nil {
		return fail(err)
	}
	if err := f.Sync(); err != nil {
		return fail(err)
	}
	size, err := f.Seek(0, io.SeekEnd)
	if err != nil {
		return fail(err)
	}
	look, err := surveyFile(f, size, nil)
	if err != nil {
		return fail(err)
	}
	if len(look.problems) > 0 {
		return fail(&DamageError{temp, look.problems})
	}
	want := newSide(s.doc.FileID, before, changes, 0)
	if less := want.compare(look.lasts(), look.changes); less != "" || look.doc.FileID != s.doc.FileID {
		return fail(fmt.Errorf("%w: the copy lacks something: %s", ErrDamaged, less))
	}
	if err := f.Close(); err != nil {
		return fail(err)
	}
	if damaged {
		if _, err := setAside(dst, "damaged"); err != nil {
			return fail(err)
		}
	}
	if err := os.Rename(temp, dst); err != nil {
		return fail(err)
	}
	if err := syncDir(filepath.Dir(dst)); err != nil {
		return fail(err)
	}
	if err := newSide(s.doc.FileID, look.lasts(), look.changes, s.opt.now().UnixNano()).write(dst); err != nil {
		return fail(err)
	}
	r := look.report(dst, size, 0)
	return BackupInfo{Path: dst, Records: r.Records(), Bytes: size, Took: time.Since(began)}, nil
}

// copyTo writes the whole store, as of one moment, to w.
func (s *Store) copyTo(ctx context.Context, w io.Writer) error {
	var image bytes.Buffer
	var size int64
	err := s.steadyView(func(tx *bolt.Tx) error {
		if size = tx.Size(); size > inMemory {
			_, err := tx.WriteTo(stoppable{ctx, w})
			return err
		}
		_, err := tx.WriteTo(&image)
		return err
	})
	if err != nil || size > inMemory {
		return err
	}
	_, err = io.Copy(stoppable{ctx, w}, &image)
	return err
}

// stoppable is a writer that fails once its context has ended.
type stoppable struct {
	ctx context.Context
	w   io.Writer
}

func (s stoppable) Write(b []byte) (int, error) {
	if err := s.ctx.Err(); err != nil {
		return 0, err
	}
	return s.w.Write(b)
}

// mayReplace decides whether a backup may take the name dst, and whether what is
// there is damaged.
func (s *Store) mayReplace(dst string) (damaged bool, err error) {
	info, err := os.Stat(dst)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	if own, err := os.Stat(s.path); err == nil && os.SameFile(own, info) {
		return false, fmt.Errorf("%w: that is the store itself", ErrInput)
	}
	if info.Mode().IsRegular() && info.Size() == 0 {
		return false, nil // a name somebody made for us
	}
	r, err := Check(dst)
	if err != nil {
		return false, err
	}
	if !r.Good() {
		return true, nil
	}
	if r.FileID != s.doc.FileID {
		return false, fmt.Errorf("%w is there already (store %s, this is %s); name another place", ErrOtherFile, short(r.FileID), short(s.doc.FileID))
	}
	lasts := s.lasts()
	for _, n := range r.Nights {
		if lasts[n.Number] < n.Last {
			return false, fmt.Errorf("%w is there already: it has %d records of night %q, this store %d; name another place", ErrOtherFile, n.Last, n.ID, lasts[n.Number])
		}
	}
	return false, nil
}
