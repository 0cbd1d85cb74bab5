package score

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"strings"
	"time"
)

// Tie is one step of the chain by which two drivers are told apart. The first
// step of a chain is the score itself.
type Tie int

const (
	// ByTotal: more laps and parts, penalties taken off, is better.
	ByTotal Tie = iota
	// ByRate: more parts per second of heat is better; compared as an exact
	// fraction. For sheets whose heats ran for different times.
	ByRate
	// ByLaps: more whole laps is better; part laps and penalties that are not
	// whole laps are left out (a penalty counts rounded up to whole laps).
	ByLaps
	// ByPart: the longer sum of part laps is better.
	ByPart
	// ByLastPass: the earlier last counted pass is better, summed over the
	// stints. A driver without any pass is behind everybody with one.
	ByLastPass
	// ByBestStint: the best single stint.
	ByBestStint
	// ByNextStints: the second best stint, then the third, and so on.
	ByNextStints
	// ByBestLap: the quickest lap.
	ByBestLap
	// BySecondLap: the second quickest lap.
	BySecondLap
	// ByNextLaps: the second quickest lap, then the third, and so on.
	ByNextLaps
	// ByLot: drawn from the seed on the rule card and the driver's id.
	ByLot
)

var tieNames = [...]string{"total", "rate", "laps", "part lap", "last pass", "best stint", "next stints", "best lap", "second lap", "next laps", "lot"}

// String returns the step as written on a rule card.
func (t Tie) String() string {
	if t < 0 || int(t) >= len(tieNames) {
		return fmt.Sprintf("tie step %d", int(t))
	}
	return tieNames[t]
}

// ParseTie is the inverse of [Tie.String].
func ParseTie(word string) (Tie, error) {
	for i, n := range tieNames {
		if n == word {
			return Tie(i), nil
		}
	}
	return 0, fmt.Errorf("score: tie step %q %w: expected one of %s", word, ErrBadInput, strings.Join(tieNames[:], ", "))
}

// MarshalText writes the step as its words.
func (t Tie) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// UnmarshalText reads what [Tie.MarshalText] wrote.
func (t *Tie) UnmarshalText(b []byte) error {
	v, err := ParseTie(string(b))
	if err == nil {
		*t = v
	}
	return err
}

// TimedChain is a usual chain for timed heats: total, best stint, best lap,
// second lap, then a shared place. Common practice, no source.
func TimedChain() []Tie { return []Tie{ByTotal, ByBestStint, ByBestLap, BySecondLap} }

// LapRaceChain is the chain for a race to a number of laps: laps, then the
// earlier last pass.
func LapRaceChain() []Tie { return []Tie{ByTotal, ByLastPass} }

// QualifyingChain orders by best lap, then second best, third best and so on.
func QualifyingChain() []Tie { return []Tie{ByBestLap, ByNextLaps} }

// tally is one driver's stints boiled down to what the chain looks at.
type tally struct {
	driver string
	total  Parts
	laps   int64
	part   int64
	last   time.Duration
	passed bool
	length time.Duration
	stints []Parts         // best first, counted stints only
	best   []time.Duration // quickest first
	lot    uint64
}

func newTally(driver string, stints []Stint, rule Rule) tally {
	t := tally{driver: driver}
	res := Parts(rule.Resolution)
	for _, s := range stints {
		if !s.Counts() {
			continue
		}
		t.length += s.Length
		t.stints = append(t.stints, s.Score(rule.Resolution))
		if !s.scores() {
			continue
		}
		t.total += s.Score(rule.Resolution)
		t.laps += int64(s.Laps) - int64((s.Cost+res-1)/res)
		t.part += int64(s.Part)
		t.last += s.LastPass
		t.passed = t.passed || s.LastPass > 0
		t.best = append(t.best, s.BestLaps...)
	}
	slices.SortFunc(t.stints, func(a, b Parts) int { return cmp.Compare(b, a) })
	slices.Sort(t.best)
	if rule.Lot != nil {
		t.lot = draw(*rule.Lot, driver)
	}
	return t
}

// draw gives each driver a ticket that depends on the seed and on nothing but
// his own id, so that neither the order of entry nor other names change it.
// FNV-1a over the id, then the finishing steps of SplitMix64 (Steele, Lea,
// Flood 2014) with the seed.
func draw(seed uint64, driver string) uint64 {
	h := uint64(14695981039346656037)
	for i := 0; i < len(driver); i++ {
		h = (h ^ uint64(driver[i])) * 1099511628211
	}
	z := h + seed*0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// compare returns -1 when a is ahead of b by this step, 1 when behind, 0 when
// the step cannot tell.
func (step Tie) compare(a, b *tally) int {
	switch step {
	case ByTotal:
		return cmp.Compare(b.total, a.total)
	case ByRate:
		return compareRate(a, b)
	case ByLaps:
		return cmp.Compare(b.laps, a.laps)
	case ByPart:
		return cmp.Compare(b.part, a.part)
	case ByLastPass:
		if a.passed != b.passed {
			if a.passed {
				return -1
			}
			return 1
		}
		return cmp.Compare(a.last, b.last)
	case ByBestStint:
		return compareBest(first(a.stints, 0, 1), first(b.stints, 0, 1), true)
	case ByNextStints:
		return compareBest(first(a.stints, 1, -1), first(b.stints, 1, -1), true)
	case ByBestLap:
		return compareBest(first(a.best, 0, 1), first(b.best, 0, 1), false)
	case BySecondLap:
		return compareBest(first(a.best, 1, 2), first(b.best, 1, 2), false)
	case ByNextLaps:
		return compareBest(first(a.best, 1, -1), first(b.best, 1, -1), false)
	case ByLot:
		return cmp.Compare(a.lot, b.lot)
	}
	return 0
}

// compareRate compares total/length by cross-multiplying; a driver without
// heat time has rate 0.
func compareRate(a, b *tally) int {
	side := func(total Parts, length time.Duration) *big.Int {
		return new(big.Int).Mul(big.NewInt(int64(total)), big.NewInt(int64(length)))
	}
	switch {
	case a.length == 0 && b.length == 0:
		return 0
	case a.length == 0:
		return cmp.Compare(b.total, 0)
	case b.length == 0:
		return cmp.Compare(0, a.total)
	}
	return side(b.total, a.length).Cmp(side(a.total, b.length))
}

// first returns s[from:to], cut to what is there; to < 0 means to the end.
func first[T any](s []T, from, to int) []T {
	if to < 0 || to > len(s) {
		to = len(s)
	}
	if from > to {
		return nil
	}
	return s[from:to]
}

// compareBest compares two lists, best first; the first difference decides,
// and having a further entry is better than having none.
func compareBest[T cmp.Ordered](a, b []T, more bool) int {
	for i := range min(len(a), len(b)) {
		c := cmp.Compare(a[i], b[i])
		if more {
			c = -c
		}
		if c != 0 {
			return c
		}
	}
	return cmp.Compare(len(b), len(a))
}
