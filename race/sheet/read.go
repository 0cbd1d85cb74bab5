package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"lanewright/race"
)

// Bounds of a sheet. A night of more would not end.
const (
	sheetMost   = 1 << 20 // bytes
	driversMost = 200
	nameMost    = 60 // characters
)

// form is the sheet as it stands in the file.
type form struct {
	Club     string       `toml:"club"`
	Title    string       `toml:"title"`
	Layout   string       `toml:"layout"`
	Scale    int          `toml:"scale"`
	Seed     uint64       `toml:"seed"`
	Digital  bool         `toml:"digital"`
	Cars     int          `toml:"cars"`
	Lanes    []string     `toml:"lanes"`
	Closed   []int        `toml:"closed"`
	Counter  counterForm  `toml:"counter"`
	Second   *counterForm `toml:"second_counter"`
	Card     cardForm     `toml:"card"`
	Rotation rotationForm `toml:"rotation"`
	Driver   []driverForm `toml:"driver"`
}

type counterForm struct {
	Name        string `toml:"name"`
	Device      string `toml:"device"`
	Description string `toml:"description"`
	Baud        int    `toml:"baud"`
	DataBits    int    `toml:"data_bits"`
	Parity      string `toml:"parity"`
	StopBits    int    `toml:"stop_bits"`
}

type cardForm struct {
	Kind         *string   `toml:"kind"`
	Length       *string   `toml:"length"`
	Laps         *int      `toml:"laps"`
	LapMin       *string   `toml:"lap_min"`
	Dead         *string   `toml:"dead"`
	Coast        *string   `toml:"coast"`
	Grid         *string   `toml:"grid"`
	AtEnd        *string   `toml:"at_end"`
	PartOf       *int      `toml:"part_of"`
	Jump         *string   `toml:"jump"`
	Countdown    *string   `toml:"countdown"`
	HoldMax      *string   `toml:"hold_max"`
	ResumeIn     *string   `toml:"resume_in"`
	Pause        *string   `toml:"pause"`
	Ties         *[]string `toml:"ties"`
	Points       []int     `toml:"points"`
	PointsShared *string   `toml:"points_shared"`
	Drops        *int      `toml:"drops"`
	PlaceStyle   *string   `toml:"place_style"`
	Power        *bool     `toml:"power"`
	StepUp       *int      `toml:"step_up"`
	Posts        *int      `toml:"posts"`
}

type rotationForm struct {
	Kind   string `toml:"kind"`
	Rounds int    `toml:"rounds"`
	Heats  int    `toml:"heats"`
	Seed   uint64 `toml:"seed"`
}

type driverForm struct {
	Name      string `toml:"name"`
	Short     string `toml:"short"`
	Class     string `toml:"class"`
	Group     string `toml:"group"`
	Car       string `toml:"car"`
	CarNumber int    `toml:"car_number"`
	Shares    string `toml:"shares"`
	Comes     int    `toml:"comes"`
	Leaves    int    `toml:"leaves"`
}

