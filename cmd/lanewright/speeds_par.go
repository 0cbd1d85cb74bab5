package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/spf13/cobra"

	"lanewright/layout"
	"lanewright/layout/draw"
	"lanewright/layout/pace"
	"lanewright/race/chart"
)

type parFlags struct {
	car, csv, out string
	lane, scale   int
	asJSON        bool
	points, ascii bool
}

func speedsParCommand() *cobra.Command {
	var f parFlags
	cmd := &cobra.Command{
		Use:   "par PLAN",
		Short: "The par lap of every lane: time, top speed, where a car brakes",
		Long: "Drives a modelled car (a point mass with grip, motor and brakes) round every lane of the layout as fast\n" +
			"as it can go. A par lap is a yardstick between lanes and layouts, not a prediction for one car; fit a\n" +
			"car to recorded laps with: lanewright speeds fit",
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error { return runPar(cmd, args[0], f) },
	}
	carFlag(cmd, &f.car)
	fs := cmd.Flags()
	fs.IntVar(&f.lane, "lane", 0, "only this lane, with a larger picture")
	fs.IntVar(&f.scale, "scale", 32, "denominator of the scale: 32 for 1:32")
	fs.BoolVar(&f.asJSON, "json", false, "print the par laps as JSON")
	fs.BoolVar(&f.points, "points", false, "with --json: the state of the car at every step as well")
	fs.StringVar(&f.csv, "csv", "", "also write the state of the car at every step to this file")
	fs.BoolVar(&f.ascii, "ascii", false, "draw with plain letters only")
	pictureFlag(cmd, &f.out, "speed along the lap")
	return cmd
}

// parAnswer is what `speeds par --json` prints; lengths in mm, times in s, speeds in m/s.
type parAnswer struct {
	Schema int         `json:"schema"`
	Plan   string      `json:"plan"`
	Name   string      `json:"name"`
	Scale  int         `json:"scale"`
	Car    pace.Car    `json:"car"`
	Lanes  []parLane   `json:"lanes"`
	Steps  []parRefine `json:"convergence"` // of the first lane listed
}

// parLane is one lane. A lane of a joined slot has the laps of the whole slot, its own first.
type parLane struct {
	Lane     int     `json:"lane"`
	LengthMM float64 `json:"length_mm"` // of its own lap
	LapS     float64 `json:"lap_s"`
	MeanMS   float64 `json:"mean_ms"`
	ScaleKMH float64 `json:"scale_kmh"` // mean speed in scale
	pace.Par
}

// parRefine is a lap worked out with steps of one length; laps of 10 mm steps are the ones used.
type parRefine struct {
	pace.Refined
	OffUS *float64 `json:"off_us"` // against the finest steps, in microseconds; null for those
}

func runPar(cmd *cobra.Command, path string, f parFlags) error {
	if f.scale < 1 || f.scale > 1000 {
		return fmt.Errorf("--scale is %d; it is the denominator, 1 to 1000", f.scale)
	}
	car, err := carOf(f.car)
	if err != nil {
		return err
	}
	track, _, err := resolvePlan(path)
	if err != nil {
		return err
	}
	if !track.Closes || len(track.Lanes) == 0 {
		return fmt.Errorf("%s does not close, so no lap can be driven on it; see: lanewright layout check %s", path, path)
	}
	if f.lane < 0 || f.lane > len(track.Lanes) {
		return fmt.Errorf("--lane %d: %s has lanes 1 to %d", f.lane, path, len(track.Lanes))
	}
	a, err := parOf(path, track, car, f)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if f.csv != "" {
		if err := writeWhole(f.csv, parPoints(a.Lanes)); err != nil {
			return err
		}
	}
	lines := alongsOf(a.Lanes)
	title := fmt.Sprintf("Par laps on %s, car %s", a.Name, car.Name)
	if err := writePicture(f.out, func() []byte { return chart.AlongSVG(title, lines) }); err != nil {
		return err
	}
	if !f.asJSON {
		printPar(cmd.OutOrStdout(), a, lines, f)
		return nil
	}
	if !f.points {
		for i := range a.Lanes {
			a.Lanes[i].Points = nil
		}
	}
	return printJSON(cmd.OutOrStdout(), a)
}

func parOf(path string, track layout.Track, car pace.Car, f parFlags) (parAnswer, error) {
	a := parAnswer{Schema: 1, Plan: path, Name: track.Plan.Name, Scale: f.scale, Car: car}
	laps, err := pace.Lanes(track, car, true)
	if err != nil {
		return a, err
	}
	for i, l := range track.Lanes {
		if f.lane > 0 && l.Number != f.lane {
			continue
		}
		p := parLane{Lane: l.Number, LengthMM: l.LengthMM, LapS: laps[i].LapsS[0], Par: laps[i]}
		p.MeanMS = p.LengthMM / 1000 / p.LapS
		p.ScaleKMH = p.MeanMS * 3.6 * float64(f.scale)
		if p.Brakes == nil {
			p.Brakes = []pace.Brake{}
		}
		a.Lanes = append(a.Lanes, p)
	}
	steps, err := pace.Converge(track, a.Lanes[0].Lane, car)
	if err != nil {
		return a, err
	}
	for i, s := range steps {
		r := parRefine{Refined: s}
		if i < len(steps)-1 {
			off := (s.LapS - steps[len(steps)-1].LapS) * 1e6
			r.OffUS = &off
		}
		a.Steps = append(a.Steps, r)
	}
	return a, nil
}

