package control

import "fmt"

// errSaid is a sentence for the race director.
func errSaid(format string, args ...any) error { return fmt.Errorf(format, args...) }
