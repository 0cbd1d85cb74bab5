package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lanewright/layout"
	"lanewright/layout/even"
)

func layoutEvenCommand() *cobra.Command {
	var asJSON bool
	var o even.Options
	cmd := &cobra.Command{
		Use:   "even PLAN",
		Short: "Where crossings bring the lanes' lengths closest; exit 1 if nowhere",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.Crossings < 0 || o.Crossings > 20 || o.Most < 1 || o.Most > 100 || o.LengthMM < 0 {
				return fmt.Errorf("--crossings is from 0 to 20, --most from 1 to 100, --length not negative")
			}
			track, _, err := resolvePlan(args[0])
			if err != nil {
				return err
			}
			result, err := even.Crossings(track, o)
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			a := evenAnswer{Schema: 1, Plan: args[0], Result: result, Spoilers: even.Spoilers(track)}
			if asJSON {
				err = printJSON(cmd.OutOrStdout(), a)
			} else {
				printEven(cmd.OutOrStdout(), a)
			}
			if err == nil && len(result.Proposals) == 0 {
				return errAnswerNo
			}
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the answer as JSON")
	cmd.Flags().IntVar(&o.Crossings, "crossings", 0, "spare crossings (0: those that the stock has left, 2 where that is not known)")
	cmd.Flags().IntVar(&o.Most, "most", 3, "so many proposals")
	cmd.Flags().Float64Var(&o.LengthMM, "length", 0, "length of a crossing in mm; needed on a routed track, which has no pieces")
	return cmd
}

// evenAnswer is what `layout even --json` prints.
type evenAnswer struct {
	Schema int    `json:"schema"`
	Plan   string `json:"plan"`
	even.Result
	Spoilers []layout.Finding `json:"spoilers,omitempty"` // crossings of the plan that make lanes less alike
}

// spreadWords says how alike lanes are: proposals are ranked by joined lanes first, then by their distance from the mean.
func spreadWords(s even.State) string {
	text := fmt.Sprintf("%.3f mm between longest and shortest, %.3f mm from the mean (root mean square)", s.SpreadMM, s.RMSMM)
	if s.Joined > 0 {
		text += fmt.Sprintf(", %s run into each other", count(s.Joined, "lane"))
	}
	return text
}

func printEven(w io.Writer, a evenAnswer) {
	fmt.Fprintf(w, "now:   lanes %s mm, %s\n", lengthList(a.Before.LanesMM), spreadWords(a.Before))
	printFindings(w, a.Spoilers)
	for i, p := range a.Proposals {
		fmt.Fprintf(w, "%d. %s: lanes %s mm\n", i+1, spreadWords(p.After), lengthList(p.After.LanesMM))
		for _, place := range p.Places {
			fmt.Fprintf(w, "   %s\n", place)
		}
	}
	if len(a.Proposals) == 0 {
		fmt.Fprintln(w, "no place for a crossing makes the lanes more alike")
	}
	how := "every set of places"
	if !a.Exhaustive {
		how = "not every set of places: there are too many"
	}
	fmt.Fprintf(w, "tried %d sets at %s: %s\n", a.Tried, count(a.Sites, "place"), how)
}
