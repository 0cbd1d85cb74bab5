package tui

import (
	"lanewright/tui/cell"
	"lanewright/tui/chart"
)

// chartCache keeps the last curves: they are drawn again only when a lap or the size has changed.
type chartCache struct {
	key       uint64
	cells     [][]chart.Dot
	low, high float64
}

func newChartCache() *chartCache { return &chartCache{} }

// mark mixes a number into a key (FNV-1a on words).
func mark(key, v uint64) uint64 { return (key ^ v) * 1099511628211 }

// pace returns the curves of the heat at the line.
func (r *Root) pace(w, h int) *chartCache {
	key := mark(mark(14695981039346656037, uint64(w)), uint64(h))
	for _, row := range r.rows() {
		key = mark(key, uint64(row.n))
		for _, t := range row.Recent {
			key = mark(key, uint64(t))
		}
	}
	if r.set.Graph == "block" {
		key = mark(key, 1)
	}
	c := r.charts
	if c.key == key {
		return c
	}
	var series []chart.Series
	for _, row := range r.rows() {
		v := make([]float64, len(row.Recent))
		for i, t := range row.Recent {
			v[i] = t.Seconds()
		}
		series = append(series, chart.Series{Lane: row.n, Values: v})
	}
	c.key = key
	c.cells, c.low, c.high = chart.Lines(series, w, h, r.set.Graph != "block")
	return c
}

// drawPace draws the lap times of the heat as curves, with their range at the left and the lanes' marks at the right.
func (d *deskScreen) drawPace(g *cell.Grid, b cell.Box) {
	r := d.r
	if r.set.Graph == "none" {
		return
	}
	b = heading(g, b, "Pace: the last laps of every lane, lower is quicker")
	const axis, marks = 8, 4
	c := r.pace(b.W-axis-marks, b.H)
	if c.cells == nil {
		g.Put(b.X, b.Y, b.W, cell.Dim, "no laps yet")
		return
	}
	secs := func(v float64) string { return r.form.Lap(seconds(v), 2) }
	g.Right(b.X, b.Y, axis-2, cell.Dim, secs(c.high))
	g.Right(b.X, b.Y+b.H-1, axis-2, cell.Dim, secs(c.low))
	for y, row := range c.cells {
		g.Put(b.X+axis-1, b.Y+y, 1, cell.Dim, "│")
		for x, dot := range row {
			if dot.Text != "" {
				g.Dot(b.X+axis+x, b.Y+y, cell.Style{Fg: cell.LaneInk(dot.Lane)}, dot.Text)
			}
		}
	}
	d.drawPaceEnds(g, b, c)
}

// drawPaceEnds marks which curve is whose at its newest lap, each at the nearest row that is free.
func (d *deskScreen) drawPaceEnds(g *cell.Grid, b cell.Box, c *chartCache) {
	free := make([]bool, b.H)
	for i := range free {
		free[i] = true
	}
	for _, row := range d.r.rows() {
		if len(row.Recent) == 0 || c.high <= c.low {
			continue
		}
		v := row.Recent[len(row.Recent)-1].Seconds()
		at := max(0, min(b.H-1, int((c.high-v)/(c.high-c.low)*float64(b.H-1)+0.5)))
		for off := range 2 * b.H {
			y := at + off/2
			if off%2 == 1 {
				y = at - (off+1)/2
			}
			if y >= 0 && y < b.H && free[y] {
				free[y] = false
				g.Put(b.X+b.W-3, b.Y+y, 3, cell.Normal, d.r.laneMark(row.n))
				break
			}
		}
	}
}
