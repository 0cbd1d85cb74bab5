package tui

import (
	"strings"

	"lanewright/race"
	"lanewright/tui/cell"
	"lanewright/tui/digits"
	"lanewright/tui/lane"
)

// boardSizes is the number of views of the Board: laps as large as can be, or laps with another figure as large beside them:
// the last lap, the gap, the place.
const boardSizes = 4

// boardScreen is what drivers look at from the other side of the hall: figures that fill the window.
type boardScreen struct{ r *Root }

func (*boardScreen) enter()      {}
func (*boardScreen) move(string) {}

// boardPlan is how the Board divides a window.
type boardPlan struct {
	head    int // rows of state and clock
	columns int
	bandW   int
	bandH   int
	laps    digits.Size // of the count of laps
	shape   bool        // the shape is drawn large too
	second  digits.Size // of the second large figure, None if there is no room for one
	chip    int         // columns
}

// lapsText is as wide as any count of laps that is to be expected, so that figures do not change their size in mid-heat.
func (d *boardScreen) lapsText(rows []laneView) string {
	for _, row := range rows {
		if row.Laps >= 100 {
			return strings.Repeat("8", len(itoa(row.Laps)))
		}
	}
	if d.r.snap.Clock.Laps >= 100 {
		return "888"
	}
	return "88"
}

// words is the room beside the figures for the name, in columns.
const words = 14

// large is the least height of what must be read from three metres: an eighth of the window with up to four lanes, a tenth
// with more.
func large(lanes, height int) int {
	if lanes <= 4 {
		return (height + 7) / 8
	}
	return (height + 9) / 10
}

// plan divides a box among so many lanes, with the largest figures that fit.
func (d *boardScreen) plan(b cell.Box, rows []laneView) boardPlan {
	n := max(len(rows), 1)
	best := boardPlan{}
	text := d.lapsText(rows)
	for columns := 1; columns <= 2; columns++ {
		if n <= 4 && columns == 2 && b.W < 2*b.H {
			continue
		}
		down := (n + columns - 1) / columns
		p := boardPlan{columns: columns, bandW: (b.W - columns + 1) / columns}
		p.head = max(large(n, d.r.h), b.H/(down+2))
		if p.head > b.H/3 {
			continue
		}
		p.bandH = (b.H - p.head) / down
		if p.bandH < 3 {
			continue
		}
		least := large(n, d.r.h)
		room := (p.bandW - 5 - words) * len(text) / (len(text) + 1)
		p.laps = digits.Fit(text, room, p.bandH, least)
		if less := digits.Fit(text, room, p.bandH-1, least); p.laps.H == p.bandH && !p.laps.Gap() && less.H >= least {
			p.laps = less // figures that touch those below cannot be read
		}
		if p.laps.H < least { // the figure goes before the words
			p.laps = digits.Fit(text, p.bandW-13, p.bandH, least)
		}
		if p.laps.H == 0 {
			continue
		}
		d.fill(&p)
		if d.better(p, best, n) {
			best = p
		}
	}
	return best
}

// better says whether a plan for n lanes is better than another: larger figures, or, in a view with a second figure, one that
// has it.
func (d *boardScreen) better(p, than boardPlan, n int) bool {
	if than.laps.H == 0 {
		return true
	}
	if d.r.size > 0 && (p.second.H > 0) != (than.second.H > 0) {
		return p.second.H > 0 && p.laps.H >= large(n, d.r.h) || than.second.H > 0 && than.laps.H < large(n, d.r.h)
	}
	if p.laps.H == than.laps.H {
		return n > 4 && than.second.H == 0
	}
	return p.laps.H > than.laps.H
}

// fill settles what else of a lane is drawn large: first the second figure, then the shape.
func (d *boardScreen) fill(p *boardPlan) {
	one := p.laps.Like("8").W
	kx, _ := p.laps.Dots()
	p.chip = one + 2
	if one == 0 {
		p.chip = 5
	}
	rest := p.bandW - p.chip - p.laps.W - 3 - words
	second := p.laps.Like([boardSizes]string{"88.888", "88.888", "+88.888", "P8="}[d.r.size])
	if second.W > 0 && rest-second.W-2 >= 0 {
		p.second = second
		rest -= second.W + 2
	}
	if rest >= 6*kx {
		p.shape = true
		p.chip += 6 * kx
	}
}

