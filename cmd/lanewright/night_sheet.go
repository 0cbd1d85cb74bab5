package main

import (
	"fmt"
	"path/filepath"

	"lanewright/layout"
	"lanewright/layout/route"
	"lanewright/race"
	"lanewright/race/sheet"
)

// nightSheet is a night sheet with the layout that it names, resolved.
type nightSheet struct {
	sheet  sheet.Sheet
	folder string // of the sheet; paths in it are seen from there
	track  layout.Track
	frozen sheet.Frozen
}

// readNightSheet reads a sheet and lays out its track. A layout that does not close cannot be raced.
func readNightSheet(path string) (nightSheet, error) {
	data, err := readSmall(path)
	if err != nil {
		return nightSheet{}, err
	}
	s, err := sheet.Read(path, data)
	if err != nil {
		return nightSheet{}, err
	}
	folder := filepath.Dir(path)
	return layOut(s, folder, func(name string) ([]byte, error) { return readSmall(name) })
}

// layOut resolves the layout of a sheet; read fetches files.
func layOut(s sheet.Sheet, folder string, read func(path string) ([]byte, error)) (nightSheet, error) {
	n := nightSheet{sheet: s, folder: folder}
	path := n.beside(s.Layout)
	text, err := read(path)
	if err != nil {
		return n, fmt.Errorf("%s: layout: %w", s.File, err)
	}
	plan, err := layout.ReadPlan(path, text)
	if err != nil {
		return n, err
	}
	kit, err := kitOf(plan.Kit, filepath.Dir(path))
	if err != nil {
		return n, fmt.Errorf("%s: %w", path, err)
	}
	track, findings := layout.Resolve(plan, kit)
	for _, f := range findings {
		if f.Level == layout.Error {
			return n, fmt.Errorf("%s cannot be raced: %s", path, f)
		}
	}
	if !track.Closes || len(track.Lanes) == 0 {
		return n, fmt.Errorf("%s cannot be raced: it does not close; see: lanewright layout check %s", path, path)
	}
	n.track = track
	n.frozen.Layout, err = layoutInfo(track, string(text))
	if err != nil {
		return n, fmt.Errorf("%s: %w", path, err)
	}
	if s.Digital {
		n.frozen.ShortestMM, n.frozen.LongestMM, err = lapBounds(track)
	}
	return n, err
}

// begin returns the events that open the night.
func (n nightSheet) begin(id string, speed float64) ([]race.Event, error) {
	return n.sheet.Begin(id, n.frozen, speed)
}

// beside makes a path of the sheet one of ours; "" stays "".
func (n nightSheet) beside(path string) string {
	if path == "" || filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(n.folder, path)
}

// lapBounds are the shortest and the longest way round a lap through the changers.
func lapBounds(t layout.Track) (shortest, longest float64, err error) {
	graph, err := route.New(t)
	if err != nil {
		return 0, 0, err
	}
	for i, p := range graph.Pairs() {
		if i == 0 || p.Shortest.LengthMM < shortest {
			shortest = p.Shortest.LengthMM
		}
		longest = max(longest, p.Longest.LengthMM)
	}
	return shortest, longest, nil
}
