package draw

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/goregular"

	"lanewright/layout"
)

// PDF writes the layout as one page that prints at the stated scale. The same track and options give the same bytes: the
// file carries no time of writing.
func PDF(w io.Writer, t layout.Track, o Options) error {
	s := compose(t, o)
	if err := s.pdf(w); err != nil {
		return fmt.Errorf("draw: writing the PDF: %w", err)
	}
	return nil
}

// epoch stands where a PDF wants a time of writing.
var epoch = time.Unix(0, 0).UTC()

func (s *sheet) pdf(w io.Writer) error {
	const face = "go"
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: fpdf.SizeType{Wd: s.width, Ht: s.height}})
	f.SetCreationDate(epoch)
	f.SetModificationDate(epoch)
	f.SetCatalogSort(true)
	f.SetTitle(basic(s.title), true)
	f.SetProducer("lanewright", true)
	f.SetMargins(0, 0, 0)
	f.SetAutoPageBreak(false, 0)
	f.AddUTF8FontFromBytes(face, "", goregular.TTF)
	f.AddPage()
	f.SetLineJoinStyle("round")
	for i := range s.shapes {
		sh := &s.shapes[i]
		if sh.text == "" {
			sh.pdf(f)
			continue
		}
		text := basic(sh.text)
		f.SetFont(face, "", sh.size*72/25.4)
		f.SetTextColor(rgb(sh.fill))
		x := sh.points[0].x
		switch sh.anchor {
		case middle:
			x -= f.GetStringWidth(text) / 2
		case right:
			x -= f.GetStringWidth(text)
		}
		f.Text(x, sh.points[0].y, text)
	}
	return f.Output(w)
}

func (s *shape) pdf(f *fpdf.Fpdf) {
	if len(s.points) < 2 {
		return
	}
	style := ""
	if s.fill != "" {
		f.SetFillColor(rgb(s.fill))
		style += "F"
	}
	if s.stroke != "" {
		f.SetDrawColor(rgb(s.stroke))
		f.SetLineWidth(s.width)
		style += "D"
	}
	f.SetDashPattern(s.dash, s.phase)
	f.MoveTo(s.points[0].x, s.points[0].y)
	for _, p := range s.points[1:] {
		f.LineTo(p.x, p.y)
	}
	if s.closed {
		f.ClosePath()
	}
	f.DrawPath(style)
}

// rgb reads "#RRGGBB"; anything else is black.
func rgb(hex string) (r, g, b int) {
	if len(hex) != 7 {
		return 0, 0, 0
	}
	n, err := strconv.ParseUint(hex[1:], 16, 32)
	if err != nil {
		return 0, 0, 0
	}
	return int(n >> 16), int(n >> 8 & 255), int(n & 255)
}

// basic keeps what the PDF library's font tables reach: the basic multilingual plane without control characters.
func basic(text string) string {
	return strings.Map(func(r rune) rune {
		if r > 0xFFFF || r < 0x20 {
			return '?'
		}
		return r
	}, text)
}
