package race

import (
	"errors"
	"fmt"
)

// ErrOutOfTurn is wrapped by the error of an event that does not apply in the phase it met.
var ErrOutOfTurn = errors.New("out of turn")

// ErrUnknown is wrapped by the error of an event that names a heat, lane, driver, pass or question that is not there.
var ErrUnknown = errors.New("not in this night")

// ErrRule is wrapped by the error of a value that the rule card or plain sense does not allow.
var ErrRule = errors.New("not allowed")

// ApplyError says which event did not apply and why. The night is as it was before.
type ApplyError struct {
	Seq   uint64
	Kind  Kind
	Phase Phase
	Err   error
}

// Error is a sentence for the race director.
func (e *ApplyError) Error() string { return e.Err.Error() }

// Unwrap gives the reason, which wraps [ErrOutOfTurn], [ErrUnknown] or [ErrRule].
func (e *ApplyError) Unwrap() error { return e.Err }

// fault is a sentence that wraps one of the reasons without repeating it.
type fault struct {
	text   string
	reason error
}

func (f *fault) Error() string { return f.text }
func (f *fault) Unwrap() error { return f.reason }

func outOfTurn(format string, args ...any) error {
	return &fault{fmt.Sprintf(format, args...), ErrOutOfTurn}
}
func unknown(format string, args ...any) error {
	return &fault{fmt.Sprintf(format, args...), ErrUnknown}
}
func against(format string, args ...any) error { return &fault{fmt.Sprintf(format, args...), ErrRule} }

func cardError(field string, got any, want string) error {
	return against("rule card: %s is %v, expected %s", field, got, want)
}

func oneOf(s string, words ...string) bool {
	for _, w := range words {
		if s == w {
			return true
		}
	}
	return false
}
