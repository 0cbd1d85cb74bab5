package rotation

import (
	"errors"
	"fmt"
	"strings"
)

// ErrProblem is wrapped by every error about what was asked for.
var ErrProblem = errors.New("rotation cannot be drawn")

// badError is one sentence about what is wrong with a problem.
type badError struct{ text string }

func (e *badError) Error() string { return "rotation: " + e.text }
func (e *badError) Unwrap() error { return ErrProblem }

func badf(format string, args ...any) error { return &badError{fmt.Sprintf(format, args...)} }

// ContradictionError names wishes that cannot hold together: leaving out any
// one of them would do (as far as the reason given shows). It wraps
// [ErrProblem].
type ContradictionError struct {
	Wishes []string
	Why    string
}

func (e *ContradictionError) Error() string {
	if len(e.Wishes) == 1 {
		return fmt.Sprintf("rotation: the wish that %s cannot be kept: %s", e.Wishes[0], e.Why)
	}
	return fmt.Sprintf("rotation: wishes contradict each other (%s): %s", strings.Join(e.Wishes, "; "), e.Why)
}

func (e *ContradictionError) Unwrap() error { return ErrProblem }
