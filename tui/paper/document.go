// Package paper makes what a club prints and files: heat sheets, the marshal plan, results and standings, as plain text, as one
// self-contained HTML file, as PDF and as CSV.
//
// A sheet is made once, as a Document; every form of it is drawn from that, so that the paper on the wall and the file of the
// secretary can never disagree. Sheets hold no clock: the same night makes the same bytes every time.
package paper

import "time"

// Document is one sheet.
type Document struct {
	Name   string // stable, for file names: "heats", "marshals", "results", "standings", "laps"
	Title  string
	Under  string // one line below the title: club, layout
	Made   time.Time
	Tables []Table
	Notes  []string // what a reader must know: how ties were broken, who has left
}

// Table is one table of a sheet.
type Table struct {
	Title   string
	Columns []Column
	Rows    [][]Cell
}

// Column is one column: its heading, and whether its figures stand at the right.
type Column struct {
	Head    string
	Figures bool
	Lane    int    // the column belongs to this lane, 0 to none: its mark is drawn beside the heading
	Number  string // heading of a second, plain-number column in CSV files; empty: none
}

// Cell is one field: as people read it, and for programs as a plain number where the column has one.
type Cell struct {
	Text   string
	Number string
}

func text(s string) Cell {
	if s == "" {
		s = "-"
	}
	return Cell{Text: s}
}
