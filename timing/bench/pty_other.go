//go:build !(linux || darwin || freebsd || openbsd || netbsd || dragonfly)

package bench

// OpenPty returns [ErrNoPty] on this system.
func OpenPty() (*Pty, error) { return nil, ErrNoPty }
