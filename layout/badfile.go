package layout

import (
	"fmt"
	"strings"
)

// BadFile is the error of a kit or plan file that cannot be used; every finding is one sentence.
type BadFile struct {
	File     string
	Findings []Finding
}

// Error gives the findings, one a line.
func (e *BadFile) Error() string {
	lines := make([]string, len(e.Findings))
	for i, f := range e.Findings {
		lines[i] = f.String()
	}
	return strings.Join(lines, "\n")
}

// String gives a finding as one line: where, what, a way out.
func (f Finding) String() string {
	var b strings.Builder
	if f.File != "" {
		b.WriteString(f.File)
		if f.Line > 0 {
			fmt.Fprintf(&b, ":%d", f.Line)
		}
		b.WriteString(": ")
	}
	if f.Call > 0 {
		fmt.Fprintf(&b, "call %d: ", f.Call)
	}
	if road := fmt.Sprintf("road %d", f.Road); f.Road > 0 && !strings.HasPrefix(f.Text, road+" ") {
		b.WriteString(road + ": ")
	}
	b.WriteString(f.Text)
	if f.Way != "" {
		b.WriteString("; ")
		b.WriteString(f.Way)
	}
	return b.String()
}

// String returns the level in words.
func (l Level) String() string {
	switch l {
	case Error:
		return "error"
	case Warning:
		return "warning"
	}
	return "note"
}

// MarshalText writes the level in words.
func (l Level) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads a level in words.
func (l *Level) UnmarshalText(text []byte) error {
	for _, level := range []Level{Note, Warning, Error} {
		if level.String() == string(text) {
			*l = level
			return nil
		}
	}
	return fmt.Errorf("%q is no level; use note, warning or error", text)
}
