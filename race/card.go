package race

import "time"

// Card is the rule card of a night. It is frozen into the journal when the night opens, and everything printed follows from it.
type Card struct {
	Kind         string        `json:"kind"`                   // "timed" or "laps"
	Length       time.Duration `json:"length_ns,omitempty"`    // of a timed heat
	Laps         int           `json:"laps,omitempty"`         // of a lap heat
	LapMin       time.Duration `json:"lap_min_ns"`             // a shorter lap is asked about, a much shorter one is a bounce
	Dead         time.Duration `json:"dead_ns,omitempty"`      // a pass this soon after one on the same lane is certainly a bounce; 0: half of LapMin
	Coast        time.Duration `json:"coast_ns"`               // passes this long after a power cut still count
	Grid         string        `json:"grid"`                   // "before": the first pass only starts lap 1; "past": it completes lap 1
	AtEnd        string        `json:"at_end"`                 // "cut" or "lap": finish the lap
	PartOf       int           `json:"part_of"`                // part laps are counted in 1/PartOf; 0: whole laps only
	Jump         string        `json:"jump"`                   // "ignore", "ask", "restart", "lap" (one lap off), "void"
	Countdown    time.Duration `json:"countdown_ns"`           // lamps before go
	HoldMax      time.Duration `json:"hold_max_ns,omitempty"`  // random hold after the last lamp, at most
	ResumeIn     time.Duration `json:"resume_in_ns,omitempty"` // countdown after a track call
	Pause        time.Duration `json:"pause_ns,omitempty"`     // between heats when nobody presses a key
	Ties         []string      `json:"ties"`                   // chain: "part", "last-pass", "best-heat", "best-lap", "second-lap", "lot"
	Points       []int         `json:"points,omitempty"`       // by place
	PointsShared string        `json:"points_shared"`          // "equal" or "average"
	Drops        int           `json:"drops"`                  // worst nights dropped in a season
	PlaceStyle   string        `json:"place_style"`            // "standard", "modified", "dense", "ordinal", "fractional"
	Power        bool          `json:"power"`                  // switch track power through the counter
	StepUp       int           `json:"step_up,omitempty"`      // mains: how many step up
	Posts        int           `json:"posts"`                  // marshal posts
}

// Rules that the zero value of a field stands for.
const (
	deadOfLapMin = 2 // the dead time is the minimum lap divided by this where the card names none
	carsMax      = 32
	lanesMax     = 32
)

// DeadTime is the time within which a second pass is certainly no lap: a bounce of the sensor, or the tail of the same car.
func (c Card) DeadTime() time.Duration {
	if c.Dead > 0 {
		return c.Dead
	}
	return c.LapMin / deadOfLapMin
}

// DefaultCard is a timed heat of three minutes as many clubs run it. Common practice, no source.
func DefaultCard() Card {
	return Card{
		Kind: "timed", Length: 3 * time.Minute, LapMin: 2 * time.Second, Coast: 500 * time.Millisecond, Grid: "before", AtEnd: "cut",
		PartOf: 100, Jump: "ask", Countdown: 5 * time.Second, HoldMax: 2 * time.Second, ResumeIn: 3 * time.Second, Pause: 90 * time.Second,
		Ties: []string{"part", "last-pass", "best-heat", "best-lap"}, PointsShared: "equal", PlaceStyle: "standard", Posts: 2,
	}
}

// Check returns one sentence about the first thing that cannot be raced under, or nil.
func (c Card) Check() error {
	switch {
	case c.Kind != "timed" && c.Kind != "laps":
		return cardError("kind", c.Kind, `"timed" or "laps"`)
	case c.Kind == "timed" && (c.Length <= 0 || c.Length > 24*time.Hour):
		return cardError("length", c.Length, "more than 0 and at most 24 h")
	case c.Kind == "laps" && (c.Laps <= 0 || c.Laps > 100000):
		return cardError("laps", c.Laps, "1 to 100000")
	case c.LapMin < 0 || c.LapMin > time.Hour:
		return cardError("lap_min", c.LapMin, "0 to 1 h")
	case c.Dead < 0 || c.Dead > c.LapMin && c.LapMin > 0 || c.Dead > time.Hour:
		return cardError("dead", c.Dead, "0 to the minimum lap")
	case c.Coast < 0 || c.Coast > time.Minute:
		return cardError("coast", c.Coast, "0 to 1 min")
	case c.Grid != "before" && c.Grid != "past":
		return cardError("grid", c.Grid, `"before" or "past"`)
	case c.AtEnd != "cut" && c.AtEnd != "lap":
		return cardError("at_end", c.AtEnd, `"cut" or "lap"`)
	case c.PartOf < 0 || c.PartOf > 10000:
		return cardError("part_of", c.PartOf, "0 to 10000")
	case !oneOf(c.Jump, "ignore", "ask", "restart", "lap", "void"):
		return cardError("jump", c.Jump, `"ignore", "ask", "restart", "lap" or "void"`)
	case c.Countdown < 0 || c.HoldMax < 0 || c.ResumeIn < 0 || c.Pause < 0 || max(c.Countdown, c.HoldMax, c.ResumeIn) > time.Hour || c.Pause > 24*time.Hour:
		return cardError("countdown, hold_max, resume_in or pause", "a value", "0 to 1 h, pause to 24 h")
	case !oneOf(c.PointsShared, "equal", "average"):
		return cardError("points_shared", c.PointsShared, `"equal" or "average"`)
	case !oneOf(c.PlaceStyle, "standard", "modified", "dense", "ordinal", "fractional"):
		return cardError("place_style", c.PlaceStyle, `"standard", "modified", "dense", "ordinal" or "fractional"`)
	case c.Drops < 0 || c.StepUp < 0 || c.Posts < 0 || max(c.Drops, c.StepUp, c.Posts) > 1000:
		return cardError("drops, step_up or posts", "a value", "0 to 1000")
	}
	for i, t := range c.Ties {
		if !oneOf(t, "part", "last-pass", "best-heat", "best-lap", "second-lap", "lot") {
			return cardError("ties", t, `"part", "last-pass", "best-heat", "best-lap", "second-lap" or "lot"`)
		}
		if t == "lot" && i != len(c.Ties)-1 {
			return cardError("ties", "lot before the end", "lot last: it decides everything")
		}
	}
	return nil
}
