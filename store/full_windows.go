package store

import "syscall"

// fullErrno knows ERROR_HANDLE_DISK_FULL (39) and ERROR_DISK_FULL (112).
func fullErrno(e syscall.Errno) bool { return e == 39 || e == 112 }