// alongOf is a par lap as a picture shows it: the first lap of a joined slot.
func alongOf(l parLane) chart.Along {
	line := chart.Along{Lane: l.Lane, Label: fmt.Sprintf("%.2f s", l.LapS)}
	for _, p := range l.Points {
		if p.AtMM > l.LengthMM+1 {
			break
		}
		line.AtMM, line.MS = append(line.AtMM, p.AtMM), append(line.MS, p.SpeedMS)
	}
	for _, b := range l.Brakes {
		if b.AtMM <= l.LengthMM {
			line.Brakes = append(line.Brakes, [2]float64{b.AtMM, b.UntilMM})
		}
	}
	return line
}

// parPoints writes the steps of par laps as CSV.
func parPoints(lanes []parLane) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write([]string{"lane", "at_mm", "time_s", "speed_ms", "accel_ms2", "limit_ms"}) // into memory: cannot fail
	n := func(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
	for _, l := range lanes {
		for _, p := range l.Points {
			limit := ""
			if p.LimitMS > 0 {
				limit = n(p.LimitMS)
			}
			_ = w.Write([]string{strconv.Itoa(l.Lane), n(p.AtMM), n(p.TimeS), n(p.SpeedMS), n(p.AccelMS2), limit})
		}
	}
	w.Flush()
	return b.Bytes()
}

// textWide is how wide pictures in a command's answer are.
const textWide = 76

func printPar(w io.Writer, a parAnswer, lines []chart.Along, f parFlags) {
	fmt.Fprintf(w, "%s, car %s: grip %s, drive %s m/s2, top %s m/s, brake %s m/s2, magnet %s m/s2\n\n", a.Name, a.Car.Name, trim(a.Car.Grip, 3), trim(a.Car.Drive, 3),
		trim(a.Car.Top, 3), trim(a.Car.Brake, 3), trim(a.Car.Magnet, 3))
	fmt.Fprintf(w, "lane      length        par lap   mean speed    km/h 1:%-3d   top speed   slowest  brakes\n", a.Scale)
	for _, l := range a.Lanes {
		fmt.Fprintf(w, "%2d %s  %8.3f m  %9.4f s  %7.3f m/s  %10.1f  %7.3f m/s  %6.3f m/s  %6d\n", l.Lane, lookOf(l.Lane, f.ascii), l.LengthMM/1000, l.LapS, l.MeanMS, l.ScaleKMH, l.TopMS, l.LeastMS, len(l.Brakes))
		if len(l.Lanes) > 1 {
			fmt.Fprintf(w, "      this slot runs through lanes %v: top and slowest speed and brakes are of all its laps\n", l.Lanes)
		}
	}
	height := 1
	if len(lines) == 1 {
		height = 8
	}
	fmt.Fprintln(w, "\nspeed along the lap, from the timing line (b: braking)")
	for i, line := range lines {
		for r, row := range chart.AlongText(line, textWide-6, max(height, 2), f.ascii) {
			head := "    "
			if r == 0 {
				head = fmt.Sprintf("%2d %s", a.Lanes[i].Lane, lookOf(a.Lanes[i].Lane, f.ascii))
			}
			if r == max(height, 2)+1 && i < len(lines)-1 {
				continue // the metres stand under the last lane
			}
			fmt.Fprintf(w, "%s  %s\n", head, row)
		}
	}
	fmt.Fprintln(w, "\nwhere it brakes")
	for _, l := range a.Lanes {
		for _, b := range l.Brakes {
			fmt.Fprintf(w, "lane %d  at %8.3f m for %5.3f m, from %.2f to %.2f m/s: call %d, road %d, %s\n", l.Lane, b.AtMM/1000, brakeLength(b, l.Par.LengthMM)/1000, b.FromMS, b.ToMS, b.Call, b.Road, b.Piece)
		}
		if len(l.Brakes) == 0 {
			fmt.Fprintf(w, "lane %d  nowhere\n", l.Lane)
		}
	}
	fmt.Fprintf(w, "\nsteps of %s mm and shorter, lane %d, in microseconds from the lap with steps of %s mm:", trim(a.Steps[0].StepMM, 1), a.Lanes[0].Lane, trim(a.Steps[len(a.Steps)-1].StepMM, 1))
	for _, s := range a.Steps[:len(a.Steps)-1] {
		fmt.Fprintf(w, " %s mm %+.3f;", trim(s.StepMM, 1), *s.OffUS)
	}
	fmt.Fprintln(w, " par laps use 10 mm")
}

// brakeLength is how far a car brakes, through the line where it must.
func brakeLength(b pace.Brake, around float64) float64 {
	d := b.UntilMM - b.AtMM
	if d < 0 {
		d += around
	}
	return math.Max(d, 0)
}

// lookOf is a lane's shape.
func lookOf(lane int, ascii bool) string {
	if ascii {
		return string(draw.LaneLook(lane).ASCII)
	}
	return draw.LaneLook(lane).Shape
}
