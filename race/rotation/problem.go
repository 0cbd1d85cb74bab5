package rotation

import (
	"fmt"
	"sort"
	"strings"
)

// Limits of a problem. They are what a club can run in an evening, with room
// to spare.
const (
	DriversMax = 60
	LanesMax   = 8
	RoundsMax  = 3
	PostsMax   = 16
	HeatsMax   = 256 // heats of an evening, re-draws and added heats included
)

// Criterion is one way in which a draw can be fair. Wishes that must hold come
// before all of them.
type Criterion int

const (
	Opponents Criterion = iota // every pair meets as equally often as arithmetic allows
	Waiting                    // no long idle, no three in a row, even gaps
	Evening                    // mean heat number of each driver, and of the lanes he gets, balanced
	Moves                      // who takes over a lane from whom, and which lane comes after which
	Marshals                   // posts staffed equally often, not in the heat before one's own
)

// LaneCosts comes before all others in a short rotation, where lanes cost
// something; it is no part of an order of importance.
const LaneCosts Criterion = 5

var criterionWords = [...]string{"opponents", "waiting", "evening", "moves", "marshals"}

// String returns the word used on screen and in files.
func (c Criterion) String() string {
	if c == LaneCosts {
		return "lane costs"
	}
	if c < 0 || int(c) >= len(criterionWords) {
		return fmt.Sprintf("criterion %d", int(c))
	}
	return criterionWords[c]
}

// DefaultOrder is the order of importance when a night sheet gives none.
func DefaultOrder() []Criterion {
	return []Criterion{Opponents, Waiting, Evening, Moves, Marshals}
}

// ParseOrder reads an order of importance such as "waiting,opponents". Letters
// a to e stand for the criteria in their default order. Criteria that are not
// named follow in the default order.
func ParseOrder(s string) ([]Criterion, error) {
	var order []Criterion
	for _, word := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' }) {
		c := Criterion(-1)
		for i, w := range criterionWords {
			if strings.EqualFold(word, w) || strings.EqualFold(word, string(rune('a'+i))) {
				c = Criterion(i)
			}
		}
		if c < 0 {
			return nil, badf("order %q: %q is no criterion; expected some of %s", s, word, strings.Join(criterionWords[:], ", "))
		}
		order = append(order, c)
	}
	return completeOrder(order)
}

func completeOrder(order []Criterion) ([]Criterion, error) {
	var seen [len(criterionWords)]bool
	out := make([]Criterion, 0, len(criterionWords))
	for _, c := range order {
		if c < 0 || int(c) >= len(criterionWords) {
			return nil, badf("order: %v does not exist; expected some of %s", c, strings.Join(criterionWords[:], ", "))
		}
		if seen[c] {
			return nil, badf("order: %v is named twice; name each criterion once", c)
		}
		seen[c] = true
		out = append(out, c)
	}
	for _, c := range DefaultOrder() {
		if !seen[c] {
			out = append(out, c)
		}
	}
	return out, nil
}

// Kind is the way a draw is made.
type Kind int

const (
	Balanced   Kind = iota // the fairest draw that is found
	RollingOn              // everybody moves one place along a fixed circle each heat
	ShortKind              // only some of the lanes, or only so many heats
	redrawKind             // the rest of an evening that has begun
)

var kindWords = [...]string{"balanced", "rolling", "short", "redraw"}

// String returns the word used on the command line and in files.
func (k Kind) String() string {
	if k < 0 || int(k) >= len(kindWords) {
		return fmt.Sprintf("kind %d", int(k))
	}
	return kindWords[k]
}

// ParseKind reads "balanced", "rolling" or "short".
func ParseKind(s string) (Kind, error) {
	for i, w := range kindWords[:3] {
		if s == w {
			return Kind(i), nil
		}
	}
	return 0, badf("kind %q is unknown; expected balanced, rolling or short", s)
}

// Problem says what is to be drawn. Drivers, lanes and heats count from 1.
type Problem struct {
	Kind    Kind
	Drivers int // 1..60
	Lanes   int // lanes of the track, 1..8
	Rounds  int // times each driver drives each lane, 1..3; 0 means 1

	// Closed lists lanes that are not used at all.
	Closed []int

	// LanesEach and Heats are for ShortKind, and one of them is needed:
	// heats driven by each driver, each on another lane as long as there are
	// any; or the heats there is time for.
	LanesEach int
	Heats     int

	// Costs says what each lane of the track costs, in seconds a lap (or any
	// other unit that adds up); nil when nothing is known. Only differences
	// count.
	Costs []float64

	// SitOut places the sit-out places of RollingOn in the circle: each entry
	// is the number of lanes of the circle after which one place lies (0
	// before the first, L after the last). Nil puts all after the last lane.
	SitOut []int

	Posts     int         // marshals' posts to be staffed in each heat
	Order     []Criterion // order of importance; missing criteria follow in the default order
	Wishes    Wishes
	Stability int    // for Redraw: what a changed seat weighs, 0..100
	Seed      uint64 // the same problem with the same seed gives the same draw
	Effort    int    // multiplies the moves of every search; 0 means 1
}