// Read reads a sheet; name is what messages call the file. The error, if any, is an [*Error].
func Read(name string, data []byte) (Sheet, error) {
	bad := func(line int, format string, args ...any) (Sheet, error) {
		return Sheet{}, &Error{name, line, fmt.Sprintf(format, args...)}
	}
	if len(data) > sheetMost {
		return bad(0, "the file has %d bytes, a night sheet has at most %d", len(data), sheetMost)
	}
	if !utf8.Valid(data) {
		return bad(1+bytes.Count(data[:firstBad(data)], []byte("\n")), "not UTF-8 text; save the file as UTF-8")
	}
	var f form
	dec := toml.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		return Sheet{}, tomlError(name, err)
	}
	at := linesOf(data)
	s := Sheet{File: name, Club: f.Club, Title: f.Title, Layout: f.Layout, Scale: f.Scale, Seed: f.Seed, Digital: f.Digital, Cars: f.Cars, Lanes: f.Lanes, Closed: f.Closed}
	if s.Layout == "" {
		return bad(0, `no layout: write layout = "FILE" at the top`)
	}
	if s.Scale == 0 {
		s.Scale = 32
	}
	if s.Scale < 1 || s.Scale > 1000 {
		return bad(at.key("scale"), "scale %d, expected the denominator: 32 for 1:32", s.Scale)
	}
	if s.Seed == 0 {
		s.Seed = 1
	}
	if s.Cars != 0 && (!s.Digital || s.Cars < 1 || s.Cars > 32) {
		return bad(at.key("cars"), "cars = %d, expected 1 to 32 and only on a digital night (digital = true)", s.Cars)
	}
	for _, l := range s.Closed {
		if l < 1 || l > 32 {
			return bad(at.key("closed"), "lane %d cannot be closed, lanes count from 1", l)
		}
	}
	var key string
	var err error
	if s.Card, key, err = card(f.Card); err != nil {
		return bad(at.key("card."+key), "%v", err)
	}
	if err := s.Card.Check(); err != nil {
		return bad(at.key(cardKey(err)), "%v", err)
	}
	counters := []counterForm{f.Counter}
	if f.Second != nil {
		counters = append(counters, *f.Second)
	}
	for i, c := range counters {
		table := [...]string{"counter", "second_counter"}[i]
		if c.Name == "" {
			c.Name = [...]string{"counter", "second"}[i]
		}
		switch {
		case i == 1 && c.Name == s.Counters[0].Name:
			return bad(at.key(table), "both counters are called %q", c.Name)
		case c.Parity != "" && c.Parity != "none" && c.Parity != "odd" && c.Parity != "even":
			return bad(at.key(table+".parity"), `parity %q, expected "none", "odd" or "even"`, c.Parity)
		case c.Baud < 0 || c.Baud > 4000000:
			return bad(at.key(table+".baud"), "baud %d, expected something like 9600 or 115200", c.Baud)
		case c.DataBits != 0 && (c.DataBits < 5 || c.DataBits > 8):
			return bad(at.key(table+".data_bits"), "data_bits %d, expected 5 to 8", c.DataBits)
		case c.StopBits < 0 || c.StopBits > 2:
			return bad(at.key(table+".stop_bits"), "stop_bits %d, expected 1 or 2", c.StopBits)
		}
		s.Counters = append(s.Counters, Counter(c))
	}
	s.Rotation = race.MakeDraw{Kind: f.Rotation.Kind, Rounds: f.Rotation.Rounds, Heats: f.Rotation.Heats, Seed: f.Rotation.Seed}
	if s.Rotation.Kind == "" {
		s.Rotation.Kind = "balanced"
	}
	if s.Rotation.Seed == 0 {
		s.Rotation.Seed = s.Seed
	}
	if s.Rotation.Rounds == 0 {
		s.Rotation.Rounds = 1
	}
	switch {
	case s.Rotation.Kind != "balanced" && s.Rotation.Kind != "rolling" && s.Rotation.Kind != "short":
		return bad(at.key("rotation.kind"), `rotation %q, expected "balanced", "rolling" or "short"`, s.Rotation.Kind)
	case s.Rotation.Rounds < 1 || s.Rotation.Rounds > 10:
		return bad(at.key("rotation.rounds"), "rounds = %d, expected 1 to 10", s.Rotation.Rounds)
	case s.Rotation.Kind == "short" && s.Rotation.Heats < 1:
		return bad(at.key("rotation.kind"), "a short rotation needs heats = the number of heats there is time for")
	case s.Rotation.Heats < 0 || s.Rotation.Heats > 1000:
		return bad(at.key("rotation.heats"), "heats = %d, expected 1 to 1000", s.Rotation.Heats)
	}
	if len(f.Driver) > driversMost {
		return bad(0, "%d drivers, at most %d fit into a night", len(f.Driver), driversMost)
	}
	for i, d := range f.Driver {
		line := at.nth("driver", i, "name")
		d.Name = strings.TrimSpace(d.Name)
		switch {
		case d.Name == "":
			return bad(line, "driver %d has no name", i+1)
		case utf8.RuneCountInString(d.Name) > nameMost:
			return bad(line, "the name of driver %d has %d characters, at most %d can be shown", i+1, utf8.RuneCountInString(d.Name), nameMost)
		case strings.ContainsFunc(d.Name, func(r rune) bool { return r < ' ' || r == 0x7f }):
			return bad(line, "the name of driver %d has a control character in it", i+1)
		}
		for j, e := range s.Drivers {
			if e.Name == d.Name && e.Class == d.Class {
				return bad(line, "driver %s is entered twice, first in line %d; take one out, or give them different classes", d.Name, s.Drivers[j].Line)
			}
		}
		most := s.Cars
		if most == 0 {
			most = 8
		}
		switch {
		case d.CarNumber != 0 && !s.Digital:
			return bad(at.nth("driver", i, "car_number"), "%s has a car number, but the night is not digital", d.Name)
		case d.CarNumber < 0 || d.CarNumber > most:
			return bad(at.nth("driver", i, "car_number"), "car number %d of %s, expected 1 to %d", d.CarNumber, d.Name, most)
		case d.Comes < 0 || d.Leaves < 0 || d.Leaves > 0 && d.Leaves < d.Comes:
			return bad(at.nth("driver", i, "leaves"), "%s comes in heat %d and leaves after heat %d", d.Name, d.Comes, d.Leaves)
		}
		s.Drivers = append(s.Drivers, Driver{d.Name, d.Short, d.Class, d.Group, d.Car, d.CarNumber, d.Shares, d.Comes, d.Leaves, line})
	}
	for i, d := range s.Drivers {
		if d.Shares == "" {
			continue
		}
		k := s.number(d.Shares)
		switch {
		case k == 0:
			return bad(at.nth("driver", i, "shares"), "%s shares a car with %s, who is not on the sheet", d.Name, d.Shares)
		case k == i+1:
			return bad(at.nth("driver", i, "shares"), "%s cannot share a car with himself", d.Name)
		case s.Drivers[k-1].Shares == "":
			s.Drivers[k-1].Shares = d.Name
		case s.Drivers[k-1].Shares != d.Name:
			return bad(at.nth("driver", i, "shares"), "%s shares a car with %s, who shares one with %s", d.Name, d.Shares, s.Drivers[k-1].Shares)
		}
	}
	return s, nil
}

