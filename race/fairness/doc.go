// Package fairness audits a night after it was raced: how complete the rotation
// was, what lanes and the evening gave or cost each driver, which places rest on
// that, and how sure the order is.
//
// The official result is handed in and never changed. What is worked out here is
// information beside it.
package fairness

import "errors"

// ErrBadInput is wrapped by every error of this package.
var ErrBadInput = errors.New("cannot be audited")
