package store

import (
	"os"

	bolt "go.etcd.io/bbolt"
)

// faults lets the package's own tests stand between the store and the
// operating system. It is nil outside of them.
type faults struct {
	open      func(string, int, os.FileMode) (*os.File, error)
	opened    func(*bolt.DB, *os.File) // after each opening for writing
	noReserve bool
	size      int                     // bbolt's MaxSize: a disk that ends here
	before    func(batch int) error   // in place of a commit that fails before it wrote
	after     func(batch int) error   // a commit that was written, yet reports failure
	reopen    func(attempt int) error // before the file is opened again
}

func (f *faults) openFile(name string, flag int, mode os.FileMode) (*os.File, error) {
	if f != nil && f.open != nil {
		return f.open(name, flag, mode)
	}
	return os.OpenFile(name, flag, mode)
}

func (f *faults) maxSize() int {
	if f == nil {
		return 0
	}
	return f.size
}
