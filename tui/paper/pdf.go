package paper

import (
	"fmt"
	"io"
	"unicode"

	"github.com/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"

	"lanewright/tui/lane"
)

// Sizes of the paper in mm: A4, landscape when a table is wide.
const (
	marginMM  = 14.0
	lineMM    = 6.2
	textPt    = 10.0
	leastPt   = 6.5 // below this a table is cut instead
	widestCol = 60.0
)

// PDF writes sheets to one file, each from a new page. The font holds Latin, Greek and Cyrillic; a letter that it lacks is
// printed as a question mark, and the HTML form shows it.
func PDF(w io.Writer, sheets ...Document) error {
	p := fpdf.New("P", "mm", "A4", "")
	p.SetCatalogSort(true)
	if len(sheets) > 0 {
		p.SetCreationDate(sheets[0].Made.UTC())
		p.SetModificationDate(sheets[0].Made.UTC())
		p.SetTitle(sheets[0].Title, true)
	}
	p.SetMargins(marginMM, marginMM, marginMM)
	p.SetAutoPageBreak(false, marginMM)
	p.AddUTF8FontFromBytes("go", "", goregular.TTF)
	p.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	p.SetFooterFunc(func() {
		p.SetFont("go", "", 8)
		_, h := p.GetPageSize()
		p.SetXY(marginMM, h-10)
		p.CellFormat(0, 4, fmt.Sprintf("page %d", p.PageNo()), "", 0, "R", false, 0, "")
	})
	known := glyphs()
	for _, d := range sheets {
		printSheet(p, d, known)
	}
	if err := p.Output(w); err != nil {
		return fmt.Errorf("cannot make the PDF: %w", err)
	}
	return nil
}

func printSheet(p *fpdf.Fpdf, d Document, known func(string) string) {
	orientation := "P"
	for _, t := range d.Tables {
		if len(t.Columns) > 7 {
			orientation = "L"
		}
	}
	size := fpdf.SizeType{Wd: 210, Ht: 297}
	p.AddPageFormat(orientation, size)
	p.SetFont("go", "B", 15)
	p.CellFormat(0, 8, known(d.Title), "", 1, "L", false, 0, "")
	p.SetFont("go", "", textPt)
	p.CellFormat(0, 6, known(d.Under), "", 1, "L", false, 0, "")
	for _, t := range d.Tables {
		printTable(p, t, known, orientation, size)
	}
	p.SetFont("go", "", textPt)
	width, height := p.GetPageSize()
	for _, n := range d.Notes {
		lines := p.SplitText(known("- "+n), width-2*marginMM)
		if p.GetY()+float64(len(lines))*5 > height-marginMM-6 {
			p.AddPageFormat(orientation, size)
		}
		for _, l := range lines {
			p.CellFormat(0, 5, l, "", 1, "L", false, 0, "")
		}
	}
}

func printTable(p *fpdf.Fpdf, t Table, known func(string) string, orientation string, size fpdf.SizeType) {
	width, height := p.GetPageSize()
	room := width - 2*marginMM
	pt, widths := fit(p, t, known, room)
	p.Ln(3)
	if t.Title != "" {
		p.SetFont("go", "B", textPt+1)
		p.CellFormat(0, lineMM, known(t.Title), "", 1, "L", false, 0, "")
	}
	head := func() {
		p.SetFont("go", "B", pt)
		p.SetLineWidth(0.4)
		for i, c := range t.Columns {
			x, y := p.GetXY()
			if c.Lane > 0 {
				rgb := lane.Of(c.Lane).RGB
				p.SetFillColor(int(rgb>>16), int(rgb>>8&255), int(rgb&255))
				p.Rect(x, y+lineMM-1.2, widths[i], 1.2, "F")
			}
			p.CellFormat(widths[i], lineMM, cut(p, known(c.Head), widths[i]), "B", 0, align(c), false, 0, "")
		}
		p.Ln(-1)
		p.SetFont("go", "", pt)
		p.SetLineWidth(0.2)
	}
	head()
	for _, row := range t.Rows {
		if p.GetY()+lineMM > height-marginMM-4 {
			p.AddPageFormat(orientation, size)
			head()
		}
		for i, c := range t.Columns {
			p.CellFormat(widths[i], lineMM, cut(p, known(row[i].Text), widths[i]), "B", 0, align(c), false, 0, "")
		}
		p.Ln(-1)
	}
}

// fit finds the largest type in which the table is as wide as the paper allows, and the widths of its columns.
func fit(p *fpdf.Fpdf, t Table, known func(string) string, room float64) (float64, []float64) {
	widths := make([]float64, len(t.Columns))
	for pt := textPt; ; pt -= 0.5 {
		total := 0.0
		for i, c := range t.Columns {
			p.SetFont("go", "B", pt)
			widths[i] = p.GetStringWidth(known(c.Head))
			p.SetFont("go", "", pt)
			for _, row := range t.Rows {
				widths[i] = max(widths[i], p.GetStringWidth(known(row[i].Text)))
			}
			widths[i] = min(widths[i], widestCol) + 4
			total += widths[i]
		}
		if total <= room {
			return pt, widths
		}
		if pt <= leastPt {
			for i := range widths {
				widths[i] *= room / total
			}
			return pt, widths
		}
	}
}

func align(c Column) string {
	if c.Figures {
		return "R"
	}
	return "L"
}

// cut shortens what does not fit, with an ellipsis.
func cut(p *fpdf.Fpdf, s string, width float64) string {
	if p.GetStringWidth(s) <= width-2 {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && p.GetStringWidth(string(runes)+"…") > width-2 {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// glyphs returns a function that replaces every letter the font lacks by a question mark: the PDF library draws nothing, or
// fails, on those.
func glyphs() func(string) string {
	font, err := sfnt.Parse(goregular.TTF)
	if err != nil {
		panic(err) // embedded in the library: only a broken build gets here
	}
	var buf sfnt.Buffer
	return func(s string) string {
		out := []rune(s)
		for i, r := range out {
			if index, err := font.GlyphIndex(&buf, r); err != nil || index == 0 || unicode.IsControl(r) || r > 0xFFFF {
				out[i] = '?'
			}
		}
		return string(out)
	}
}
