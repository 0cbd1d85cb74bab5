package draw

import (
	"io"
	"strconv"
	"unicode/utf8"

	"lanewright/layout"
)

// SVG writes the layout as an SVG 1.1 drawing that prints at the stated scale. The same track and options give the same
// bytes.
func SVG(w io.Writer, t layout.Track, o Options) error {
	s := compose(t, o)
	_, err := w.Write(s.svg())
	return err
}

func (s *sheet) svg() []byte {
	b := make([]byte, 0, 64*1024)
	b = append(b, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\""...)
	b = decimal(b, s.width)
	b = append(b, "mm\" height=\""...)
	b = decimal(b, s.height)
	b = append(b, "mm\" viewBox=\"0 0 "...)
	b = decimal(b, s.width)
	b = append(b, ' ')
	b = decimal(b, s.height)
	b = append(b, "\" font-family=\"Go, Helvetica, Arial, sans-serif\" fill=\"none\" stroke-linejoin=\"round\">\n<title>"...)
	b = escape(b, s.title)
	b = append(b, "</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#FFFFFF\"/>\n"...)
	for i := range s.shapes {
		b = s.shapes[i].svg(b)
	}
	return append(b, "</svg>\n"...)
}

func (s *shape) svg(b []byte) []byte {
	if s.text != "" {
		return s.svgText(b)
	}
	if len(s.points) < 2 {
		return b
	}
	b = append(b, "<path d=\"M"...)
	for i, p := range s.points {
		if i > 0 {
			b = append(b, 'L')
		}
		b = decimal(b, p.x)
		b = append(b, ' ')
		b = decimal(b, p.y)
	}
	if s.closed {
		b = append(b, 'Z')
	}
	b = append(b, '"')
	if s.fill != "" {
		b = attribute(b, "fill", s.fill)
	}
	if s.stroke != "" {
		b = attribute(b, "stroke", s.stroke)
		b = append(b, " stroke-width=\""...)
		b = decimal(b, s.width)
		b = append(b, '"')
	}
	if len(s.dash) > 0 {
		b = append(b, " stroke-dasharray=\""...)
		for i, d := range s.dash {
			if i > 0 {
				b = append(b, ' ')
			}
			b = decimal(b, d)
		}
		b = append(b, "\" stroke-dashoffset=\""...)
		b = decimal(b, s.phase)
		b = append(b, '"')
	}
	if s.note == "" {
		return append(b, "/>\n"...)
	}
	b = append(b, "><title>"...)
	b = escape(b, s.note)
	return append(b, "</title></path>\n"...)
}

func (s *shape) svgText(b []byte) []byte {
	b = append(b, "<text x=\""...)
	b = decimal(b, s.points[0].x)
	b = append(b, "\" y=\""...)
	b = decimal(b, s.points[0].y)
	b = append(b, "\" font-size=\""...)
	b = decimal(b, s.size)
	b = append(b, '"')
	b = attribute(b, "fill", s.fill)
	switch s.anchor {
	case middle:
		b = attribute(b, "text-anchor", "middle")
	case right:
		b = attribute(b, "text-anchor", "end")
	}
	b = append(b, '>')
	b = escape(b, s.text)
	return append(b, "</text>\n"...)
}

func attribute(b []byte, name, value string) []byte {
	b = append(b, ' ')
	b = append(b, name...)
	b = append(b, "=\""...)
	b = append(b, value...)
	return append(b, '"')
}

// decimal writes mm to a hundredth, without trailing noughts.
func decimal(b []byte, v float64) []byte {
	n := len(b)
	b = strconv.AppendFloat(b, v, 'f', 2, 64)
	for b[len(b)-1] == '0' {
		b = b[:len(b)-1]
	}
	if b[len(b)-1] == '.' {
		b = b[:len(b)-1]
	}
	if string(b[n:]) == "-0" {
		b = append(b[:n], '0')
	}
	return b
}

// escape writes text so that it is character data of XML 1.0; what XML does not allow becomes a question mark.
func escape(b []byte, text string) []byte {
	for _, r := range text {
		switch {
		case r == '&':
			b = append(b, "&amp;"...)
		case r == '<':
			b = append(b, "&lt;"...)
		case r == '>':
			b = append(b, "&gt;"...)
		case r == '\t', r == '\n', r == '\r':
			b = append(b, ' ')
		case r < 0x20, r == utf8.RuneError, r == 0xFFFE, r == 0xFFFF:
			b = append(b, '?')
		default:
			b = utf8.AppendRune(b, r)
		}
	}
	return b
}
