package cell

import (
	"fmt"
	"html"
	"strings"
)

// SVG draws the grid as a picture of a terminal: one text a run of like cells, with its colours, in a fixed cell of 8 by 17
// units. The same grid always gives the same bytes.
func (g *Grid) SVG(p *Palette, title string) string {
	const cw, ch, base, edge = 8, 17, 13, 8
	paper, ink := "#14161b", "#e6e6e6"
	if p.light {
		paper, ink = "#fbfbf8", "#1c1c1c"
	}
	var b strings.Builder
	w, h := g.w*cw+2*edge, g.h*ch+2*edge
	fmt.Fprintf(&b, "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%d\" viewBox=\"0 0 %d %d\">\n", w, h, w, h)
	fmt.Fprintf(&b, "<title>%s</title>\n<rect width=\"%d\" height=\"%d\" rx=\"6\" fill=\"%s\"/>\n", html.EscapeString(title), w, h, paper)
	fmt.Fprintf(&b, "<g font-family=\"ui-monospace,'DejaVu Sans Mono',Menlo,Consolas,monospace\" font-size=\"13.3\" fill=\"%s\">\n", ink)
	for y := range g.h {
		for x := 0; x < g.w; {
			run, n, wide := g.run(x, y)
			g.svgRun(&b, p, run, x*cw+edge, y*ch+edge, n*cw, ch, base, wide, paper, ink)
			x += n
		}
	}
	b.WriteString("</g>\n</svg>\n")
	return b.String()
}

// run returns the text of the cells from x that share a style, and how many cells they are. Block and line characters, and
// wide ones, stand alone so that fonts with other widths cannot push their neighbours away.
func (g *Grid) run(x, y int) (run []spot, n int, alone bool) {
	row := g.spots[y*g.w : (y+1)*g.w]
	first := row[x]
	if x+1 < g.w && row[x+1].wide {
		return row[x : x+1], 2, true
	}
	end := x + 1
	for end < g.w && row[end].style == first.style && !(end+1 < g.w && row[end+1].wide) && !row[end].wide && drawn(row[end].text) == drawn(first.text) {
		end++
	}
	return row[x:end], end - x, false
}

// drawn says whether a character is drawn as rectangles instead of as text.
func drawn(s string) bool { return s == "█" || s == "▀" || s == "▄" }

func (g *Grid) svgRun(b *strings.Builder, p *Palette, run []spot, x, y, w, h, base int, wide bool, paper, ink string) {
	st := run[0].style
	fg, bg := ink, paper
	if c, ok := p.RGB(st.Fg); ok {
		fg = fmt.Sprintf("#%06x", c)
	}
	if c, ok := p.RGB(st.Bg); ok {
		bg = fmt.Sprintf("#%06x", c)
	}
	if st.Attr&Inverse != 0 {
		fg, bg = bg, fg
	}
	if bg != paper {
		fmt.Fprintf(b, "<rect x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\" fill=\"%s\"/>\n", x, y, w, h, bg)
	}
	if drawn(run[0].text) {
		svgBlocks(b, run, x, y, w/len(run), h, fg)
		return
	}
	var text strings.Builder
	for _, s := range run {
		text.WriteString(s.shown())
	}
	line := strings.TrimRight(text.String(), " ")
	body := strings.TrimLeft(line, " ")
	if body == "" {
		return
	}
	x += (len(line) - len(body)) * 8
	attrs := ""
	if !wide {
		attrs = fmt.Sprintf(" textLength=\"%d\"", Width(body)*8)
	}
	if fg != ink {
		attrs += fmt.Sprintf(" fill=\"%s\"", fg)
	}
	if st.Attr&Bold != 0 {
		attrs += " font-weight=\"bold\""
	}
	if st.Attr&Under != 0 {
		attrs += " text-decoration=\"underline\""
	}
	fmt.Fprintf(b, "<text xml:space=\"preserve\" x=\"%d\" y=\"%d\"%s>%s</text>\n", x, y+base, attrs, html.EscapeString(body))
}

// svgBlocks draws full and half blocks as one path.
func svgBlocks(b *strings.Builder, run []spot, x, y, cw, ch int, fg string) {
	fmt.Fprintf(b, "<path fill=\"%s\" shape-rendering=\"crispEdges\" d=\"", fg)
	up := ch/2 + 1
	for i := 0; i < len(run); {
		j := i
		for j < len(run) && run[j].text == run[i].text {
			j++
		}
		top, tall := 0, ch
		switch run[i].text {
		case "▀":
			tall = up
		case "▄":
			top, tall = up, ch-up
		}
		fmt.Fprintf(b, "M%d %dh%dv%dh%dz", x+i*cw, y+top, (j-i)*cw, tall, -(j-i)*cw)
		i = j
	}
	b.WriteString("\"/>\n")
}
