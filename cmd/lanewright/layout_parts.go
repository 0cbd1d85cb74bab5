package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lanewright/layout/parts"
)

func layoutPartsCommand() *cobra.Command {
	var asJSON, build bool
	cmd := &cobra.Command{
		Use:   "parts PLAN",
		Short: "The pieces needed against those you own, and the build sheet to read aloud; exit 1 if any is short",
		Args:  cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			track, _, err := resolvePlan(args[0])
			if err != nil {
				return err
			}
			a := partsAnswer{Schema: 1, Plan: args[0], Parts: parts.Need(track), Build: parts.Sheet(track)}
			switch {
			case asJSON:
				err = printJSON(cmd.OutOrStdout(), a)
			case build:
				_, err = fmt.Fprint(cmd.OutOrStdout(), parts.Text(a.Build))
			default:
				printParts(cmd.OutOrStdout(), a.Parts)
			}
			for _, l := range a.Parts {
				if err == nil && l.Short > 0 {
					return errAnswerNo
				}
			}
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print list and build sheet as JSON")
	cmd.Flags().BoolVar(&build, "build", false, "print the build sheet, road by road in building order")
	return cmd
}

// partsAnswer is what `layout parts --json` prints.
type partsAnswer struct {
	Schema int          `json:"schema"`
	Plan   string       `json:"plan"`
	Parts  []parts.Line `json:"parts"`
	Build  []parts.Road `json:"build"`
}

func printParts(w io.Writer, lines []parts.Line) {
	width := 32
	for _, l := range lines {
		width = max(width, min(60, len(l.Piece)))
	}
	fmt.Fprintf(w, "%s  %7s  %7s  %7s\n", pad("piece", width), "needed", "owned", "short")
	for _, l := range lines {
		owned, short := "-", "-"
		if l.Owned >= 0 {
			owned = fmt.Sprint(l.Owned)
		}
		if l.Short > 0 {
			short = fmt.Sprint(l.Short)
		}
		fmt.Fprintf(w, "%s  %7d  %7s  %7s\n", pad(l.Piece, width), l.Needed, owned, short)
	}
}
