package analysis

import (
	"fmt"
	"math"
	"time"
)

// Stint is one driver on one lane in one heat, as the statistics see it. Only
// stints that were driven belong here: leave out void ones and those that did not
// start.
type Stint struct {
	Driver        string
	Night         int // any number that grows with time; drivers may differ from night to night
	Heat, Lane    int
	Layout, Class string

	Laps  []time.Duration // in order; the first is the standing start
	Score float64         // laps and part lap after rulings
	Early bool            // stopped before the end: counts for the score, not for lane effects

	LaneLengthMM float64       // 0 for unknown
	Par          time.Duration // par lap of this lane, 0 for unknown
}

// PaceObs returns the stints' paces (see [Pace]) and how many stints were left
// out, because they stopped early or have too few laps.
func PaceObs(stints []Stint) (obs []Obs, left int, err error) {
	for _, s := range stints {
		if err := s.Check(); err != nil {
			return nil, 0, err
		}
		p := Pace(s.Laps)
		if s.Early || p == nil {
			left++
			continue
		}
		obs = append(obs, Obs{s.Driver, s.Lane, s.Heat, *p})
	}
	return obs, left, nil
}

// ScoreObs returns the stints' scores, those that stopped early left out.
func ScoreObs(stints []Stint) (obs []Obs, left int, err error) {
	for _, s := range stints {
		if err := s.Check(); err != nil {
			return nil, 0, err
		}
		if s.Early {
			left++
			continue
		}
		obs = append(obs, Obs{s.Driver, s.Lane, s.Heat, s.Score})
	}
	return obs, left, nil
}

// Check refuses figures that no stint can have.
func (s Stint) Check() error {
	bad := func(what string, got any, want string) error {
		return fmt.Errorf("analysis: driver %s, heat %d, lane %d: %s %v %w: expected %s", s.Driver, s.Heat, s.Lane, what, got, ErrBadInput, want)
	}
	for _, l := range s.Laps {
		if l <= 0 {
			return bad("lap time", l, "more than 0")
		}
	}
	if math.IsNaN(s.Score) || math.Abs(s.Score) > 1e6 {
		return bad("score", s.Score, "a number of laps")
	}
	if !(s.LaneLengthMM >= 0) || s.LaneLengthMM > 1e7 {
		return bad("lane length", s.LaneLengthMM, "0 for unknown, or up to 10 km in millimetres")
	}
	if s.Par < 0 {
		return bad("par lap", s.Par, "0 for unknown, or more")
	}
	return nil
}

// PaceObsByNight is [PaceObs] for several nights of one layout: lane effects are
// shared, a driver counts as another one each night. With k nights a lane difference
// is known about sqrt(k) times as well.
func PaceObsByNight(stints []Stint) (obs []Obs, left int, err error) {
	apart := make([]Stint, len(stints))
	for i, s := range stints {
		if s.Layout != stints[0].Layout {
			return nil, 0, fmt.Errorf("analysis: stints on layouts %q and %q %w: expected one layout, because lanes belong to it", stints[0].Layout, s.Layout, ErrBadInput)
		}
		s.Driver = fmt.Sprintf("%s, night %d", s.Driver, s.Night)
		apart[i] = s
	}
	return PaceObs(apart)
}
