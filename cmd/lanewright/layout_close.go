package main

import (
	"fmt"
	"io"
	"math"
	"time"

	"github.com/spf13/cobra"

	"lanewright/layout/fit"
)

func layoutCloseCommand() *cobra.Command {
	var asJSON, anyStock bool
	var most, course int
	cmd := &cobra.Command{
		Use:   "close PLAN",
		Short: "The smallest changes that make a layout close, from the pieces you own; exit 1 if none is found",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if most < 1 || most > 100 {
				return fmt.Errorf("--most is %d; it is from 1 to 100", most)
			}
			if course < 0 || course > most {
				return fmt.Errorf("--course is %d; it is the number of a proposal, from 1 to %d", course, most)
			}
			track, _, err := resolvePlan(args[0])
			if err != nil {
				return err
			}
			began := time.Now()
			result, err := fit.Close(track, fit.CloseOptions{Most: most, AnyStock: anyStock})
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			took := time.Since(began)
			closes := true
			for _, j := range track.Joins {
				closes = closes && (j.Exact || !j.Provable && j.Usable)
			}
			if course > 0 && !asJSON {
				return printCourse(cmd.OutOrStdout(), result.Closings, course)
			}
			a := closeAnswer{Schema: 1, Plan: args[0], Closes: closes, CloseResult: result, TookUS: took.Microseconds(),
				PerSecond: math.Round(float64(result.Tried) / max(took.Seconds(), 1e-6))}
			if asJSON {
				err = printJSON(cmd.OutOrStdout(), a)
			} else {
				printClose(cmd.OutOrStdout(), a, took)
			}
			if err == nil && !closes && len(result.Closings) == 0 {
				return errAnswerNo
			}
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the answer as JSON")
	cmd.Flags().BoolVar(&anyStock, "any-stock", false, "any piece of the kit, owned or not")
	cmd.Flags().IntVar(&most, "most", 5, "so many proposals")
	cmd.Flags().IntVar(&course, "course", 0, "print only the course of this proposal, to be copied into the plan")
	return cmd
}

// closeAnswer is what `layout close --json` prints.
type closeAnswer struct {
	Schema int    `json:"schema"`
	Plan   string `json:"plan"`
	Closes bool   `json:"closes"` // as it is
	fit.CloseResult
	TookUS    int64   `json:"took_us"`
	PerSecond float64 `json:"states_per_second"`
}

// printCourse prints the course that a proposal leads to, as plans have it.
func printCourse(w io.Writer, closings []fit.Closing, n int) error {
	if n > len(closings) {
		return errAnswerNo
	}
	c := closings[n-1]
	if c.Calls == nil {
		return fmt.Errorf("proposal %d cannot be worded as a course: it changes a call that holds more than plain pieces, or lists them road by road; make its changes by hand", n)
	}
	fmt.Fprintln(w, "course = [")
	for _, call := range c.Calls {
		fmt.Fprintf(w, "  %q,\n", call)
	}
	fmt.Fprintln(w, "]")
	return nil
}

func printClose(w io.Writer, a closeAnswer, took time.Duration) {
	if a.Closes {
		fmt.Fprintln(w, "it closes as it is")
	}
	for i, c := range a.Closings {
		roads := "all roads"
		if c.Road > 0 {
			roads = fmt.Sprintf("road %d", c.Road)
		}
		fmt.Fprintf(w, "%d. %s, %s more and %s fewer:\n", i+1, roads, count(c.Added, "piece"), count(c.Removed, "piece"))
		for _, e := range c.Edits {
			fmt.Fprintf(w, "   %s\n", e)
		}
		if !c.Exact {
			fmt.Fprintln(w, "   closes to about a thousandth of a millimetre")
		}
		// Their lines and calls are those of the changed course, so only what is in the way is said.
		for i, f := range c.Findings {
			if i == 2 {
				fmt.Fprintf(w, "   then also: %d more\n", len(c.Findings)-i)
				break
			}
			fmt.Fprintf(w, "   then: road %d, %s\n", f.Road, f.Text)
		}
	}
	if len(a.Closings) == 0 && !a.Closes {
		fmt.Fprintln(w, "nothing found that closes it")
	}
	fmt.Fprintf(w, "looked through: %s (%d states in %s, %.0f a second)\n", a.Scope, a.Tried, took.Round(time.Millisecond), a.PerSecond)
}
