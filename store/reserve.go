package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	bolterrors "go.etcd.io/bbolt/errors"
)

// reserveSize is the size of path.reserve, which is deleted when the disk is
// full: room for some 40 000 more records, or for the rest of an evening.
const reserveSize = 4 << 20

func reservePath(path string) string { return path + ".reserve" }

// keepReserve makes the reserve if it is not there whole. Its bytes are no
// zeros, so that a file system cannot store it for nothing.
func keepReserve(path string) error {
	name := reservePath(path)
	if info, err := os.Stat(name); err == nil && info.Size() == reserveSize {
		return nil
	}
	b := make([]byte, reserveSize)
	x := uint32(2463534242) // xorshift32, Marsaglia 2003
	for i := range b {
		x ^= x << 13
		x ^= x >> 17
		x ^= x << 5
		b[i] = byte(x)
	}
	err := writeAtomic(name, b)
	if err != nil && isDiskFull(err) {
		_ = os.Remove(name)
	}
	return err
}

// dropReserve deletes the reserve and reports whether there was one.
func dropReserve(path string) bool {
	err := os.Remove(reservePath(path))
	if err != nil {
		return false
	}
	_ = syncDir(filepath.Dir(path))
	return true
}

// diskFullTexts are what the operating systems say; the library wraps some
// failures to grow the file as plain text, which errors.Is cannot see through.
var diskFullTexts = []string{
	"no space left on device",
	"disk quota exceeded",
	"file too large",
	"not enough space on the disk",
	"disk is full",
}

// isDiskFull reports whether err means that the disk, a quota or a size limit
// is exhausted.
func isDiskFull(err error) bool {
	if err == nil || errors.Is(err, fs.ErrNotExist) {
		return false
	}
	var errno syscall.Errno
	if errors.As(err, &errno) && fullErrno(errno) {
		return true
	}
	if errors.Is(err, bolterrors.ErrMaxSizeReached) || errors.Is(err, ErrDiskFull) {
		return true
	}
	text := strings.ToLower(err.Error())
	for _, t := range diskFullTexts {
		if strings.Contains(text, t) {
			return true
		}
	}
	return false
}