// Wishes must hold. Heat numbers are those of the evening, from 1.
type Wishes struct {
	Share []Share // pairs of drivers who share a car
	Stay  []Stay  // drivers who come late or leave early
	Bar   []Bar   // lanes that a driver cannot use
	First []int   // who drives the first heat, from lane 1; 0 leaves a seat open. Empty: no wish
}

// Share is a pair that never drives in the same heat, as they share a car. With
// Between there is also a heat between, so that the car can be handed over.
type Share struct {
	A, B    int
	Between bool
}

// Stay says that a driver drives no heat before From and none after Until. 0
// leaves that side open.
type Stay struct{ Driver, From, Until int }

// Bar is a lane that a driver cannot use; he drives one lane less.
type Bar struct{ Driver, Lane int }

func (s Share) String() string {
	if s.Between {
		return fmt.Sprintf("drivers %d and %d share a car and need a heat between", s.A, s.B)
	}
	return fmt.Sprintf("drivers %d and %d share a car", s.A, s.B)
}

func (s Stay) String() string {
	switch {
	case s.Until == 0:
		return fmt.Sprintf("driver %d drives from heat %d on", s.Driver, s.From)
	case s.From <= 1:
		return fmt.Sprintf("driver %d drives up to heat %d", s.Driver, s.Until)
	}
	return fmt.Sprintf("driver %d drives from heat %d to heat %d", s.Driver, s.From, s.Until)
}

func (b Bar) String() string { return fmt.Sprintf("driver %d cannot use lane %d", b.Driver, b.Lane) }

// normal returns p with defaults filled in, or what is wrong with it.
func (p Problem) normal() (Problem, error) {
	if p.Drivers < 1 || p.Drivers > DriversMax {
		return p, badf("%d drivers: expected 1 to %d; enter drivers first, or split a larger field into groups", p.Drivers, DriversMax)
	}
	if p.Lanes < 1 || p.Lanes > LanesMax {
		return p, badf("%d lanes: expected 1 to %d", p.Lanes, LanesMax)
	}
	if p.Rounds == 0 {
		p.Rounds = 1
	}
	if p.Rounds < 1 || p.Rounds > RoundsMax {
		return p, badf("%d rounds: expected 1 to %d", p.Rounds, RoundsMax)
	}
	if p.Kind < Balanced || p.Kind > ShortKind {
		return p, badf("kind %d is unknown", int(p.Kind))
	}
	if p.Posts < 0 || p.Posts > PostsMax {
		return p, badf("%d marshals' posts: expected 0 to %d", p.Posts, PostsMax)
	}
	if p.Stability < 0 || p.Stability > 100 {
		return p, badf("stability %d: expected 0 to 100", p.Stability)
	}
	if p.Effort < 0 || p.Effort > 1000 {
		return p, badf("effort %d: expected 1 to 1000", p.Effort)
	}
	p.Effort = max(p.Effort, 1)
	closed, err := closedLanes(p.Closed, p.Lanes)
	if err != nil {
		return p, err
	}
	p.Closed = closed
	if p.Order, err = completeOrder(p.Order); err != nil {
		return p, err
	}
	if p.Costs != nil && len(p.Costs) != p.Lanes {
		return p, badf("%d lane costs for %d lanes: give one for each lane", len(p.Costs), p.Lanes)
	}
	for i, c := range p.Costs {
		if !(c > -1000 && c < 1000) {
			return p, badf("cost of lane %d is %v: expected seconds a lap between -1000 and 1000", i+1, c)
		}
	}
	if p.Kind == ShortKind {
		if p, err = p.normalShort(); err != nil {
			return p, err
		}
	} else if p.LanesEach != 0 || p.Heats != 0 {
		return p, badf("heats and lanes for each driver can be limited in a short rotation only; use kind short")
	}
	return p, p.Wishes.valid(p)
}

func closedLanes(closed []int, lanes int) ([]int, error) {
	out := append([]int(nil), closed...)
	sort.Ints(out)
	for i, l := range out {
		if l < 1 || l > lanes {
			return nil, badf("closed lane %d: the track has lanes 1 to %d", l, lanes)
		}
		if i > 0 && out[i-1] == l {
			return nil, badf("lane %d is closed twice; name it once", l)
		}
	}
	if len(out) == lanes {
		return nil, badf("all %d lanes are closed; leave one open at least", lanes)
	}
	return out, nil
}

// usable lists the lanes that are used, from 1.
func (p Problem) usable() []int {
	shut := make([]bool, p.Lanes+1)
	for _, l := range p.Closed {
		shut[l] = true
	}
	var out []int
	for l := 1; l <= p.Lanes; l++ {
		if !shut[l] {
			out = append(out, l)
		}
	}
	return out
}
