package main

import (
	"context"
	"errors"
)

// The exit codes of every command.
const (
	exitDone        = 0
	exitNo          = 1   // the answer is no: a layout that does not close, a store that fails its check
	exitWrong       = 2   // the command line or a file is wrong
	exitPort        = 3   // a counter or port cannot be used
	exitInterrupted = 130 // stopped from the keyboard
)

// answerNo is returned by a command that did its work and whose answer is no. It prints nothing further.
var errAnswerNo = errors.New("the answer is no")

// portError marks an error of a counter or its port.
type portError struct{ err error }

func (e *portError) Error() string { return e.err.Error() }
func (e *portError) Unwrap() error { return e.err }

// exitCode maps what a command returned to what the process returns.
func exitCode(ctx context.Context, err error) int {
	var port *portError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errAnswerNo):
		return exitNo
	case ctx.Err() != nil:
		return exitInterrupted
	case errors.As(err, &port):
		return exitPort
	}
	return exitWrong
}
