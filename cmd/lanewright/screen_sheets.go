package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"lanewright/tui"
)

// sheetMaker makes papers and files from the screens; they lie beside the store.
type sheetMaker struct{ host }

// Sheets lists what can be made.
func (m sheetMaker) Sheets() []tui.Sheet {
	return []tui.Sheet{
		{ID: "pdf", Name: "everything as PDF"}, {ID: "html", Name: "everything as one web page"},
		{ID: "heats.csv", Name: "heats as CSV"}, {ID: "marshals.csv", Name: "marshal plan as CSV"}, {ID: "results.csv", Name: "results as CSV"},
	}
}

// Make writes a sheet and returns where it lies, the file's own name first: the rest may be cut.
func (m sheetMaker) Make(id string) (string, error) {
	s := m.current()
	snapshot := s.feed.Newest()
	if snapshot == nil {
		return "", fmt.Errorf("there is nothing to print yet")
	}
	only, kind := "", id
	if name, isCSV := strings.CutSuffix(id, ".csv"); isCSV {
		only, kind = name, "csv"
	}
	sheets, err := sheetsOf(snapshot, only)
	if err != nil {
		return "", err
	}
	var b bytes.Buffer
	if err := writeSheets(&b, kind, snapshot.Title, sheets); err != nil {
		return "", err
	}
	base := strings.TrimSuffix(s.storePath, filepath.Ext(s.storePath))
	path := base + "." + slug(s.night) + "." + id
	return filepath.Base(path) + " in " + homely(filepath.Dir(path)), writeWhole(path, b.Bytes())
}

// homely writes a folder as people know it.
func homely(dir string) string {
	if whole, err := filepath.Abs(dir); err == nil {
		dir = whole
	}
	if home, err := os.UserHomeDir(); err == nil && home != "" {
		if rest, ok := strings.CutPrefix(dir, home); ok && (rest == "" || os.IsPathSeparator(rest[0])) {
			return "~" + rest
		}
	}
	return dir
}
