package control

import (
	"testing"

	"lanewright/race"
)

func TestDrawSaysNames(t *testing.T) {
	drivers := []race.Driver{{Number: 1, Name: "Ann"}, {Number: 2, Name: "Ben"}, {Number: 3}}
	for line, want := range map[string]string{
		"Driver 2 came after heat 1.":                      "Ben came after heat 1.",
		"Only drivers 1, 2 have driven it; heat 3 is void": "Only Ann, Ben have driven it; heat 3 is void",
		"driver 3 and driver 9":                            "driver 3 and driver 9",
		"Lane 2 is closed":                                 "Lane 2 is closed",
	} {
		if got := withNames([]string{line}, drivers)[0]; got != want {
			t.Errorf("%q became %q, want %q", line, got, want)
		}
	}
}
