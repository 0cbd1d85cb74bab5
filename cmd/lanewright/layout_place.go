package main

import (
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"lanewright/layout"
	"lanewright/layout/fit"
)

func layoutPlaceCommand() *cobra.Command {
	var asJSON, arrange bool
	var o fit.PlaceOptions
	cmd := &cobra.Command{
		Use:   "place PLAN",
		Short: "Where the layout fits on the tables, or how to put the tables under it; exit 1 if nowhere",
		Long: "Slides and turns the layout over the tables of the plan and says where nothing hangs over, the widest margin first.\n" +
			"Tables with find = true have no place yet: then the layout stays where it is and they are put under it.\n" +
			"With --arrange all tables may go anywhere. What it prints in square brackets can be copied into the plan.",
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.Most < 1 || o.Most > 24 || o.StepDeg < 1 || o.StepDeg > 180 {
				return fmt.Errorf("--most is %d and --step %g; they are from 1 to 24 places and from 1 to 180 degrees", o.Most, o.StepDeg)
			}
			track, _, err := resolvePlan(args[0])
			if err != nil {
				return err
			}
			a, err := placeOf(args[0], track, arrange, o)
			if err != nil {
				return err
			}
			if asJSON {
				err = printJSON(cmd.OutOrStdout(), a)
			} else {
				printPlace(cmd.OutOrStdout(), a)
			}
			if err == nil && !a.Fits {
				return errAnswerNo
			}
			return err
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the answer as JSON")
	cmd.Flags().BoolVar(&arrange, "arrange", false, "put all tables anew under the layout, as it lies")
	cmd.Flags().IntVar(&o.Most, "most", 3, "so many places for the layout")
	cmd.Flags().Float64Var(&o.StepDeg, "step", 15, "degrees between the headings that are tried")
	return cmd
}

// placeAnswer is what `layout place --json` prints; lengths in mm, angles in degrees.
type placeAnswer struct {
	Schema int               `json:"schema"`
	Plan   string            `json:"plan"`
	Fits   bool              `json:"fits"` // one of the places, or the tables as arranged, bears all of the road
	Now    *nowAnswer        `json:"now,omitempty"`
	Spots  []spotAnswer      `json:"spots,omitempty"`
	Tables *arrangementFound `json:"arrangement,omitempty"`
}

// nowAnswer is how the layout lies as the plan has it.
type nowAnswer struct {
	MarginMM float64 `json:"margin_mm"` // negative: so far over the edge
	Fits     bool    `json:"fits"`
	Borders  bool    `json:"borders"`
}

type spotAnswer struct {
	XMM        float64 `json:"x_mm"`
	YMM        float64 `json:"y_mm"`
	HeadingDeg float64 `json:"heading_deg"`
	TurnDeg    float64 `json:"turn_deg"` // against the plan as it is
	MarginMM   float64 `json:"margin_mm"`
	Fits       bool    `json:"fits"`
	Borders    bool    `json:"borders"` // the border wanted beside the road fits as well
}

type arrangementFound struct {
	Tables   []tableAnswer `json:"tables"`
	MarginMM float64       `json:"margin_mm"`
	Fits     bool          `json:"fits"`
}

type tableAnswer struct {
	Name      string  `json:"name"`
	XMM       float64 `json:"x_mm"`
	YMM       float64 `json:"y_mm"`
	WidthMM   float64 `json:"width_mm"` // along X before it is turned
	DepthMM   float64 `json:"depth_mm"`
	TurnedDeg float64 `json:"turned_deg"`
	Used      bool    `json:"used"` // false: not needed, its place means nothing
}

func placeOf(path string, t layout.Track, arrange bool, o fit.PlaceOptions) (placeAnswer, error) {
	a := placeAnswer{Schema: 1, Plan: path}
	if len(t.Plan.Tables) == 0 {
		return a, fmt.Errorf("%s: the plan has no tables to look on; add a [[table]] with its size for each", path)
	}
	open := slices.ContainsFunc(t.Plan.Tables, func(tb layout.Table) bool { return tb.Find })
	if arrange || open {
		t.Plan.Tables = slices.Clone(t.Plan.Tables)
		for i := range t.Plan.Tables {
			t.Plan.Tables[i].Find = arrange || t.Plan.Tables[i].Find
		}
		found, err := fit.Arrange(t)
		if err != nil {
			return a, fmt.Errorf("%s: %w", path, err)
		}
		a.Fits, a.Tables = found.Fits, arrangementOf(found)
		return a, nil
	}
	now := fit.OnTables(t)
	a.Now = &nowAnswer{now.MarginMM, now.Fits, now.Fits && len(now.Borders) == 0}
	spots, err := fit.FindPlace(t, o)
	if err != nil {
		return a, fmt.Errorf("%s: %w", path, err)
	}
	a.Spots = []spotAnswer{}
	for _, s := range spots {
		a.Fits = a.Fits || s.Fits
		a.Spots = append(a.Spots, spotAnswer{s.Start.XMM, s.Start.YMM, s.Start.HeadingDeg, s.TurnDeg, s.MarginMM, s.Fits, s.Borders})
	}
	return a, nil
}

func arrangementOf(f fit.Arrangement) *arrangementFound {
	out := &arrangementFound{Tables: []tableAnswer{}, MarginMM: f.MarginMM, Fits: f.Fits}
	for i, tb := range f.Tables {
		out.Tables = append(out.Tables, tableAnswer{tb.Name, tb.XMM, tb.YMM, tb.WidthMM, tb.DepthMM, tb.TurnedDeg, !slices.Contains(f.Unused, i+1)})
	}
	return out
}

func printPlace(w io.Writer, a placeAnswer) {
	if a.Tables != nil {
		printArrangement(w, a.Tables)
		return
	}
	fmt.Fprintf(w, "as planned: %s\n", marginWords(a.Now.MarginMM, a.Now.Fits, a.Now.Borders))
	for i, s := range a.Spots {
		fmt.Fprintf(w, "\n# %d. turned by %s degrees: %s\n[start]\nx = %s\ny = %s\nheading = %s\n", i+1, trim(s.TurnDeg, 3),
			marginWords(s.MarginMM, s.Fits, s.Borders), trim(s.XMM, 1), trim(s.YMM, 1), trim(s.HeadingDeg, 3))
	}
	if !a.Fits {
		fmt.Fprintln(w, "\nno place found where nothing hangs over; try a smaller --step, or --arrange")
	}
}

func printArrangement(w io.Writer, f *arrangementFound) {
	for _, tb := range f.Tables {
		if tb.Used {
			fmt.Fprintf(w, "[[table]]\nname = %q\nat = [%s, %s]\nsize = [%s, %s]\nturned = %s\n\n", tb.Name, trim(tb.XMM, 1), trim(tb.YMM, 1),
				trim(tb.WidthMM, 3), trim(tb.DepthMM, 3), trim(tb.TurnedDeg, 3))
		}
	}
	for _, tb := range f.Tables {
		if !tb.Used {
			fmt.Fprintf(w, "# %q is not needed\n", tb.Name)
		}
	}
	fmt.Fprintln(w, "# "+marginWords(f.MarginMM, f.Fits, true))
	if !f.Fits {
		fmt.Fprintln(w, "# no arrangement found that bears all of the road; this one bears most of it")
	}
}

// marginWords says how a layout lies on tables.
func marginWords(marginMM float64, fits, borders bool) string {
	switch {
	case !fits:
		return fmt.Sprintf("hangs up to %s mm over the edge", trim(-marginMM, 1))
	case !borders:
		return fmt.Sprintf("fits with %s mm to spare, but not with the borders wanted", trim(marginMM, 1))
	}
	return fmt.Sprintf("fits with %s mm to spare", trim(marginMM, 1))
}
