//go:build !windows

package store

import "syscall"

func fullErrno(e syscall.Errno) bool {
	return e == syscall.ENOSPC || e == syscall.EDQUOT || e == syscall.EFBIG
}
