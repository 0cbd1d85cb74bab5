package seeding

import (
	"flag"

	_ "pgregory.net/rapid" // defines the flag
)

// The properties are tried with the same cases every time, so that a check depends on the code alone; -rapid.seed gives others.
func init() {
	if err := flag.Set("rapid.seed", "20261128"); err != nil {
		panic(err)
	}
}
