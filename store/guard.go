package store

import (
	"fmt"
	"runtime/debug"
)

// panicError is a panic of the library or a fault in its memory map, caught: the
// sign of a damaged page or of a disk that cannot be read.
type panicError struct{ value any }

func (e *panicError) Error() string {
	return fmt.Sprintf("the file cannot be read: %v", e.value)
}

// guard runs fn and turns a panic in it into a *panicError. A fault in the
// memory map (a page that the disk does not give, a file cut off under us) is a
// panic too while fn runs. fn must hold none of the caller's code.
func guard(fn func() error) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if v := recover(); v != nil {
			err = &panicError{v}
		}
	}()
	return fn()
}