func (d *boardScreen) draw(g *cell.Grid, b cell.Box) {
	r := d.r
	rows := r.rows()
	if len(rows) == 0 {
		d.drawIdle(g, b)
		return
	}
	p := d.plan(b, rows)
	if p.laps.H == 0 {
		top, rest := b.Top(1)
		r.drawStrip(g, top)
		r.screens[desk].(*deskScreen).drawLanes(g, rest, 1)
		return
	}
	head, rest := b.Top(p.head)
	d.drawHead(g, head)
	down := (len(rows) + p.columns - 1) / p.columns
	spare := rest.H - down*p.bandH
	if spare > 1 || p.laps.H < p.bandH {
		_, row := rest.Bottom(1)
		d.drawNextLine(g, row)
	}
	_, rest = rest.Top(min(spare, 1))
	for i, row := range rows {
		if down*p.bandH > rest.H {
			p.bandH = rest.H / down
		}
		band := cell.Box{X: rest.X + i/down*(p.bandW+1), Y: rest.Y + i%down*p.bandH, W: p.bandW, H: p.bandH}
		d.drawLane(g, band, p, row)
		g.Zone(band, "lane:"+itoa(row.n))
	}
}

// drawNextLine says in one line who marshals the heat that is called, or who drives next.
func (d *boardScreen) drawNextLine(g *cell.Grid, b cell.Box) {
	r := d.r
	if h := r.heatAtLine(); h != nil && r.snap.Phase == race.Staged && len(h.Marshals) > 0 {
		g.Put(b.X, b.Y, b.W, cell.Strong, "marshals: "+marshalText(h))
		return
	}
	h := r.nextHeat()
	if h == nil {
		return
	}
	x := b.X + g.Put(b.X, b.Y, b.W, cell.Head, "next, heat "+itoa(h.Heat)) + 2
	for i, n := range h.Names {
		if n != "" {
			x += g.Put(x, b.Y, b.X+b.W-x, cell.Dim, r.laneMark(i+1)+" "+cell.Clean(n)) + 2
		}
	}
}

// drawHead draws the state and the clock as large as the room allows.
func (d *boardScreen) drawHead(g *cell.Grid, b cell.Box) {
	r := d.r
	st := stateStyle(r.snap.Phase)
	fig, word := r.clock()
	call := r.snap.Phase == race.TrackCall
	if call {
		g.Fill(b, st)
	}
	room := b.W
	if size := digits.Fit(clockText(fig), b.W*45/100, b.H, large(1, r.h)); fig != "" && size.H > 0 {
		size = size.Like(fig)
		at := b.X + b.W - size.W - 1
		large := cell.Strong
		if call {
			large = st
		}
		size.Each(fig, func(x, y int, block string) { g.Dot(at+x, b.Y+y, large, block) })
		room = at - b.X - 1
		if n := cell.Width(word); room > 60 && n < 14 {
			g.Right(at-n-1, b.Y+size.H-1, n, cell.Dim, word)
			room -= n + 2
		}
	}
	text := strings.ToUpper(r.phase())
	size := digits.Fit(text, room-1, b.H, 0)
	if lamps := r.lamps(); lamps != "" {
		d.drawLamps(g, cell.Box{X: b.X, Y: b.Y, W: room, H: b.H})
		return
	}
	if size.H == 0 {
		g.Put(b.X, b.Y, room, st, " "+text+" ")
		g.Put(b.X, b.Y+1, min(room, b.W), cell.Normal, d.heatText())
		return
	}
	plain := cell.Style{Fg: st.Fg, Attr: cell.Bold}
	if call {
		plain = st
	}
	size.Each(text, func(x, y int, block string) { g.Dot(b.X+1+x, b.Y+y, plain, block) })
	if left := room - size.W - 3; left >= 12 {
		if call {
			g.Put(b.X+size.W+3, b.Y, left, st, d.heatText())
			return
		}
		g.Put(b.X+size.W+3, b.Y, left, cell.Normal, d.heatText())
		if text, st := r.trouble(); text != "" && b.H > 1 {
			g.Put(b.X+size.W+3, b.Y+1, left, st, fitting(text, "", left))
		}
	}
}

