package paper

import (
	"strconv"

	"lanewright/race"
)

// Heats is the heat sheet: who drives which lane in which heat, and who stands at which post.
func Heats(s *race.Snapshot) Document {
	lanes, posts := widest(s)
	t := Table{Columns: []Column{{Head: "Heat", Figures: true}}}
	grouped := false
	for _, h := range s.Ahead {
		grouped = grouped || h.Group != ""
	}
	if grouped {
		t.Columns = append(t.Columns, Column{Head: "Group"})
	}
	for l := 1; l <= lanes; l++ {
		t.Columns = append(t.Columns, Column{Head: "Lane " + strconv.Itoa(l), Lane: l})
	}
	for p := 1; p <= posts; p++ {
		t.Columns = append(t.Columns, Column{Head: "Post " + strconv.Itoa(p)})
	}
	t.Columns = append(t.Columns, Column{Head: "State"})
	for _, h := range s.Ahead {
		row := []Cell{text(strconv.Itoa(h.Heat))}
		if grouped {
			row = append(row, text(h.Group))
		}
		row = append(row, padded(h.Names, lanes)...)
		row = append(row, padded(h.Marshals, posts)...)
		t.Rows = append(t.Rows, append(row, text(h.State)))
	}
	d := sheet(s, "heats", "Heats", t)
	if s.Draw.Proof != "" {
		d.Notes = append(d.Notes, s.Draw.Proof)
	}
	if s.Draw.Stale {
		d.Notes = append(d.Notes, "Drivers or lanes have changed since this draw was made: a new one is due.")
	}
	return d
}

// Marshals is the marshal plan read the other way round: for each driver, in which heats he stands at which post.
func Marshals(s *race.Snapshot) Document {
	t := Table{Columns: []Column{{Head: "Driver"}, {Head: "Drives in heats"}, {Head: "Marshals (heat: post)"}, {Head: "Duties", Figures: true, Number: "duties"}}}
	for _, e := range s.Entries {
		drives, duties, n := "", "", 0
		for _, h := range s.Ahead {
			for _, d := range h.Drivers {
				if d == e.Driver {
					drives = join(drives, strconv.Itoa(h.Heat))
				}
			}
			for post, name := range h.Marshals {
				if name == e.Name && name != "" {
					duties = join(duties, strconv.Itoa(h.Heat)+": post "+strconv.Itoa(post+1))
					n++
				}
			}
		}
		t.Rows = append(t.Rows, []Cell{text(e.Name), text(drives), text(duties), {strconv.Itoa(n), strconv.Itoa(n)}})
	}
	return sheet(s, "marshals", "Marshal plan", t)
}

func widest(s *race.Snapshot) (lanes, posts int) {
	lanes = len(s.Lanes)
	for _, h := range s.Ahead {
		lanes, posts = max(lanes, len(h.Drivers)), max(posts, len(h.Marshals))
	}
	return lanes, posts
}

func padded(names []string, n int) []Cell {
	cells := make([]Cell, n)
	for i := range cells {
		cells[i] = text("")
		if i < len(names) {
			cells[i] = text(names[i])
		}
	}
	return cells
}

func join(list, item string) string {
	if list == "" {
		return item
	}
	return list + ", " + item
}

func sheet(s *race.Snapshot, name, title string, tables ...Table) Document {
	under := s.Club
	if s.Layout != "" {
		under = join(under, s.Layout)
	}
	if s.Title != "" {
		title += ": " + s.Title
	}
	return Document{Name: name, Title: title, Under: under, Made: s.Taken, Tables: tables}
}
