package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lanewright/layout"
	"lanewright/layout/pace"
	"lanewright/race/stints"
)

type fitFlags struct {
	plan, night, driver, car, class string
	from, name, out                 string
	free                            []string
	asJSON                          bool
}

func speedsFitCommand() *cobra.Command {
	var f fitFlags
	cmd := &cobra.Command{
		Use:   "fit FILE",
		Short: "Fit a car model to recorded laps, by lane and layout, with the uncertainty of its figures",
		Long: "FILE is a store, or a CSV file with the columns lane and seconds, one line a lap (and, where laps are of\n" +
			"several layouts, plan). Sets the figures named by --free so that par laps come as close as possible to\n" +
			"the laps driven; the others stay as in --from. Lanes of one layout say much the same, so grip is about\n" +
			"what one layout can settle; several layouts settle more. Exit 1 where a figure is not settled.",
		Example: "  lanewright speeds fit club.lw --driver \"Ada Quill\" -o ada.toml\n  lanewright speeds fit laps.csv --plan saltmarsh.toml --free grip,brake",
		Args:    cobra.ExactArgs(1),
		RunE:    func(cmd *cobra.Command, args []string) error { return runFit(cmd, args[0], f) },
	}
	fs := cmd.Flags()
	fs.StringVar(&f.plan, "plan", "", "plan of the layout; a store's nights know theirs where the kit is built in")
	fs.StringVar(&f.night, "night", "", "only this night of a store")
	fs.StringVar(&f.driver, "driver", "", "only this driver's laps")
	fs.StringVar(&f.car, "car-name", "", "only laps of the car with this name")
	fs.StringVar(&f.class, "class", "", "only this class")
	fs.StringVar(&f.from, "from", pace.BuiltinCars()[0].Name, "car to start from: plain, magnet or a car file")
	fs.StringSliceVar(&f.free, "free", []string{"grip"}, "figures to fit: "+strings.Join(pace.CarFigures(), ", "))
	fs.StringVar(&f.name, "name", "fitted", "name of the new car")
	fs.StringVarP(&f.out, "out", "o", "", "write the car to this file")
	fs.BoolVar(&f.asJSON, "json", false, "print the fit as JSON")
	cmd.MarkFlagsMutuallyExclusive("driver", "car-name")
	return cmd
}

// fitAnswer is what `speeds fit --json` prints. A figure's sd is null where the laps do not determine it.
type fitAnswer struct {
	Schema  int            `json:"schema"`
	Car     pace.Car       `json:"car"`
	Figures []fitFigure    `json:"figures"`
	Lanes   []pace.FitLane `json:"lanes"`
	Laps    int            `json:"laps"`
	LapSD   float64        `json:"lap_sd_percent"` // of one lap about the model
	Left    []string       `json:"left_out"`
}

type fitFigure struct {
	Name       string   `json:"name"`
	Value      float64  `json:"value"`
	SD         *float64 `json:"sd"`
	Determined bool     `json:"determined"`
}