// clockText is as wide as the figure of the clock ever gets, so that it does not change its size.
func clockText(fig string) string {
	if len(fig) <= 4 {
		return "8:88"
	}
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return '8'
		}
		return r
	}, fig)
}

func (d *boardScreen) heatText() string {
	s := d.r.snap
	if s.Heat == 0 {
		return cell.Clean(s.Title)
	}
	return "heat " + itoa(s.Heat) + " of " + itoa(max(s.Heats, s.Heat))
}

// discs are a lamp that is lit and one that is not, in dots.
var (
	discLit = []string{".###.", "#####", "#####", "#####", ".###."}
	discOff = []string{".###.", "#...#", "#...#", "#...#", ".###."}
)

// drawLamps draws the start lamps large.
func (d *boardScreen) drawLamps(g *cell.Grid, b cell.Box) {
	c := &d.r.snap.Clock
	k := max(1, min(b.H*2/5, (b.W-2)/(7*c.LampsOf)))
	if x := 1 + c.LampsOf*7*k; b.W-x >= 12 {
		g.Put(b.X+x, b.Y, b.W-x, stateStyle(d.r.snap.Phase), " "+d.r.phase()+" ")
		g.Put(b.X+x, b.Y+1, b.W-x, cell.Normal, d.heatText())
	} else if b.H > (5*k+1)/2 {
		g.Put(b.X+1, b.Y+b.H-1, b.W-1, stateStyle(d.r.snap.Phase), " "+d.r.phase()+" ")
	}
	for i := range c.LampsOf {
		dots := discOff
		if i < d.r.lampsLit() {
			dots = discLit
		}
		x0 := b.X + 1 + i*7*k
		digits.EachDot(dots, k, k, func(x, y int, block string) {
			if x0+x < b.X+b.W && y < b.H {
				g.Dot(x0+x, b.Y+y, cell.Notice, block)
			}
		})
	}
}

// drawLane draws one lane: chip with shape and number, words, second figure, laps.
func (d *boardScreen) drawLane(g *cell.Grid, b cell.Box, p boardPlan, row laneView) {
	r := d.r
	tall := min(b.H, p.laps.H)
	d.drawMark(g, cell.Box{X: b.X, Y: b.Y, W: p.chip, H: tall}, p, row.n)
	right := b.X + b.W
	mine := cell.Strong
	if r.lit(row.LastPass) {
		mine.Fg = cell.Accent
	}
	var size digits.Size
	at := 0
	drives := row.Driver != 0 || row.Laps > 0
	if drives {
		text := itoa(row.Laps)
		size = p.laps.Like(text)
		at = right - size.W - 1
		size.Each(text, func(x, y int, block string) { g.Dot(at+x, b.Y+y, mine, block) })
	}
	right -= p.laps.W + 2
	if p.second.H > 0 {
		if drives {
			text := d.secondText(row)
			size = p.laps.Like(text)
			if size.W > 0 && size.W <= p.second.W {
				at = right - size.W - 1
				size.Each(text, func(x, y int, block string) { g.Dot(at+x, b.Y+y, cell.Normal, block) })
			}
		}
		right -= p.second.W + 2
	}
	d.drawWords(g, cell.Box{X: b.X + p.chip + 1, Y: b.Y, W: right - b.X - p.chip - 1, H: tall}, p, row)
}

// drawMark draws number and shape of a lane on its colour: side by side if there is room, otherwise one below the other if both
// are still large enough, otherwise the shape small beside the number.
func (d *boardScreen) drawMark(g *cell.Grid, b cell.Box, p boardPlan, n int) {
	chip := cell.Chip(n)
	g.Fill(b, chip)
	num := itoa(n)
	size := p.laps.Like(num)
	kx, ky := p.laps.Dots()
	at, top := b.X+b.W-size.W-1, b.Y
	least := large(len(d.r.rows()), d.r.h)
	half := digits.Fit(num, b.W-2, (b.H-1)/2, least)
	switch {
	case p.shape:
		digits.EachDot(shapeDots(n, p.laps.H, ky), kx, ky, func(x, y int, block string) { g.Dot(b.X+1+x, b.Y+y, chip, block) })
	case half.H >= least:
		size = half
		at = b.X + (b.W-size.W)/2
		kx, ky = size.Dots()
		kx = min(kx, (b.W-2)/5)
		dots := shapeDots(n, size.H, ky)
		x0, y0 := b.X+(b.W-5*kx)/2, b.Y+b.H-size.H
		digits.EachDot(dots, kx, ky, func(x, y int, block string) { g.Dot(x0+x, y0+y, chip, block) })
	default:
		g.Put(b.X, b.Y, 1, chip, d.r.shape(n))
	}
	size.Each(num, func(x, y int, block string) { g.Dot(at+x, top+y, chip, block) })
}

