package paper

import (
	"encoding/csv"
	"io"
	"strings"
)

// CSV writes one table as RFC 4180 with a heading, for spreadsheets: UTF-8 with a byte order mark, lines ending in CR LF. A
// field that a spreadsheet would take for a formula gets an apostrophe in front.
func CSV(w io.Writer, t Table) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	var line []string
	for _, c := range t.Columns {
		line = append(line, tame(c.Head))
		if c.Number != "" {
			line = append(line, c.Number)
		}
	}
	if err := out.Write(line); err != nil {
		return err
	}
	for _, row := range t.Rows {
		line = line[:0]
		for i, c := range t.Columns {
			line = append(line, tame(row[i].Text))
			if c.Number != "" {
				line = append(line, row[i].Number)
			}
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// tame keeps a name from being run as a formula (OWASP: CSV injection). The dashes of an unknown figure cannot be one.
func tame(s string) string {
	if strings.Trim(s, "-.") != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
