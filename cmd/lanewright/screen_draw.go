package main

import (
	"context"
	"fmt"
	"strings"
	"sync"

	"lanewright/race"
	"lanewright/race/control"
	"lanewright/tui"
)

// drawer makes the draws of a night. It keeps the best draw that a preview has found, so that "good enough, use it" takes exactly
// what was on the screen although the search had not ended.
type drawer struct {
	control *control.Control

	mu   sync.Mutex
	made map[string]race.Drawn // by what it was asked for
}

// Draw is the control's: what a preview has found already is not searched for again.
func (d *drawer) Draw(ctx context.Context, r control.DrawRequest) (race.Drawn, error) {
	d.mu.Lock()
	made, ok := d.made[fingerprint(r)]
	d.mu.Unlock()
	if ok {
		return made, nil
	}
	return control.Rotation(ctx, r)
}

// Preview looks for a draw and shows the best so far; it returns the best when ctx ends.
func (d *drawer) Preview(ctx context.Context, want race.MakeDraw, progress func(tui.DrawPreview)) (tui.DrawPreview, error) {
	ask, cancel := context.WithTimeout(context.WithoutCancel(ctx), lookMost)
	request, err := d.control.Request(ask, want)
	cancel()
	if err != nil {
		return tui.DrawPreview{}, err
	}
	names := map[int]string{}
	for _, p := range request.Every {
		names[p.Number] = p.Name
	}
	key, steps := fingerprint(request), 0
	shown := func(made race.Drawn, proved bool) tui.DrawPreview {
		d.mu.Lock()
		d.made = map[string]race.Drawn{key: made} // one is enough: the newest question
		d.mu.Unlock()
		return tui.DrawPreview{Draw: want, Heats: rowsOfDraw(made, len(request.Run), names), Lines: drawLines(made), Done: steps, Proved: proved}
	}
	made, err := control.RotationWithNews(ctx, request, func(made race.Drawn) {
		steps++
		progress(shown(made, false))
	})
	if err != nil {
		return tui.DrawPreview{}, err
	}
	return shown(made, made.Proof != "" && !strings.Contains(made.Proof, "not proven best")), nil
}

// previewer asks the drawer of the session of the moment.
type previewer struct{ host }

// Preview looks for a draw.
func (p previewer) Preview(ctx context.Context, want race.MakeDraw, progress func(tui.DrawPreview)) (tui.DrawPreview, error) {
	return p.current().draws.Preview(ctx, want, progress)
}

// fingerprint tells two requests apart.
func fingerprint(r control.DrawRequest) string { return fmt.Sprintf("%+v", r) }

// drawLines are what there is to say of a draw.
func drawLines(made race.Drawn) []string {
	lines := append([]string(nil), made.Lines...)
	for line := range strings.SplitSeq(made.Proof, "\n") {
		if line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}

func rowsOfDraw(made race.Drawn, run int, names map[int]string) []race.HeatRow {
	named := func(numbers []int) []string {
		list := make([]string, len(numbers))
		for i, n := range numbers {
			list[i] = names[n]
		}
		return list
	}
	rows := make([]race.HeatRow, 0, len(made.Heats))
	for i, h := range made.Heats {
		rows = append(rows, race.HeatRow{Heat: run + i + 1, Group: h.Group, Drivers: h.Drivers, Names: named(h.Drivers), Marshals: named(h.Marshals), State: "ahead"})
	}
	return rows
}