func runFit(cmd *cobra.Command, file string, f fitFlags) error {
	from, err := carOf(f.from)
	if err != nil {
		return err
	}
	if f.name = strings.TrimSpace(f.name); f.name == "" {
		return fmt.Errorf("--name is empty; give the car a name")
	}
	for i, name := range f.free {
		f.free[i] = strings.ToLower(strings.TrimSpace(name))
	}
	gather := &drivenLaps{}
	if strings.EqualFold(filepath.Ext(file), ".csv") {
		err = gather.csv(file, f)
	} else {
		err = gather.store(file, f)
	}
	if err != nil {
		return err
	}
	data := gather.data()
	fitted, err := pace.Fit(data, from, f.free)
	if errors.Is(err, pace.ErrUndetermined) {
		for _, l := range gather.left {
			fmt.Fprintln(cmd.ErrOrStderr(), l)
		}
		return sayNo(cmd, "%s: %v", file, err)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	fitted.Car.Name = f.name
	a := fitAnswer{Schema: 1, Car: fitted.Car, Lanes: fitted.Lanes, Laps: fitted.Laps, LapSD: fitted.SD * 100, Left: gather.left, Figures: []fitFigure{}}
	if a.Left == nil {
		a.Left = []string{}
	}
	for _, fig := range fitted.Figures {
		x := fitFigure{Name: fig.Name, Value: fig.Value, Determined: fig.Determined}
		if fig.Determined {
			sd := fig.SD
			x.SD = &sd
		}
		a.Figures = append(a.Figures, x)
	}
	var loose []string
	for _, x := range a.Figures {
		if !x.Determined {
			loose = append(loose, x.Name)
		}
	}
	if f.out != "" && len(loose) == 0 {
		if err := writeWhole(f.out, fitted.Car.TOML()); err != nil {
			return err
		}
	}
	if f.asJSON {
		err = printJSON(cmd.OutOrStdout(), a)
	} else {
		printFit(cmd.OutOrStdout(), a, f.out, len(loose) == 0)
	}
	if err == nil && len(loose) > 0 {
		return sayNo(cmd, "these laps do not settle %s: set fewer figures free with --free, or add laps of other lanes and layouts; no car is written", strings.Join(loose, " and "))
	}
	return err
}

// drivenLaps gathers laps by layout and lane.
type drivenLaps struct {
	order []string
	lanes map[string]*pace.Driven
	left  []string // what was not used, in words
	track map[string]layout.Track
}

func (d *drivenLaps) data() []pace.Driven {
	var out []pace.Driven
	for _, k := range d.order {
		out = append(out, *d.lanes[k])
	}
	return out
}

func (d *drivenLaps) leave(format string, args ...any) {
	if s := fmt.Sprintf("not used: "+format, args...); !slices.Contains(d.left, s) {
		d.left = append(d.left, s)
	}
}

// add takes a lap on a lane of a layout; id tells layouts of one name apart.
func (d *drivenLaps) add(id string, t *layout.Track, lane int, seconds float64) error {
	key := fmt.Sprintf("%s\x00%d", id, lane)
	if d.lanes == nil {
		d.lanes = map[string]*pace.Driven{}
	}
	if l := d.lanes[key]; l != nil {
		l.LapsS = append(l.LapsS, seconds)
		return nil
	}
	if t.Lanes[lane-1].EndsIn != lane {
		d.leave("lane %d of %s: its slot runs on through lane %d, so its laps are of several kinds", lane, t.Plan.Name, t.Lanes[lane-1].EndsIn)
		return nil
	}
	r, err := pace.LaneRibbon(*t, lane)
	if err != nil {
		return err
	}
	d.order = append(d.order, key)
	d.lanes[key] = &pace.Driven{Name: fmt.Sprintf("%s lane %d", t.Plan.Name, lane), Ribbon: r, LapsS: []float64{seconds}}
	return nil
}

// store takes the laps of the nights of a store: clean ones, standing starts left out, of stints that were not stopped.
func (d *drivenLaps) store(file string, f fitFlags) error {
	nights, err := allPaceNights([]string{file})
	if err != nil {
		return err
	}
	some := 0
	for _, n := range nights {
		if f.night != "" && n.id != f.night {
			continue
		}
		some++
		if n.Info().Digital {
			d.leave("night %q: it was digital, so the routes of its laps are not known", n.id)
			continue
		}
		if err := n.layOut(f.plan); err != nil {
			return err
		}
		if n.track == nil {
			d.leave("night %q: %s", n.id, n.why)
			continue
		}
		want := f.driver
		if f.car != "" {
			want = f.car
		}
		for _, s := range stints.Of(n.Night, stints.Options{Class: f.class, ByCar: f.car != ""}).Stints {
			if want != "" && s.Driver != want || s.Early || len(s.Laps) < 2 {
				continue
			}
			for _, lap := range s.Laps[1:] {
				if err := d.add(n.Info().Layout.Name+"\x00"+n.Info().Layout.Text, n.track, s.Lane, lap.Seconds()); err != nil {
					return err
				}
			}
		}
	}
	if f.night != "" && some == 0 {
		return fmt.Errorf("%s holds no night %q; see: lanewright night list %s", file, f.night, file)
	}
	return nil
}

// csv takes laps from a file with a heading: lane, seconds and, for several layouts, plan, a path seen from the file's folder.
func (d *drivenLaps) csv(file string, f fitFlags) error {
	data, err := readSmall(file)
	if err != nil {
		return err
	}
	r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))))
	r.TrimLeadingSpace = true
	head, err := r.Read()
	if err != nil {
		return fmt.Errorf("%s: cannot read its first line: %w; expected the headings lane,seconds", file, err)
	}
	lane, seconds, plan := -1, -1, -1
	for i, h := range head {
		switch strings.ToLower(strings.TrimSpace(h)) {
		case "lane":
			lane = i
		case "seconds", "s", "lap_s":
			seconds = i
		case "plan":
			plan = i
		}
	}
	if lane < 0 || seconds < 0 {
		return fmt.Errorf("%s, line 1: headings %s; expected lane and seconds, and plan where laps are of several layouts", file, quotedList(head))
	}
	if plan < 0 && f.plan == "" {
		return fmt.Errorf("%s: the laps' layout is not known; name its plan with --plan, or in a column plan", file)
	}
	d.track = map[string]layout.Track{}
	for {
		row, err := r.Read()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
		line, _ := r.FieldPos(0)
		path := f.plan
		if plan >= 0 && strings.TrimSpace(row[plan]) != "" {
			path = strings.TrimSpace(row[plan])
			if !filepath.IsAbs(path) {
				path = filepath.Join(filepath.Dir(file), path)
			}
		}
		if path == "" {
			return fmt.Errorf("%s, line %d: no plan; fill the column or give --plan", file, line)
		}
		t, ok := d.track[path]
		if !ok {
			if t, _, err = resolvePlan(path); err != nil {
				return fmt.Errorf("%s, line %d: %w", file, line, err)
			}
			if !t.Closes {
				return fmt.Errorf("%s, line %d: %s does not close, so no lap can be driven on it", file, line, path)
			}
			d.track[path] = t
		}
		n, err := strconv.Atoi(strings.TrimSpace(row[lane]))
		if err != nil || n < 1 || n > len(t.Lanes) {
			return fmt.Errorf("%s, line %d: lane %q; expected 1 to %d", file, line, row[lane], len(t.Lanes))
		}
		s, err := strconv.ParseFloat(strings.TrimSpace(row[seconds]), 64)
		if err != nil || !(s > 0) || s > 3600 {
			return fmt.Errorf("%s, line %d: lap of %q seconds; expected more than 0 and at most 3600", file, line, row[seconds])
		}
		if err := d.add(path, &t, n, s); err != nil {
			return fmt.Errorf("%s, line %d: %w", file, line, err)
		}
	}
}

