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
		case c.Value == c.Bound:
			b.WriteString("optimal, the bound is reached.\n")
		case c.Optimal:
			b.WriteString("optimal, shown by a complete search.\n")
		default:
			fmt.Fprintf(&b, "%d above the bound, not proven best.\n", c.Value-c.Bound)
		}
	}
	return strings.TrimSuffix(b.String(), "\n")
}
