// Package sheet reads night sheets: the TOML file in which a club writes down what a race night is to be.
//
// A sheet that says nothing but its layout and its drivers is complete; everything else has a default. Reading is strict: a key that
// is not known, a name that comes twice, a value out of range is an error with file and line, and nothing is guessed.
//
//	club = "Mill Lane Slot Racers"
//	title = "Round 3"
//	layout = "../layouts/millpond-oval.toml"   # as seen from this file
//	scale = 32
//
//	[counter]
//	device = "/dev/ttyUSB0"
//
//	[card]
//	kind = "timed"
//	length = "3m"
//	lap_min = "2.5s"
//
//	[rotation]
//	kind = "balanced"
//
//	[[driver]]
//	name = "Ann Archer"
package sheet

import (
	"fmt"

	"lanewright/race"
)

// Sheet is a night as it was written down, defaults filled in.
type Sheet struct {
	File   string
	Club   string
	Title  string
	Layout string // path as written, relative to the sheet
	Scale  int    // denominator
	Seed   uint64 // of draws, random holds and lots

	Digital bool
	Cars    int // highest car number of a digital night

	Counters []Counter // the first one counts; more are second opinions
	Card     race.Card
	Rotation race.MakeDraw
	Lanes    []string // what lanes are called, from lane 1; may be shorter than there are lanes
	Closed   []int    // lanes out of use
	Drivers  []Driver
}

// Counter is one counter's line.
type Counter struct {
	Name        string // as shown; "counter" where none is given
	Device      string // "/dev/ttyUSB0"; may be given on the command line instead
	Description string // path of a line description, relative to the sheet; "" for our own sentences
	Baud        int    // 0: 115200, or as the description says
	DataBits    int    // 0: 8
	Parity      string // "": none; "none", "odd" or "even"
	StopBits    int    // 0: 1
}

// Driver is one driver of the sheet.
type Driver struct {
	Name, Short, Class, Group, Car string
	CarNumber                      int    // on a digital night, 0: whichever is free
	Shares                         string // name of the driver with whom he shares a car
	Comes, Leaves                  int    // first and last heat he can drive, 0: no limit
	Line                           int    // of the sheet
}

// Error is what is wrong with a sheet, and where.
type Error struct {
	File string
	Line int // 0: the sheet as a whole
	Text string
}

// Error is one sentence: file, line, what, what was expected.
func (e *Error) Error() string {
	if e.Line == 0 {
		return fmt.Sprintf("%s: %s", e.File, e.Text)
	}
	return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Text)
}

// Frozen is what the layout file says and a night freezes.
type Frozen struct {
	Layout                race.LayoutInfo
	ShortestMM, LongestMM float64 // of a digital night
}

// Begin returns the events with which the night begins. speed is that of a simulated night, 0 for real life. Lane names of the sheet go
// over those of the layout.
func (s Sheet) Begin(night string, f Frozen, speed float64) ([]race.Event, error) {
	lanes := append([]race.LaneInfo(nil), f.Layout.Lanes...)
	if len(s.Lanes) > len(lanes) {
		return nil, &Error{s.File, 0, fmt.Sprintf("%d lanes are named, the layout %s has %d", len(s.Lanes), f.Layout.Name, len(lanes))}
	}
	for i, name := range s.Lanes {
		lanes[i].Name = name
	}
	o := race.Opened{Night: night, Club: s.Club, Title: s.Title, Layout: f.Layout, Scale: s.Scale, Card: s.Card, Seed: s.Seed, Counter: s.Counters[0].Name,
		Speed: speed, Digital: s.Digital, Cars: s.Cars, ShortestMM: f.ShortestMM, LongestMM: f.LongestMM}
	o.Layout.Lanes = lanes
	events := []race.Event{o}
	number := map[string]int{}
	for i, d := range s.Drivers {
		number[d.Name+"\x00"+d.Class] = i + 1
		events = append(events, race.DriverAdded{Driver: i + 1, Name: d.Name, Short: d.Short, Class: d.Class, Group: d.Group, Car: d.Car, Comes: d.Comes, Leaves: d.Leaves})
		if d.CarNumber > 0 {
			events = append(events, race.CarAssigned{Driver: i + 1, Car: d.CarNumber})
		}
	}
	for i, d := range s.Drivers {
		if k := s.number(d.Shares); k > i+1 {
			events = append(events, race.CarShared{Driver: i + 1, With: k})
		}
	}
	for _, l := range s.Closed {
		if l > len(lanes) {
			return nil, &Error{s.File, 0, fmt.Sprintf("lane %d is closed, the layout %s has %d lanes", l, f.Layout.Name, len(lanes))}
		}
		events = append(events, race.LaneClosed{Lane: l, Why: "closed on the night sheet"})
	}
	// The fold has the last word on what can be raced.
	n := race.NewNight()
	for i, e := range events {
		if err := n.Apply(uint64(i+1), e); err != nil {
			return nil, &Error{s.File, 0, err.Error()}
		}
	}
	return events, nil
}

// number returns the number of the first driver of a name, 0 if none.
func (s Sheet) number(name string) int {
	for i, d := range s.Drivers {
		if name != "" && d.Name == name {
			return i + 1
		}
	}
	return 0
}
