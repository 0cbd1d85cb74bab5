package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"lanewright/layout/pace"
)

func speedsRouteCommand() *cobra.Command {
	var carName string
	var asJSON bool
	var levels int
	cmd := &cobra.Command{
		Use:   "route PLAN",
		Short: "The quickest way round through the changers: least time, not least length",
		Long: "Finds for each lane the changes that make its lap quickest when every lap ends where it began, and over\n" +
			"all lanes the sequence of laps with the least mean time. Shortest is not quickest: a change costs\n" +
			"curvature.",
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if levels != 0 && (levels < 5 || levels > 400) {
				return fmt.Errorf("--levels is %d; it is from 5 to 400 speeds at each joint", levels)
			}
			car, err := carOf(carName)
			if err != nil {
				return err
			}
			track, _, err := resolvePlan(args[0])
			if err != nil {
				return err
			}
			if !track.Closes || len(track.Lanes) == 0 {
				return fmt.Errorf("%s does not close, so no lap can be driven on it; see: lanewright layout check %s", args[0], args[0])
			}
			lanes, best, err := pace.Fastest(track, car, pace.FastOptions{Levels: levels})
			if err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			a := fastAnswer{Schema: 1, Plan: args[0], Name: track.Plan.Name, Car: car, Lanes: []fastLane{}, Best: fastOf(best)}
			for _, l := range lanes {
				a.Lanes = append(a.Lanes, fastOf(l))
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), a)
			}
			printFast(cmd.OutOrStdout(), a)
			return nil
		},
	}
	carFlag(cmd, &carName)
	cmd.Flags().IntVar(&levels, "levels", 0, "speeds looked at at each joint (default 40); more find routes that are quicker by less")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the routes as JSON")
	return cmd
}

// fastAnswer is what `speeds route --json` prints; lengths in mm, times in s, speeds in m/s.
type fastAnswer struct {
	Schema int        `json:"schema"`
	Plan   string     `json:"plan"`
	Name   string     `json:"name"`
	Car    pace.Car   `json:"car"`
	Lanes  []fastLane `json:"lanes"` // quickest lap that ends where it began, lane by lane
	Best   fastLane   `json:"best"`  // quickest of all sequences of laps
}

type fastLane struct {
	Lanes    []int      `json:"lanes"` // in which each lap starts
	Changes  [][]string `json:"changes"`
	LapsS    []float64  `json:"laps_s"`
	MeanS    float64    `json:"mean_s"`
	LengthMM float64    `json:"length_mm"` // of all laps
	TopMS    float64    `json:"top_ms"`
	StayS    float64    `json:"stay_s"` // mean lap of the first lane without changes
	GainS    float64    `json:"gain_s"` // what changing is worth a lap
}

func fastOf(f pace.Fast) fastLane {
	l := fastLane{Lanes: f.Lanes, Changes: [][]string{}, LapsS: f.Par.LapsS, MeanS: f.Par.MeanS, LengthMM: f.Par.LengthMM, TopMS: f.Par.TopMS, StayS: f.StayS, GainS: f.GainS}
	for _, lap := range f.Laps {
		words := []string{}
		for _, t := range lap {
			words = append(words, turnWords(t))
		}
		l.Changes = append(l.Changes, words)
	}
	return l
}

func printFast(w io.Writer, a fastAnswer) {
	fmt.Fprintf(w, "%s, car %s: quickest laps that end where they began\n", a.Name, a.Car.Name)
	fmt.Fprintln(w, "lane       lap   staying      gain        length")
	for _, l := range a.Lanes {
		fmt.Fprintf(w, "%4d  %7.4f s  %7.4f s  %7.4f s  %9.1f mm\n", l.Lanes[0], l.MeanS, l.StayS, l.GainS, l.LengthMM/float64(len(l.LapsS)))
		printChanges(w, l)
	}
	fmt.Fprintf(w, "\nquickest of all: ")
	if len(a.Best.Lanes) == 1 {
		fmt.Fprintf(w, "lane %d, %.4f s a lap\n", a.Best.Lanes[0], a.Best.MeanS)
	} else {
		fmt.Fprintf(w, "laps from lanes %v in turn, %.4f s a lap on average\n", a.Best.Lanes, a.Best.MeanS)
	}
	printChanges(w, a.Best)
}

func printChanges(w io.Writer, l fastLane) {
	for i, lap := range l.Changes {
		head := "      "
		if len(l.Changes) > 1 {
			head = fmt.Sprintf("      lap %d, from lane %d: ", i+1, l.Lanes[i])
		}
		if len(lap) == 0 && len(l.Changes) > 1 {
			fmt.Fprintln(w, head+"no change")
		}
		for _, c := range lap {
			fmt.Fprintln(w, head+c)
		}
	}
}
