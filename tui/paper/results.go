package paper

import (
	"strconv"
	"time"

	"lanewright/race"
	"lanewright/tui/figure"
)

// Results is the sheet of the whole night: places, laps, and the laps made on each lane.
func Results(s *race.Snapshot) Document {
	d := sheet(s, "results", "Results", table("", s.Standings, len(s.Lanes)))
	classes := classesOf(s.Standings)
	if len(classes) > 1 {
		for _, c := range classes {
			var rows []race.ResultRow
			for _, r := range s.Standings {
				if r.Class == c {
					rows = append(rows, r)
				}
			}
			d.Tables = append(d.Tables, table("Class "+c+" (places of the whole night)", rows, len(s.Lanes)))
		}
	}
	for _, r := range s.Standings {
		if r.Reason != "" {
			d.Notes = append(d.Notes, r.Name+": "+r.Reason+".")
		}
	}
	for _, r := range s.Rulings {
		if !r.Undone {
			d.Notes = append(d.Notes, ruling(r))
		}
	}
	return d
}

// LastHeat is the sheet of the heat finished last.
func LastHeat(s *race.Snapshot) Document {
	return sheet(s, "heat", "Heat "+strconv.Itoa(s.Heat), table("", s.Last, 0))
}

func ruling(r race.RulingRow) string {
	text := "Heat " + strconv.Itoa(r.Heat)
	if r.Lane > 0 {
		text += ", lane " + strconv.Itoa(r.Lane)
	}
	if r.Driver != "" {
		text += ", " + r.Driver
	}
	text += ": " + r.Text
	if r.Why != "" {
		text += " (" + r.Why + ")"
	}
	if r.By != "" {
		text += ", by " + r.By
	}
	return text + "."
}

func classesOf(rows []race.ResultRow) []string {
	var classes []string
	seen := map[string]bool{}
	for _, r := range rows {
		if r.Class != "" && !seen[r.Class] {
			seen[r.Class] = true
			classes = append(classes, r.Class)
		}
	}
	return classes
}

func table(title string, rows []race.ResultRow, lanes int) Table {
	t := Table{Title: title, Columns: []Column{
		{Head: "Place", Figures: true}, {Head: "Driver"}, {Head: "Class"},
		{Head: "Laps", Figures: true, Number: "laps_of_part"}, {Head: "Gap", Figures: true},
		{Head: "Best lap", Figures: true, Number: "best_us"}, {Head: "Heats", Figures: true},
	}}
	for l := 1; l <= lanes; l++ {
		t.Columns = append(t.Columns, Column{Head: "Lane " + strconv.Itoa(l), Figures: true, Lane: l})
	}
	points := false
	for _, r := range rows {
		points = points || r.Points != ""
	}
	if points {
		t.Columns = append(t.Columns, Column{Head: "Points", Figures: true})
	}
	for _, r := range rows {
		row := []Cell{
			text(figure.Place(r.Place, r.Shared)), text(r.Name), text(r.Class),
			{form.Laps(r.Laps, r.Part, r.PartOf), plainLaps(r)}, text(r.Gap),
			lapTime(r.Best), text(strconv.Itoa(r.Heats)),
		}
		for l := range lanes {
			cell := text("")
			if l < len(r.ByLane) && r.ByLane[l] >= 0 {
				cell = text(strconv.Itoa(r.ByLane[l]))
			}
			row = append(row, cell)
		}
		if points {
			row = append(row, text(r.Points))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// form is the one of files: decimal points, kilometres an hour.
var form figure.Form

func lapTime(d time.Duration) Cell {
	if d <= 0 {
		return Cell{Text: form.Lap(d, 3)}
	}
	return Cell{Text: form.Lap(d, 3), Number: strconv.FormatInt(d.Microseconds(), 10)}
}

// plainLaps writes laps with their part as a decimal number that a spreadsheet adds up.
func plainLaps(r race.ResultRow) string {
	if r.PartOf <= 1 || r.Part < 0 {
		return strconv.Itoa(r.Laps)
	}
	return strconv.FormatFloat(float64(r.Laps)+float64(r.Part)/float64(r.PartOf), 'f', -1, 64)
}
