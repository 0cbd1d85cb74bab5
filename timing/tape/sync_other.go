//go:build !linux

package tape

import "os"

type datasync struct{ *os.File }
