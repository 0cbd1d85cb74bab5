package rotation

import (
	"fmt"
	"strings"
)

// prove puts the claims of a draw into words.
func prove(d Draw) string {
	var b strings.Builder
	for _, c := range d.Claims {
		fmt.Fprintf(&b, "%s: %s %d, lower bound %d (%s): ", c.Criterion, c.Figure, c.Value, c.Bound, c.Why)
		switch {
		case c.Value < c.Bound:
			fmt.Fprintf(&b, "less than the criteria before it allow at their best; given up there.\n")
		case c.Value == c.Bound && c.Complete:
			b.WriteString("optimal, shown by the search.\n")
		case c.Value == c.Bound:
			b.WriteString("optimal, the bound is reached.\n")
		case c.Complete:
			fmt.Fprintf(&b, "%d above what is possible, given up for the criteria after it.\n", c.Value-c.Bound)
		default:
			fmt.Fprintf(&b, "%d above the bound, not proven best.\n", c.Value-c.Bound)
		}
	}
	return strings.TrimSuffix(b.String(), "\n")
}
