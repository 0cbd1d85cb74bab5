package paper

import (
	"bufio"
	"io"
	"strings"

	"github.com/charmbracelet/x/ansi"
)

// Plain writes a sheet as text for a terminal or a mail: columns lined up, no escape bytes.
func Plain(w io.Writer, d Document) error {
	out := bufio.NewWriter(w)
	line := func(parts ...string) {
		s := strings.Join(parts, "")
		out.WriteString(strings.TrimRight(s, " "))
		out.WriteByte('\n')
	}
	line(d.Title)
	if d.Under != "" {
		line(d.Under)
	}
	for _, t := range d.Tables {
		line()
		if t.Title != "" {
			line(t.Title)
		}
		widths := make([]int, len(t.Columns))
		for i, c := range t.Columns {
			widths[i] = ansi.StringWidth(c.Head)
			for _, row := range t.Rows {
				widths[i] = max(widths[i], ansi.StringWidth(row[i].Text))
			}
		}
		var b strings.Builder
		for i, c := range t.Columns {
			field(&b, c.Head, widths[i], c.Figures)
		}
		line(b.String())
		for _, row := range t.Rows {
			b.Reset()
			for i, c := range t.Columns {
				field(&b, row[i].Text, widths[i], c.Figures)
			}
			line(b.String())
		}
		if len(t.Rows) == 0 {
			line("(nothing yet)")
		}
	}
	if len(d.Notes) > 0 {
		line()
		for _, n := range d.Notes {
			line("- ", n)
		}
	}
	return out.Flush()
}

func field(b *strings.Builder, s string, width int, right bool) {
	space := strings.Repeat(" ", max(width-ansi.StringWidth(s), 0))
	if right {
		b.WriteString(space)
		b.WriteString(s)
	} else {
		b.WriteString(s)
		b.WriteString(space)
	}
	b.WriteString("  ")
}