// shapeDots returns the dots of a lane's shape, as high as a figure of the size.
func shapeDots(n, rows, ky int) []string {
	out := []string{}
	mark := lane.Of(n)
	dots := mark.Dots[:]
	if rows*2 < 7*ky {
		dots = mark.Dots5[:]
	}
	for _, bits := range dots {
		line := make([]byte, 5)
		for i := range line {
			line[i] = '.'
			if bits&(1<<(4-i)) != 0 {
				line[i] = '#'
			}
		}
		out = append(out, string(line))
	}
	return out
}

// secondText is the second large figure of a lane.
func (d *boardScreen) secondText(row laneView) string {
	r := d.r
	switch d.r.size {
	case 2:
		return strings.ToUpper(r.form.Gap(row.Place, row.Behind, row.Gap, row.GapKnown))
	case 3:
		return figurePlace(row.LaneRow)
	}
	return r.lastLap(row.LaneRow)
}

// drawWords draws name, place and gap, last and best lap as text beside the figures.
func (d *boardScreen) drawWords(g *cell.Grid, b cell.Box, p boardPlan, row laneView) {
	r := d.r
	name, st := r.rowName(row.LaneRow)
	g.Put(b.X, b.Y, b.W, st, name)
	if row.Driver == 0 && row.Laps == 0 {
		return
	}
	if r.snap.Phase == race.Staged || r.snap.Phase == race.Lamps {
		if b.H > 1 {
			g.Put(b.X, b.Y+1, b.W, cell.Normal, cell.Clean(row.Car))
		}
		return
	}
	lines := []string{figurePlace(row.LaneRow) + "  " + r.form.Gap(row.Place, row.Behind, row.Gap, row.GapKnown)}
	if p.second.H == 0 || r.size > 1 {
		lines = append(lines, "last "+r.lastLap(row.LaneRow))
	}
	lines = append(lines, "best "+r.form.Lap(row.Best, row.Digits))
	if row.Done {
		lines = append([]string{"finished"}, lines...)
	}
	if row.KmhScale > 0 {
		lines = append(lines, r.form.Speed(row.KmhScale, r.snap.Scale))
	}
	step := 1
	if b.H >= 2*len(lines)+1 {
		step = 2
	}
	if b.W < 10 {
		lines = []string{figurePlace(row.LaneRow), r.lastLap(row.LaneRow)}
	}
	for i, line := range lines {
		y := 1 + i*step
		if y >= b.H {
			return
		}
		st := cell.Normal
		if i == 0 {
			st = cell.Strong
		}
		g.Put(b.X, b.Y+y, b.W, st, line)
	}
}

// drawIdle draws what drivers want to know between heats: who is next on which lane, or how the night ended.
func (d *boardScreen) drawIdle(g *cell.Grid, b cell.Box) {
	r := d.r
	s := r.snap
	head, rest := b.Top(max(1, min(large(1, r.h), b.H/3)))
	d.drawHead(g, head)
	_, rest = rest.Top(min(1, rest.H))
	if h := r.nextHeat(); h != nil {
		part, below := rest.Top(min(rest.H, len(h.Drivers)+3))
		r.drawHeat(g, part, h, "Next on the line: heat "+itoa(h.Heat))
		rest = below
	}
	if len(s.Standings) > 0 && rest.H > 2 {
		r.drawStandings(g, rest, "Standings", s.Standings)
		return
	}
	if len(s.Ahead) == 0 && rest.H > 0 {
		g.Put(rest.X, rest.Y, rest.W, cell.Dim, "the rotation is not made yet")
	}
}
