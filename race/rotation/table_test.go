package rotation

import (
	"context"
	"flag"
	"fmt"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"
)

var writeTable = flag.Bool("table", false, "draw all fields of 4 to 40 drivers on 2 to 8 lanes and write TABLE.md")

// TestTable writes TABLE.md: go test ./race/rotation -run TestTable -table
func TestTable(t *testing.T) {
	if !*writeTable {
		t.Skip("run with -table to measure and write TABLE.md")
	}
	var b strings.Builder
	fmt.Fprintf(&b, `# What the rotation search reaches

Made by `+"`go test ./race/rotation -run TestTable -table -timeout 60m`"+` with %s on %s/%s, one goroutine, seed 0, no marshals.
Times are processor time of this process as the operating system counts it, search and proof together; they depend on the machine, everything else does not.

- **meetings**: sum over pairs of (heats together)^2, and how far above the lower bound: 0 is proven optimal. The bound counts the even split,
  raised where that is proven impossible.
- **streaks**: sum of squares of what streaks have beyond two heats in a row (or beyond what few sit-outs force). 0 is optimal.
- **wait**: longest wait of anybody in heats, and its lower bound.
- **squares**: sum of squares of all waits, and its lower bound; * marks waits that a complete search has proven best for these meetings
  (the squares may lie up to a twentieth above that, given up for the time of evening).
- **spread**: latest less earliest mean heat number of a driver.
- **moves**, **take-overs**: sums of squares, and their lower bounds.
- **time**: to "meetings settled", and in all.

`, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	for rounds := 1; rounds <= 2; rounds++ {
		fmt.Fprintf(&b, "## %s\n\n", plural(rounds, "round"))
		b.WriteString("| drivers | lanes | meetings | above | streaks | wait | bound | squares | bound | spread | moves | bound | take-overs | bound | tried | meetings | all |\n")
		b.WriteString("| --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: | --: |\n")
		reached, all := 0, 0
		var slowest, slowestSmall time.Duration
		for lanes := 2; lanes <= 8; lanes++ {
			for n := 4; n <= 40; n++ {
				if rounds == 2 && n%4 != 0 {
					continue
				}
				var met time.Duration
				start := processorTime()
				d, err := Make(context.Background(), Problem{Drivers: n, Lanes: lanes, Rounds: rounds}, func(p Progress) {
					if met == 0 && p.Stage != "who meets whom" {
						met = processorTime() - start
					}
				})
				took := processorTime() - start
				if err != nil {
					t.Fatal(err)
				}
				slowest = max(slowest, took)
				if n <= 16 {
					slowestSmall = max(slowestSmall, took)
				}
				f, g := d.Figures, d.Bounds
				all++
				if f.PairSq == g.PairSq {
					reached++
				}
				star := ""
				for _, c := range d.Claims {
					if c.Figure == figureWait && c.Complete {
						star = "*"
					}
				}
				fmt.Fprintf(&b, "| %d | %d | %d | %d | %d | %d%s | %d | %d%s | %d | %.2f | %d | %d | %d | %d | %dk | %d ms | %d ms |\n", n, lanes, f.PairSq, f.PairSq-g.PairSq, f.Overlong,
					f.Wait, star, g.Wait, f.Idle, star, g.Idle, f.MeanSpread, f.MoveSq, g.MoveSq, f.TakeSq, g.TakeSq, d.Moved/1000, met.Milliseconds(), took.Milliseconds())
			}
		}
		fmt.Fprintf(&b, "\nMeetings proven optimal in %d of %d fields. Slowest draw: %d ms; up to 16 drivers: %d ms.\n\n", reached, all, slowest.Milliseconds(), slowestSmall.Milliseconds())
	}
	if err := os.WriteFile("TABLE.md", []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}
