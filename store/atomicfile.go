package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
)

// writeAtomic puts data at path so that after a crash either the old or the new
// content is there, whole.
func writeAtomic(path string, data []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".part-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if _, err = f.Write(data); err != nil {
		return err
	}
	if err = f.Sync(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	if err = os.Rename(f.Name(), path); err != nil {
		return err
	}
	return syncDir(filepath.Dir(path))
}

// placeNew gives the finished, synced file temp the name path, which must be
// free: it fails with fs.ErrExist rather than replace anything. Where the file
// system has no hard links there is a short moment in which another program
// could take the name.
func placeNew(temp, path string) error {
	err := os.Link(temp, path)
	switch {
	case err == nil:
		_ = os.Remove(temp)
	case errors.Is(err, fs.ErrExist):
		return err
	default:
		if _, serr := os.Lstat(path); serr == nil {
			return &os.PathError{Op: "create", Path: path, Err: fs.ErrExist}
		}
		if err := os.Rename(temp, path); err != nil {
			return err
		}
	}
	return syncDir(filepath.Dir(path))
}

// setAside renames path to path.word-1 (or -2, ...), whichever is free, and
// returns the new name.
func setAside(path, word string) (string, error) {
	for i := 1; ; i++ {
		to := path + "." + word + "-" + strconv.Itoa(i)
		if _, err := os.Lstat(to); err == nil {
			continue
		} else if !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		if err := os.Rename(path, to); err != nil {
			return "", err
		}
		return to, syncDir(filepath.Dir(path))
	}
}
