package main

import (
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// TestMain lets the test binary play the program: scripts and tests start it as "lanewright", in a process of its own.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"lanewright": main})
}
