package tui

import (
	"context"
	"time"

	"lanewright/race"
	"lanewright/tui/speedview"
)

// Options is what the screens need from outside. Everything but Feed may be left out; what is missing cannot be chosen.
type Options struct {
	Feed      *Feed
	Commander Commander
	Register  Register
	Picture   func(width, height int) []string // the layout as plain text of that size; called off the event loop
	Preview   Previewer
	Unfold    Unfolder
	SetUp     SetUp
	Sheets    Sheets
	Page      Page
	Speeds    speedview.Source // what compares drivers, lanes and layouts
	Settings  Settings
	Now       func() time.Time        // nil: time.Now
	Zone      *time.Location          // of moments on the screens; nil: the machine's
	Tables    func() ([]Table, error) // further results: season, records, mains, groups; called off the event loop; may be nil
}

// Commander takes commands. Do returns at once, with a channel on which the reply comes, or nil when too many commands wait
// already: that is shown, and nothing waits for it.
type Commander interface {
	Do(race.Command) <-chan race.Reply
}

// Known is a driver whom the club knows.
type Known struct {
	ID    string // in the register
	Name  string
	Short string
	Class string // usual class
	Car   string // usual car
	Group string
	Night int // nights driven, for the order among equal finds
}

// Register is the club's list of drivers. It is asked off the event loop and may take its time.
type Register interface {
	Known() ([]Known, error)
	LastNight() ([]Known, error) // those who drove last time
}

// DrawPreview is a rotation that could be had.
type DrawPreview struct {
	Draw   race.MakeDraw // makes exactly this rotation, seed included
	Heats  []race.HeatRow
	Lines  []string // how fair it is, in words
	Done   int      // steps of the search done, of Of
	Of     int
	Proved bool // no better one exists
}

// Previewer looks for a fair rotation. It calls progress with better ones as it finds them and returns the best when ctx ends
// or nothing better is to be had. It runs off the event loop.
type Previewer interface {
	Preview(ctx context.Context, want race.MakeDraw, progress func(DrawPreview)) (DrawPreview, error)
}

// Lap is one lap, or one pass that made none, of a result.
type Lap struct {
	Heat, Lane int
	Number     int           // of the counted lap, 0 if it does not count
	Time       time.Duration // 0 unknown
	At         time.Duration // driven time of the heat
	Note       string        // what was ruled or doubted
}

// Unfolder tells where a number of the results came from. It is asked off the event loop.
type Unfolder interface {
	Heat(heat int) ([]race.ResultRow, error)       // results of one heat
	Laps(heat, driver int) ([]Lap, error)          // laps of a driver in a heat; heat 0 is the whole night
	Classes() (map[string][]race.ResultRow, error) // standings by class
}

// Field is one line of the night's set-up.
type Field struct {
	ID      string // "layout", "counter", "class", "rotation", ...
	Name    string
	Value   string
	Choices []string // empty: the value is typed
	Help    string   // one line
}

// Table is a result that is shown as it is: a head, rows, and which columns are figures.
type Table struct {
	Name  string
	Head  []string
	Rows  [][]string
	Right []bool // right-aligned columns
}

// SetUp holds what is settled before a night. It is asked off the event loop. Set returns what was done, in words.
type SetUp interface {
	Fields() ([]Field, error)
	Set(id, value string) (string, error)
}

// Sheet is a paper or file that can be made.
type Sheet struct{ ID, Name string }

// Sheets makes papers and files. Make returns where the sheet lies. It is asked off the event loop.
type Sheets interface {
	Sheets() []Sheet
	Make(id string) (string, error)
}

// Page is the read-only page for a second screen and for phones.
type Page interface {
	Start() (url string, err error)
	Stop() error
}

// Settings is how a person likes the screens.
type Settings struct {
	Sound   bool   // ring the bell at go, track call and finish
	Still   bool   // no animation at all
	Graph   string // "braille", "block" or "none"; empty is braille
	NoColor bool   // no colours whatever the terminal can do
	Comma   bool   // decimal comma on screens
	ASCII   bool   // lanes' shapes in ASCII, for consoles whose font lacks them
	Mph     bool   // miles an hour
}
