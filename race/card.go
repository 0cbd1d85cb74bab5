package race

import "time"

// Card is the rule card of a night. It is frozen into the journal when the night opens, and everything printed follows from it.
type Card struct {
	Kind         string        `json:"kind"`                   // "timed" or "laps"
	Length       time.Duration `json:"length_ns,omitempty"`    // of a timed heat
	Laps         int           `json:"laps,omitempty"`         // of a lap heat
	LapMin       time.Duration `json:"lap_min_ns"`             // a shorter lap is asked about, a much shorter one is a bounce
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
