package score

import (
	"errors"
	"fmt"
	"time"
)

// ErrBadInput is wrapped by every error of this package: the caller handed in
// something that no heat, card or season can contain.
var ErrBadInput = errors.New("cannot be scored")

// Status says how a stint, or a driver's round, ended.
type Status int

const (
	Finished     Status = iota // ran to the end
	Stopped                    // stopped early; keeps what was driven
	DidNotStart                // scores nothing
	Void                       // does not count at all; a re-run replaces it
	Disqualified               // scores nothing, and in a season may not be dropped
	Absent                     // season only: was not at the round; scores nothing, may be dropped
)

var statusNames = [...]string{"finished", "stopped", "did not start", "void", "disqualified", "absent"}

// String returns the status in plain words, as printed on a sheet.
func (s Status) String() string {
	if s < 0 || int(s) >= len(statusNames) {
		return fmt.Sprintf("status %d", int(s))
	}
	return statusNames[s]
}

// ParseStatus is the inverse of [Status.String].
func ParseStatus(word string) (Status, error) {
	for i, n := range statusNames {
		if n == word {
			return Status(i), nil
		}
	}
	return 0, fmt.Errorf("score: status %q %w: expected one of %q", word, ErrBadInput, statusNames)
}

// MarshalText writes the status as its words.
func (s Status) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what [Status.MarshalText] wrote.
func (s *Status) UnmarshalText(b []byte) error {
	v, err := ParseStatus(string(b))
	if err == nil {
		*s = v
	}
	return err
}

// Stint is what one driver did on one lane in one heat.
type Stint struct {
	Heat, Lane int // for the reader; no rule looks at them

	Laps int   // whole laps counted, after rulings; negative after a lap taken from none
	Part int   // part lap in parts, 0 to resolution-1
	Cost Parts // penalties in parts, 0 or more, subtracted

	// LastPass is the time from the start of the heat to the last counted
	// pass, track calls left out; 0 when nothing was counted.
	LastPass time.Duration

	// BestLaps holds lap times, quickest first. It may be cut short: a tie is
	// then looked for only as deep as the list goes.
	BestLaps []time.Duration

	// Length is how long the heat ran, 0 for the length on the rule card. It
	// is only needed when heats of one sheet ran for different times.
	Length time.Duration

	Status Status
}

// Counts reports whether the stint adds to a total (even if it adds nothing).
func (s Stint) Counts() bool { return s.Status != Void }

// scores reports whether laps and lap times of the stint may be used.
func (s Stint) scores() bool { return s.Status == Finished || s.Status == Stopped }

// Score returns the parts that the stint adds to a total under a resolution: laps and part
// lap less penalties, 0 for a stint that did not start, was disqualified or is
// void. It may be negative: a jump start can cost more than was driven.
func (s Stint) Score(resolution int) Parts {
	if !s.scores() {
		return 0
	}
	return Parts(s.Laps)*Parts(resolution) + Parts(s.Part) - s.Cost
}

// check refuses values that no heat can have. The bounds keep sums far inside
// 64 bits.
func (s Stint) check(driver string, resolution int) error {
	const lapsMax = 1_000_000
	bad := func(what string, got any, want string) error {
		return fmt.Errorf("score: driver %s, heat %d, lane %d: %s %v %w: expected %s; correct the stint",
			driver, s.Heat, s.Lane, what, got, ErrBadInput, want)
	}
	switch {
	case s.Status < Finished || s.Status > Disqualified:
		return bad("status", s.Status, "finished, stopped, did not start, void or disqualified")
	case s.Laps < -lapsMax || s.Laps > lapsMax:
		return bad("laps", s.Laps, fmt.Sprintf("at most %d either way", lapsMax))
	case s.Part < 0 || s.Part >= resolution:
		return bad("part lap", s.Part, fmt.Sprintf("0 to %d", resolution-1))
	case s.Cost < 0 || s.Cost > lapsMax*Parts(resolution):
		return bad("penalty", s.Cost, "0 or more parts of a lap")
	case s.LastPass < 0 || s.LastPass > maxHeat:
		return bad("last pass", s.LastPass, "0 to 1000 hours")
	case s.Length < 0 || s.Length > maxHeat:
		return bad("heat length", s.Length, "0 to 1000 hours")
	}
	for i, l := range s.BestLaps {
		if l <= 0 {
			return bad("lap time", l, "more than 0")
		}
		if i > 0 && l < s.BestLaps[i-1] {
			return bad("best laps", s.BestLaps, "quickest first")
		}
	}
	return nil
}

// maxHeat bounds one heat; thousands of them still add up inside 64 bits.
const maxHeat = 1000 * time.Hour
