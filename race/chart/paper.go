package chart

import (
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"lanewright/layout/draw"
)

const (
	ink   = "#000000"
	faint = "#BBBBBB"
)

// paper is an SVG drawing in the making, in millimetres.
type paper struct{ b []byte }

func newPaper(width, height float64, title, what string) *paper {
	p := &paper{make([]byte, 0, 16*1024)}
	p.text0("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"", num(width), "mm\" height=\"", num(height),
		"mm\" viewBox=\"0 0 ", num(width), " ", num(height), "\" font-family=\"Go, Helvetica, Arial, sans-serif\" fill=\"none\" stroke-linejoin=\"round\" role=\"img\">\n<title>",
		escape(title), "</title>\n<desc>", escape(what), "</desc>\n<rect width=\"100%\" height=\"100%\" fill=\"#FFFFFF\"/>\n")
	return p
}

func (p *paper) done() []byte { return append(p.b, "</svg>\n"...) }

func (p *paper) text0(parts ...string) {
	for _, s := range parts {
		p.b = append(p.b, s...)
	}
}

func (p *paper) line(x1, y1, x2, y2, width float64, stroke string, dash []float64) {
	p.path([]float64{x1, x2}, []float64{y1, y2}, width, stroke, dash)
}

// path draws a line through places; dash is in mm.
func (p *paper) path(x, y []float64, width float64, stroke string, dash []float64) {
	if len(x) < 2 {
		return
	}
	p.text0("<path d=\"")
	for i := range x {
		p.text0([2]string{"L", "M"}[b2i(i == 0)], num(x[i]), " ", num(y[i]))
	}
	p.text0("\" stroke=\"", stroke, "\" stroke-width=\"", num(width), "\"")
	if len(dash) > 0 {
		s := make([]string, len(dash))
		for i, d := range dash {
			s[i] = num(d)
		}
		p.text0(" stroke-dasharray=\"", strings.Join(s, " "), "\"")
	}
	p.text0("/>\n")
}

func (p *paper) box(x, y, w, h float64, fill string) {
	p.text0("<rect x=\"", num(x), "\" y=\"", num(y), "\" width=\"", num(w), "\" height=\"", num(h), "\" fill=\"", fill, "\"/>\n")
}

// text writes at a baseline; anchor is start, middle or end.
func (p *paper) text(x, y, size float64, anchor, s string) {
	p.text0("<text x=\"", num(x), "\" y=\"", num(y), "\" font-size=\"", num(size), "\" fill=\"", ink, "\"")
	if anchor != "start" {
		p.text0(" text-anchor=\"", anchor, "\"")
	}
	p.text0(">", escape(s), "</text>\n")
}

// mark draws a lane's shape about a place, r being half its size. Hollow shapes have the colour on their edge.
func (p *paper) mark(lane int, x, y, r float64) {
	look := draw.LaneLook(lane)
	fill, edge, width := look.Hex, ink, 0.2
	if strings.Contains("□△○", look.Shape) {
		fill, width = "#FFFFFF", 0.5
		if look.Hex != "#FFFFFF" {
			edge = look.Hex
		}
	}
	style := "\" fill=\"" + fill + "\" stroke=\"" + edge + "\" stroke-width=\"" + num(width) + "\"/>\n"
	corners := func(at ...float64) {
		p.text0("<path d=\"")
		for i := 0; i < len(at); i += 2 {
			p.text0([2]string{"L", "M"}[b2i(i == 0)], num(x+r*at[i]), " ", num(y+r*at[i+1]))
		}
		p.text0("Z", style)
	}
	switch look.Shape {
	case "●", "○":
		p.text0("<circle cx=\"", num(x), "\" cy=\"", num(y), "\" r=\"", num(r), style)
	case "▲", "△":
		corners(-1, 0.85, 1, 0.85, 0, -1)
	case "▼":
		corners(-1, -0.85, 1, -0.85, 0, 1)
	case "◆":
		corners(-1.1, 0, 0, -1.1, 1.1, 0, 0, 1.1)
	default:
		corners(-0.9, -0.9, 0.9, -0.9, 0.9, 0.9, -0.9, 0.9)
	}
}

// curve draws a lane's line: its colour, wide and under, and its dashes in black on it.
func (p *paper) curve(lane int, x, y []float64) {
	look := draw.LaneLook(lane)
	under := look.Hex
	if under == "#FFFFFF" {
		under = look.Gap
	}
	p.path(x, y, 1.1, under, nil)
	dash := make([]float64, len(look.Dash))
	for i, d := range look.Dash {
		dash[i] = d * 0.35
	}
	p.path(x, y, 0.3, ink, dash)
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// num writes to a hundredth, without trailing noughts.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 2, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

// escape makes a text fit for XML 1.0: what XML has no character for becomes U+FFFD.
func escape(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '&':
			b.WriteString("&amp;")
		case r == '"':
			b.WriteString("&quot;")
		case r < 0x20 && r != '\t' && r != '\n' && r != '\r', r == 0xFFFE, r == 0xFFFF:
			b.WriteRune(utf8.RuneError)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// axis maps figures to a length of paper and knows round places on it.
type axis struct {
	low, high float64 // of the figures
	from, to  float64 // on paper
	step      float64 // between round places
	decimals  int
}

// newAxis spans the figures with about so many round places; both ends become round.
func newAxis(low, high, from, to float64, places int) axis {
	if !(high-low > 1e-9*math.Max(1, math.Abs(low))) {
		low, high = low-0.5, high+0.5
	}
	rough := (high - low) / float64(max(places, 1))
	step := math.Pow(10, math.Floor(math.Log10(rough)))
	for _, m := range []float64{1, 2, 5, 10} {
		if step*m >= rough*0.999 {
			step *= m
			break
		}
	}
	a := axis{low: math.Floor(low/step+1e-9) * step, high: math.Ceil(high/step-1e-9) * step, from: from, to: to, step: step}
	for a.decimals < 6 && math.Abs(math.Round(step*math.Pow10(a.decimals))-step*math.Pow10(a.decimals)) > 1e-6 {
		a.decimals++
	}
	return a
}

func (a axis) on(v float64) float64 { return a.from + (v-a.low)/(a.high-a.low)*(a.to-a.from) }

// rounds lists the round places.
func (a axis) rounds() []float64 {
	var out []float64
	for i := 0; i <= 100; i++ {
		v := a.low + float64(i)*a.step
		if v > a.high+a.step/2 {
			break
		}
		out = append(out, v)
	}
	return out
}

func (a axis) label(v float64) string {
	s := strconv.FormatFloat(v, 'f', a.decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) && math.Abs(v) < 1e9 }
