package tui

import (
	"lanewright/tui/cell"
)

// planScreen shows the layout and what its lanes measure.
type planScreen struct{ r *Root }

func (*planScreen) enter()      {}
func (*planScreen) move(string) {}

// planSide is the width of the table of lanes beside the picture, with the gap.
const planSide = 36

// pictureSize is the room that the picture has in a window.
func pictureSize(w, h int) (int, int) {
	if w >= 80 {
		return w - planSide - 2, max(1, h-6)
	}
	return w, max(1, h-12)
}

func (s *planScreen) draw(g *cell.Grid, b cell.Box) {
	r := s.r
	w, h := pictureSize(r.w, r.h)
	pic, side := b.Left(min(w, b.W))
	_, side = side.Left(2)
	if r.w < 80 || side.W < 20 {
		side, pic = b.Top(min(b.H, len(r.snap.Lanes)+2))
	}
	switch {
	case r.opt.Picture == nil:
		g.Put(pic.X, pic.Y, pic.W, cell.Dim, "no picture of this layout")
	case r.loaded.picture == nil:
		g.Put(pic.X, pic.Y, pic.W, cell.Dim, "drawing the layout")
	case r.loaded.picW == w && r.loaded.picH == h || len(r.loaded.picture) <= pic.H:
		for i, line := range r.loaded.picture {
			if i < pic.H {
				g.Put(pic.X, pic.Y+i, pic.W, cell.Normal, cell.Clean(line))
			}
		}
	}
	s.drawLengths(g, side)
}

// drawLengths draws the lanes with their lengths, and how much longer each is than the shortest.
func (s *planScreen) drawLengths(g *cell.Grid, b cell.Box) {
	r := s.r
	b = heading(g, b, "Lanes")
	short := 0.0
	for _, l := range r.snap.Lanes {
		if l.LengthMM > 0 && (short == 0 || l.LengthMM < short) {
			short = l.LengthMM
		}
	}
	for _, l := range r.snap.Lanes {
		if b.H == 0 {
			return
		}
		n := r.drawChip(g, b.X, b.Y, l.Lane)
		g.Right(b.X+n+1, b.Y, 10, cell.Strong, r.form.Metres(l.LengthMM))
		note := ""
		if l.LengthMM > short {
			note = "+" + r.form.Metres(l.LengthMM-short)
		}
		if l.Closed {
			note = "closed"
		}
		g.Right(b.X+n+12, b.Y, min(11, b.W-n-12), cell.Dim, note)
		_, b = b.Top(1)
	}
	if len(r.snap.Lanes) == 0 {
		g.Put(b.X, b.Y, b.W, cell.Dim, "no layout chosen")
		return
	}
	if r.snap.Scale > 0 && b.H > 1 {
		g.Put(b.X, b.Y+1, b.W, cell.Dim, "scale 1:"+itoa(r.snap.Scale))
	}
}
