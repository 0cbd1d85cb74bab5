package page

import (
	"strconv"
	"time"

	"lanewright/race"
	"lanewright/tui/figure"
	"lanewright/tui/lane"
)

// View is what the page shows of a snapshot, in words and figures ready to be put on it: nothing leaves this machine that the
// screens do not show.
type View struct {
	Schema    int          `json:"schema"`
	Seq       uint64       `json:"seq"`
	Title     string       `json:"title"`
	Club      string       `json:"club"`
	Layout    string       `json:"layout"`
	Phase     string       `json:"phase"`
	Heat      string       `json:"heat"`
	Clock     ClockView    `json:"clock"`
	Lanes     []LaneView   `json:"lanes"`
	Ahead     []HeatView   `json:"ahead"`
	Standings []ResultView `json:"standings"`
}

// ClockView lets the page run the clock by itself between two snapshots.
type ClockView struct {
	Ticking   bool  `json:"ticking"`
	Timed     bool  `json:"timed"`
	ShownMS   int64 `json:"shown_ms"` // time left of a timed heat, time driven of a lap heat, at the moment of sending
	Laps      int   `json:"laps,omitempty"`
	Thousands int64 `json:"rate"` // thousandths of a second that pass on the clock in a millisecond of the reader's
}

// LaneView is one lane of the heat, or one car of a digital heat.
type LaneView struct {
	Lane   int    `json:"lane"`
	Car    int    `json:"car,omitempty"`
	Shape  string `json:"shape"`
	Colour string `json:"colour"` // #rrggbb
	Ink    string `json:"ink"`
	Name   string `json:"name"`
	Place  string `json:"place"`
	Laps   int    `json:"laps"`
	Last   string `json:"last"`
	Best   string `json:"best"`
	Gap    string `json:"gap"`
	Note   string `json:"note,omitempty"`
}

// HeatView is one heat to come.
type HeatView struct {
	Heat     int      `json:"heat"`
	State    string   `json:"state"`
	Names    []string `json:"names"` // by lane
	Marshals []string `json:"marshals,omitempty"`
}

// ResultView is one line of the standings.
type ResultView struct {
	Place string `json:"place"`
	Name  string `json:"name"`
	Laps  string `json:"laps"`
	Best  string `json:"best"`
	Heats int    `json:"heats"`
	Gap   string `json:"gap"`
}

const (
	aheadMost     = 6  // heats to come that a phone can show without scrolling
	standingsMost = 60 // the largest night
)

// Of makes the view of a snapshot as it stands at now. A nil snapshot gives an empty view.
func Of(s *race.Snapshot, now time.Time, form figure.Form) View {
	if s == nil {
		return View{Schema: 1, Phase: string(race.SignOn)}
	}
	v := View{Schema: 1, Seq: s.Seq, Title: s.Title, Club: s.Club, Layout: s.Layout, Phase: string(s.Phase), Heat: heatWords(s), Clock: clockOf(s, now)}
	for _, row := range s.Running {
		v.Lanes = append(v.Lanes, laneOf(row, 0, form))
	}
	for _, car := range s.Cars {
		v.Lanes = append(v.Lanes, laneOf(car.LaneRow, car.Car, form))
	}
	for _, h := range s.Ahead {
		if h.State != "ahead" && h.State != "at the line" || len(v.Ahead) == aheadMost {
			continue
		}
		v.Ahead = append(v.Ahead, HeatView{Heat: h.Heat, State: h.State, Names: append([]string(nil), h.Names...), Marshals: append([]string(nil), h.Marshals...)})
	}
	for i, r := range s.Standings {
		if i == standingsMost {
			break
		}
		v.Standings = append(v.Standings, ResultView{
			Place: figure.Place(r.Place, r.Shared), Name: r.Name, Laps: form.Laps(r.Laps, r.Part, r.PartOf),
			Best: form.Lap(r.Best, 3), Heats: r.Heats, Gap: r.Gap,
		})
	}
	return v
}

func heatWords(s *race.Snapshot) string {
	if s.Heat == 0 {
		return ""
	}
	return strconv.Itoa(s.Heat) + " of " + strconv.Itoa(s.Heats)
}

func clockOf(s *race.Snapshot, now time.Time) ClockView {
	c := s.Clock
	speed := c.Speed
	if speed <= 0 {
		speed = 1
	}
	driven := c.Elapsed
	if c.Ticking {
		driven += time.Duration(float64(now.Sub(c.AsOf)) * speed)
	}
	v := ClockView{Ticking: c.Ticking, Timed: c.Length > 0, Laps: c.Laps, ShownMS: driven.Milliseconds(), Thousands: int64(speed * 1000)}
	if v.Timed {
		v.ShownMS = max(c.Length-driven, 0).Milliseconds()
	}
	return v
}

func laneOf(r race.LaneRow, car int, form figure.Form) LaneView {
	number := r.Lane
	if car > 0 {
		number = car
	}
	m := lane.Of(number)
	ink := "#ffffff"
	if m.Dark {
		ink = "#000000"
	}
	v := LaneView{
		Lane: r.Lane, Car: car, Shape: m.Shape, Colour: hex(m.RGB), Ink: ink, Name: r.Name, Laps: r.Laps,
		Place: figure.Place(r.Place, r.Shared), Last: form.Lap(r.Last, r.Digits), Best: form.Lap(r.Best, r.Digits),
		Gap: form.Gap(r.Place, r.Behind, r.Gap, r.GapKnown),
	}
	switch {
	case r.Closed:
		v.Note = "closed"
	case r.Driver == 0:
		v.Note = "empty"
	case r.Done:
		v.Note = "finished"
	}
	return v
}

func hex(rgb uint32) string {
	const digits = "0123456789abcdef"
	b := []byte("#000000")
	for i := 6; i >= 1; i-- {
		b[i] = digits[rgb&15]
		rgb >>= 4
	}
	return string(b)
}
