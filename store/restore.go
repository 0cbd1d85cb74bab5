package store

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// RestoreOptions are the choices at [Restore].
type RestoreOptions struct {
	Replace bool          // a store at the destination is set aside; without it, it is an error
	Wait    time.Duration // for the lock of a store at the destination; 0 means 0.3 s
}

// RestoreInfo says what [Restore] did.
type RestoreInfo struct {
	Report Report // of the restored store
	Kept   string // new name of the store that was at the destination, "" if there was none
}

// Restore puts a copy of the backup src at dst, after a full scan of both
// backup and copy. A file that is already at dst is an error that wraps
// [ErrExists] unless opt.Replace is set; then it is kept under another name.
// A backup with damage is refused ([ErrDamaged]); salvage it first.
func Restore(src, dst string, opt RestoreOptions) (info RestoreInfo, err error) {
	fail := func(err error) (RestoreInfo, error) {
		return RestoreInfo{}, fmt.Errorf("restore %s to %s: %w", src, dst, err)
	}
	from, err := Check(src)
	if err != nil {
		return fail(err)
	}
	if !from.Good() {
		return fail(&DamageError{src, from.Problems})
	}
	there, err := os.Stat(dst)
	exists := err == nil
	switch {
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return fail(err)
	case exists && !opt.Replace:
		return fail(fmt.Errorf("%w: there is a file at the destination; say that it shall be replaced (it is kept under another name)", ErrExists))
	case exists && !there.Mode().IsRegular():
		return fail(fmt.Errorf("%w: the destination is no plain file", ErrInput))
	case exists:
		if own, err := os.Stat(src); err == nil && os.SameFile(own, there) {
			return fail(fmt.Errorf("%w: backup and destination are the same file", ErrInput))
		}
		if err := notHeld(dst, opt.Wait); err != nil {
			return fail(err)
		}
	}
	temp, err := copyBeside(src, dst)
	if err != nil {
		return fail(err)
	}
	defer func() {
		if err != nil {
			os.Remove(temp)
		}
	}()
	f, err := os.Open(temp)
	if err != nil {
		return fail(err)
	}
	look, err := surveyFile(f, from.Bytes, nil)
	f.Close()
	if err != nil {
		return fail(err)
	}
	got := look.report(dst, from.Bytes, 0)
	if len(look.problems) > 0 || got.Records() != from.Records() || got.FileID != from.FileID {
		return fail(&DamageError{temp, append(look.problems, Problem{What: fmt.Sprintf("the copy has %d of %d records", got.Records(), from.Records())})})
	}
	kept := ""
	if exists {
		if kept, err = swapIn(temp, dst); err != nil {
			return fail(err)
		}
	} else if err = placeNew(temp, dst); err != nil {
		return fail(err)
	}
	if err = newSide(look.doc.FileID, look.lasts(), look.changes, time.Now().UnixNano()).write(dst); err != nil {
		return fail(err)
	}
	return RestoreInfo{got, kept}, nil
}

// notHeld returns a *HeldError when another program has the store at path open,
// damaged or not.
func notHeld(path string, wait time.Duration) error {
	if wait <= 0 {
		wait = lookWait
	}
	s := &Store{path: path, opt: Options{ReadOnly: true, Wait: wait}}
	err := s.openDB(true)
	s.release()
	if errors.Is(err, ErrHeld) {
		return err
	}
	return nil
}

// copyBeside copies src to a synced temporary file beside dst.
func copyBeside(src, dst string) (temp string, err error) {
	in, err := os.Open(src)
	if err != nil {
		return "", err
	}
	defer in.Close()
	out, err := os.CreateTemp(filepath.Dir(dst), filepath.Base(dst)+".new-*")
	if err != nil {
		return "", err
	}
	_, err = io.Copy(out, in)
	if err == nil {
		err = out.Sync()
	}
	if cerr := out.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		os.Remove(out.Name())
	}
	return out.Name(), err
}

// swapIn gives temp the name dst and keeps the file that has it under another
// name, with its side file. Where there are hard links there is no moment
// without a store at dst; elsewhere the old side file still stands there in that
// moment, so that no fresh store is made in silence.
func swapIn(temp, dst string) (kept string, err error) {
	for i := 1; ; i++ {
		kept = fmt.Sprintf("%s.before-restore-%d", dst, i)
		if _, serr := os.Lstat(kept); serr == nil {
			continue
		}
		err = os.Link(dst, kept)
		break
	}
	if err != nil {
		if kept, err = setAside(dst, "before-restore"); err != nil {
			return "", err
		}
	}
	if b, rerr := os.ReadFile(sidePath(dst)); rerr == nil {
		if err := writeAtomic(sidePath(kept), b); err != nil {
			return "", err
		}
	}
	if err := os.Rename(temp, dst); err != nil {
		return "", err
	}
	return kept, syncDir(filepath.Dir(dst))
}