// card lays what the sheet says over the default card. On error key is the one that is wrong.
func card(f cardForm) (c race.Card, key string, err error) {
	c = race.DefaultCard()
	set(&c.Kind, f.Kind)
	set(&c.Laps, f.Laps)
	set(&c.Grid, f.Grid)
	set(&c.AtEnd, f.AtEnd)
	set(&c.PartOf, f.PartOf)
	set(&c.Jump, f.Jump)
	set(&c.Ties, f.Ties)
	set(&c.PointsShared, f.PointsShared)
	set(&c.Drops, f.Drops)
	set(&c.PlaceStyle, f.PlaceStyle)
	set(&c.Power, f.Power)
	set(&c.StepUp, f.StepUp)
	set(&c.Posts, f.Posts)
	c.Points = f.Points
	if c.Kind == "laps" {
		c.Length = 0
		if f.Ties == nil {
			c.Ties = []string{"last-pass", "part", "best-heat", "best-lap"}
		}
	}
	for _, t := range []struct {
		key  string
		to   *time.Duration
		from *string
	}{{"length", &c.Length, f.Length}, {"lap_min", &c.LapMin, f.LapMin}, {"dead", &c.Dead, f.Dead}, {"coast", &c.Coast, f.Coast},
		{"countdown", &c.Countdown, f.Countdown}, {"hold_max", &c.HoldMax, f.HoldMax}, {"resume_in", &c.ResumeIn, f.ResumeIn}, {"pause", &c.Pause, f.Pause}} {
		if t.from == nil {
			continue
		}
		if *t.to, err = time.ParseDuration(*t.from); err != nil {
			return c, t.key, fmt.Errorf("%s: %q is not a time; expected something like \"3m\", \"90s\" or \"2.5s\"", t.key, *t.from)
		}
	}
	return c, "", nil
}

func set[T any](to *T, from *T) {
	if from != nil {
		*to = *from
	}
}

// cardKey finds the key that a card's error is about, for its line.
func cardKey(err error) string {
	text := strings.TrimPrefix(err.Error(), "rule card: ")
	word, _, _ := strings.Cut(text, " ")
	return "card." + strings.TrimSuffix(word, ",")
}

func firstBad(data []byte) int {
	for i := 0; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return len(data)
}

// wrongKind is how the TOML library says that a value is of another kind than its key.
var wrongKind = regexp.MustCompile(`cannot decode TOML (.+) into .* of type \*?(\w+)`)

func tomlError(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := strict.Errors[0]
		line, _ := e.Position()
		key := strings.Join(e.Key(), ".")
		text := fmt.Sprintf("unknown key %q", key)
		if near := nearest(key); near != "" {
			text += fmt.Sprintf("; did you mean %q?", near)
		}
		return &Error{name, line, text}
	}
	var de *toml.DecodeError
	if errors.As(err, &de) {
		line, _ := de.Position()
		if m := wrongKind.FindStringSubmatch(de.Error()); m != nil {
			want := map[string]string{"string": "text in quotes", "int": "a whole number", "uint64": "a whole number from 0", "bool": "true or false"}[m[2]]
			if want == "" {
				want = "something else"
			}
			return &Error{name, line, fmt.Sprintf("%s: %s stands here, expected %s", strings.Join(de.Key(), "."), m[1], want)}
		}
		return &Error{name, line, strings.TrimPrefix(de.Error(), "toml: ")}
	}
	return &Error{name, 0, strings.TrimPrefix(err.Error(), "toml: ")}
}