func printFit(w io.Writer, a fitAnswer, out string, settled bool) {
	fmt.Fprintf(w, "car %s, from %d laps on %s\n\n", a.Car.Name, a.Laps, count(len(a.Lanes), "lane"))
	for _, f := range a.Figures {
		if !f.Determined {
			fmt.Fprintf(w, "%-6s  not determined: other values fit as well\n", f.Name)
			continue
		}
		fmt.Fprintf(w, "%-6s  %8.3f ± %.3f (standard uncertainty)\n", f.Name, f.Value, *f.SD)
	}
	fmt.Fprintln(w, "\nlane                              laps  median lap   par lap  difference")
	for _, l := range a.Lanes {
		fmt.Fprintf(w, "%s  %4d  %8.3f s  %7.3f s  %+8.2f %%\n", pad(l.Name, 32), l.Laps, l.MedianS, l.ParS, (l.MedianS/l.ParS-1)*100)
	}
	fmt.Fprintf(w, "\none lap differs from the model by %.2f %% (standard deviation)\n", a.LapSD)
	for _, l := range a.Left {
		fmt.Fprintln(w, l)
	}
	switch {
	case !settled:
	case out != "":
		fmt.Fprintf(w, "%s written; use it with --car %s\n", out, out)
	default:
		fmt.Fprintf(w, "\n%s", a.Car.TOML())
	}
}
