package rotation

import (
	"encoding/json"
	"fmt"
)

// drawFile is a draw as programs read it.
//
//	drivers        number of drivers
//	lanes          number of lanes, closed ones included
//	rounds         times each driver drives each lane
//	kind           balanced, rolling, short or redraw
//	seed           the seed of the draw
//	heats          one array for each heat: a driver number (1..drivers) or
//	               null for each lane from lane 1
//	duty           one array for each heat: a driver number or null (nobody
//	               free) for each post; left out without posts
//	figures        what the draw reaches; see Figures
//	bounds         what no draw can beat, under the same names
//	claims         criterion, figure, value, bound, why, optimal
//	proof          the same in words
//	notes          what else there is to know
//	left           for each driver cost and head start, unit of the lane costs
//	moves          moves tried by the searches
//	cut            true when the search was cut short
type drawFile struct {
	Drivers int         `json:"drivers"`
	Lanes   int         `json:"lanes"`
	Rounds  int         `json:"rounds"`
	Kind    string      `json:"kind"`
	Seed    uint64      `json:"seed"`
	Heats   [][]*int    `json:"heats"`
	Duty    [][]*int    `json:"duty,omitempty"`
	Figures Figures     `json:"figures"`
	Bounds  Figures     `json:"bounds"`
	Claims  []claimFile `json:"claims,omitempty"`
	Proof   string      `json:"proof"`
	Notes   []string    `json:"notes,omitempty"`
	Left    []leftFile  `json:"left,omitempty"`
	Moves   int64       `json:"moves"`
	Cut     bool        `json:"cut,omitempty"`
}

type claimFile struct {
	Criterion string `json:"criterion"`
	Figure    string `json:"figure"`
	Value     int64  `json:"value"`
	Bound     int64  `json:"bound"`
	Why       string `json:"why"`
	Optimal   bool   `json:"optimal"`
	Complete  bool   `json:"complete,omitempty"`
}

type leftFile struct {
	Driver    int     `json:"driver"`
	Cost      float64 `json:"cost"`
	HeadStart float64 `json:"head_start"`
}

// MarshalJSON writes the draw as programs read it: empty seats are null.
func (d Draw) MarshalJSON() ([]byte, error) {
	f := drawFile{Drivers: d.Drivers, Lanes: d.Lanes, Rounds: d.Rounds, Kind: d.Kind.String(), Seed: d.Seed,
		Heats: nullable(d.Heats), Duty: nullable(d.Duty), Figures: d.Figures, Bounds: d.Bounds, Proof: d.Proof,
		Notes: d.Notes, Moves: d.Moved, Cut: d.Cut}
	if f.Heats == nil {
		f.Heats = [][]*int{}
	}
	for _, c := range d.Claims {
		f.Claims = append(f.Claims, claimFile{c.Criterion.String(), c.Figure, c.Value, c.Bound, c.Why, c.Optimal, c.Complete})
	}
	for _, a := range d.Left {
		f.Left = append(f.Left, leftFile(a))
	}
	return json.Marshal(f)
}

// UnmarshalJSON reads what MarshalJSON wrote and refuses rows that are no heats.
func (d *Draw) UnmarshalJSON(b []byte) error {
	var f drawFile
	if err := json.Unmarshal(b, &f); err != nil {
		return badf("draw as JSON: %v", err)
	}
	out := Draw{Drivers: f.Drivers, Lanes: f.Lanes, Rounds: f.Rounds, Seed: f.Seed, Figures: f.Figures, Bounds: f.Bounds,
		Proof: f.Proof, Notes: f.Notes, Moved: f.Moves, Cut: f.Cut, Kind: -1}
	for i, w := range kindWords {
		if w == f.Kind {
			out.Kind = Kind(i)
		}
	}
	if out.Kind < 0 {
		return badf("draw as JSON: kind %q is unknown", f.Kind)
	}
	out.Heats, out.Duty = plain(f.Heats), plain(f.Duty)
	if err := out.sound(); err != nil {
		return err
	}
	for _, c := range f.Claims {
		claim := Claim{-1, c.Figure, c.Value, c.Bound, c.Why, c.Optimal, c.Complete}
		for i, w := range criterionWords {
			if w == c.Criterion {
				claim.Criterion = Criterion(i)
			}
		}
		if c.Criterion == LaneCosts.String() {
			claim.Criterion = LaneCosts
		}
		if claim.Criterion < 0 {
			return badf("draw as JSON: criterion %q is unknown", c.Criterion)
		}
		out.Claims = append(out.Claims, claim)
	}
	for _, l := range f.Left {
		out.Left = append(out.Left, Advantage(l))
	}
	*d = out
	return nil
}

// sound checks that the tables are tables of heats.
func (d *Draw) sound() error {
	if d.Drivers < 0 || d.Drivers > DriversMax*4 || d.Lanes < 0 || d.Lanes > LanesMax || len(d.Heats) > 4*HeatsMax {
		return badf("draw: %d drivers, %d lanes and %d heats are more than there can be", d.Drivers, d.Lanes, len(d.Heats))
	}
	if len(d.Duty) > 0 && len(d.Duty) != len(d.Heats) {
		return badf("draw: duty for %d heats, but there are %d", len(d.Duty), len(d.Heats))
	}
	for h, row := range d.Heats {
		if len(row) != d.Lanes {
			return badf("draw: heat %d has %d lanes, expected %d", h+1, len(row), d.Lanes)
		}
		all := row
		if len(d.Duty) > 0 {
			all = append(append([]int(nil), row...), d.Duty[h]...)
		}
		seen := make(map[int]bool, len(all))
		for _, x := range all {
			if x == 0 {
				continue
			}
			if x < 0 || x > d.Drivers {
				return badf("draw: heat %d names driver %d, expected 1 to %d", h+1, x, d.Drivers)
			}
			if seen[x] {
				return badf("draw: driver %d is twice in heat %d", x, h+1)
			}
			seen[x] = true
		}
	}
	return nil
}

func nullable(rows [][]int) [][]*int {
	var out [][]*int
	for _, row := range rows {
		r := make([]*int, len(row))
		for i := range row {
			if row[i] != 0 {
				r[i] = new(row[i])
			}
		}
		out = append(out, r)
	}
	return out
}

func plain(rows [][]*int) [][]int {
	var out [][]int
	for _, row := range rows {
		r := make([]int, len(row))
		for i, p := range row {
			if p != nil {
				r[i] = *p
			}
		}
		out = append(out, r)
	}
	return out
}

// CSV writes one line for each heat: heat number, then the driver on each lane
// (empty where nobody drives), then the marshal at each post. names gives
// driver names from driver 1; nil writes numbers.
func (d *Draw) CSV(names []string) [][]string {
	name := func(x int) string {
		switch {
		case x == 0:
			return ""
		case x <= len(names):
			return names[x-1]
		}
		return fmt.Sprint(x)
	}
	head := []string{"heat"}
	for l := range d.Lanes {
		head = append(head, fmt.Sprintf("lane %d", l+1))
	}
	if len(d.Duty) > 0 {
		for i := range d.Duty[0] {
			head = append(head, fmt.Sprintf("post %d", i+1))
		}
	}
	out := [][]string{head}
	for h, row := range d.Heats {
		line := []string{fmt.Sprint(h + 1)}
		for _, x := range row {
			line = append(line, name(x))
		}
		if len(d.Duty) > 0 {
			for _, x := range d.Duty[h] {
				line = append(line, name(x))
			}
		}
		out = append(out, line)
	}
	return out
}
