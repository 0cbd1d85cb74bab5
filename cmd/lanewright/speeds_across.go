package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"lanewright/race/analysis"
	"lanewright/race/speeds"
	"lanewright/race/stints"
)

type acrossFlags struct {
	measureFlags
	car, class, by, plan string
	compare              []string
	asJSON               bool
}

func speedsAcrossCommand() *cobra.Command {
	var f acrossFlags
	cmd := &cobra.Command{
		Use:   "across FILE...",
		Short: "Drivers or cars against layouts: best, median, scale speed, par ratio, who is quicker, records",
		Long: "Takes every night of the stores named. Drivers who never met are compared through others, by a mixed\n" +
			"model of the logarithms of their laps; where nothing connects two, the answer is a refusal that names\n" +
			"the one visit that would.",
		Example: "  lanewright speeds across club.lw\n  lanewright speeds across club.lw friends.lw --by car --class GT\n  lanewright speeds across club.lw --compare \"Ada Quill,Cleo Fenn\"",
		Args:    cobra.MinimumNArgs(1),
		RunE:    func(cmd *cobra.Command, args []string) error { return runAcross(cmd, args, f) },
	}
	carFlag(cmd, &f.car)
	f.add(cmd)
	fs := cmd.Flags()
	fs.StringVar(&f.class, "class", "", "compare this class; needed where there are several")
	fs.StringVar(&f.by, "by", "driver", "driver or car")
	fs.StringVar(&f.plan, "plan", "", "plan of the layout, where its kit is not built in; all nights must have been raced on it")
	fs.StringSliceVar(&f.compare, "compare", nil, "these two only; exit 1 where they cannot be compared")
	fs.BoolVar(&f.asJSON, "json", false, "print the comparison as JSON")
	return cmd
}

// acrossAnswer is what `speeds across --json` prints.
type acrossAnswer struct {
	Schema   int            `json:"schema"`
	By       string         `json:"by"` // "driver" or "car"
	Class    string         `json:"class"`
	Car      string         `json:"par_car"`
	Nights   []string       `json:"nights"`
	Names    []string       `json:"names"` // drivers or cars
	Layouts  []string       `json:"layouts"`
	Cells    []acrossCell   `json:"cells"`
	Reading  *acrossSpread  `json:"spread_percent"` // behind the comparison; null where no model could be fitted
	ParOff   *float64       `json:"par_off_percent"`
	Duels    []acrossDuel   `json:"duels"` // everybody against the quickest, or the two asked for
	Refusals []acrossNo     `json:"refusals"`
	Records  []acrossRecord `json:"records"`
	Left     []leftAnswer   `json:"left_out"`
	Notes    []string       `json:"notes"`
}

// acrossCell is one driver or car on one layout.
type acrossCell struct {
	Name     string   `json:"name"`
	Layout   string   `json:"layout"`
	Stints   int      `json:"stints"`
	Laps     int      `json:"laps"` // standing starts left out
	BestUS   int64    `json:"best_us"`
	MedianUS *int64   `json:"median_us"`
	BestMS   *figureU `json:"best_real_ms"` // quickest lap by speed
	BestKMH  *figureU `json:"best_scale_kmh"`
	ParRatio *float64 `json:"par_ratio"` // above 1 beats par
}

type acrossSpread struct {
	Driver float64  `json:"between"`
	Visit  *float64 `json:"visit"` // null where visits cannot be told from stints
	Stint  float64  `json:"stint"`
}

// acrossDuel compares two: percent is A's lap against B's, negative where A is quicker.
type acrossDuel struct {
	A       string  `json:"a"`
	B       string  `json:"b"`
	Percent float64 `json:"percent"`
	Low     float64 `json:"low"`
	High    float64 `json:"high"`
	Quicker float64 `json:"a_quicker"` // probability
	Via     string  `json:"via"`       // "met", "through others", "par laps only"
}

type acrossNo struct {
	A      string `json:"a"`
	B      string `json:"b"`
	Why    string `json:"why"`
	Driver string `json:"visit_of,omitempty"` // the one visit that would connect them
	Layout string `json:"visit_to,omitempty"`
	Lane   int    `json:"visit_lane,omitempty"`
}

func runAcross(cmd *cobra.Command, args []string, f acrossFlags) error {
	if err := f.check(); err != nil {
		return err
	}
	if f.by != "driver" && f.by != "car" {
		return fmt.Errorf("--by %q: expected driver or car", f.by)
	}
	if len(f.compare) != 0 && len(f.compare) != 2 {
		return fmt.Errorf("--compare names %d; expected two, such as \"Ada Quill,Cleo Fenn\"", len(f.compare))
	}
	nights, err := allPaceNights(args)
	if err != nil {
		return err
	}
	a, err := acrossOf(nights, f)
	if err == errNoStints {
		return sayNo(cmd, "%s: %v", strings.Join(args, ", "), err)
	}
	if err != nil {
		return err
	}
	if f.asJSON {
		err = printJSON(cmd.OutOrStdout(), a)
	} else {
		printAcross(cmd.OutOrStdout(), a, len(f.compare) == 2)
	}
	if err == nil && len(f.compare) == 2 && len(a.Duels) == 0 {
		return errAnswerNo
	}
	return err
}

func acrossOf(nights []*paceNight, f acrossFlags) (acrossAnswer, error) {
	a := acrossAnswer{Schema: 1, By: f.by, Class: f.class, Names: []string{}, Layouts: []string{}, Cells: []acrossCell{}, Duels: []acrossDuel{}, Refusals: []acrossNo{}, Records: []acrossRecord{},
		Left: []leftAnswer{}, Notes: []string{}}
	car, err := carOf(f.car)
	if err != nil {
		return a, err
	}
	a.Car = car.Name
	var all []analysis.Stint
	noPar := map[string]bool{}
	for _, n := range nights {
		a.Nights = append(a.Nights, n.id)
		if err := n.layOut(f.plan); err != nil {
			return a, err
		}
		found, err := n.stints(car, stints.Options{ByCar: f.by == "car"})
		if err != nil {
			return a, err
		}
		all = append(all, found.Stints...)
		a.Left = append(a.Left, leftOf(n.id, found.Left)...)
		if n.track == nil && !n.Info().Digital && !noPar[n.Info().Layout.Name] {
			noPar[n.Info().Layout.Name] = true
			a.Notes = append(a.Notes, fmt.Sprintf("%s: no par laps: %s", n.Info().Layout.Name, n.why))
		}
	}
	if len(all) == 0 {
		return a, errNoStints
	}
	if a.Class, err = oneClass(all, f.class); err != nil {
		return a, err
	}
	across, err := speeds.AcrossLayouts(all, a.Class)
	if err != nil {
		return a, err
	}
	a.Names, a.Layouts = across.Drivers, across.Layouts
	a.cells(across, nights, f)
	if d, v, s, ok := across.Spread(); ok {
		a.Reading = &acrossSpread{d * 100, hundredfold(v), s * 100}
	}
	a.ParOff = hundredfold(across.ParSpread())
	if len(f.compare) == 2 {
		for _, name := range f.compare {
			if !slices.Contains(a.Names, name) {
				return a, fmt.Errorf("--compare: no %s %q has driven; there are %s", f.by, name, quotedList(a.Names))
			}
		}
		a.duel(across, f.compare[0], f.compare[1])
	} else {
		a.againstTheQuickest(across)
	}
	a.Records, err = recordsOf(nights, a.Class, f)
	return a, err
}

func hundredfold(v *float64) *float64 {
	if v == nil {
		return nil
	}
	w := *v * 100
	return &w
}

// oneClass is the class asked for, or the only one there is.
func oneClass(all []analysis.Stint, want string) (string, error) {
	var classes []string
	for _, s := range all {
		if !slices.Contains(classes, s.Class) {
			classes = append(classes, s.Class)
		}
	}
	slices.Sort(classes)
	if want != "" {
		if !slices.Contains(classes, want) {
			return "", fmt.Errorf("--class %q: nobody has driven in it; there are %s", want, quotedList(classes))
		}
		return want, nil
	}
	if len(classes) > 1 {
		return "", fmt.Errorf("there are several classes, and cars of different classes are not compared; name one with --class: %s", quotedList(classes))
	}
	return classes[0], nil
}

func (a *acrossAnswer) cells(across *speeds.Across, nights []*paceNight, f acrossFlags) {
	scale, tick, mixed := map[string]int{}, map[string]lapMeasure{}, map[string]bool{}
	for _, n := range nights {
		name := n.Info().Layout.Name
		if s, ok := scale[name]; ok && s != n.Info().Scale {
			mixed[name] = true
		}
		t, _ := f.tickOf(n)
		scale[name] = n.Info().Scale
		tick[name] = lapMeasure{max(tick[name].u, lapU(t, false).Seconds())}
	}
	for _, c := range across.Cells {
		x := acrossCell{Name: c.Driver, Layout: c.Layout, Stints: c.Stints, Laps: c.Laps, BestUS: c.Best.Microseconds(), ParRatio: c.ParRatio}
		if c.Median > 0 {
			us := c.Median.Microseconds()
			x.MedianUS = &us
		}
		if c.BestMMS != nil && c.Best > 0 {
			v := *c.BestMMS / 1000
			// Relative uncertainties of length and time; the lap is near enough the best one for them.
			length := *c.BestMMS * c.Best.Seconds()
			u := v * math.Hypot(f.lengthSD/length, tick[c.Layout].u/c.Best.Seconds())
			x.BestMS = &figureU{v, u}
			if !mixed[c.Layout] {
				by := 3.6 * float64(max(scale[c.Layout], 1))
				x.BestKMH = &figureU{v * by, u * by}
			}
		}
		a.Cells = append(a.Cells, x)
	}
	for _, l := range a.Layouts {
		if mixed[l] {
			a.Notes = append(a.Notes, l+" was raced in several scales: no scale speeds")
		}
	}
}

// lapMeasure is how well laps are timed on a layout, in seconds.
type lapMeasure struct{ u float64 }

// duel compares two and notes the answer, or the refusal.
func (a *acrossAnswer) duel(across *speeds.Across, one, other string) {
	d, err := across.Compare(one, other)
	if err == nil {
		a.Duels = append(a.Duels, acrossDuel{d.A, d.B, d.Percent, (math.Exp(d.Low) - 1) * 100, (math.Exp(d.High) - 1) * 100, d.Quicker, d.Via})
		return
	}
	no := acrossNo{A: one, B: other, Why: strings.TrimPrefix(err.Error(), "speeds: ")}
	var apart *speeds.NotConnectedError
	if errors.As(err, &apart) {
		no.Driver, no.Layout, no.Lane = apart.Visit.Driver, apart.Visit.Layout, apart.Visit.Lane
	}
	a.Refusals = append(a.Refusals, no)
}

// againstTheQuickest compares everybody with the quickest of those who can be compared with the first.
func (a *acrossAnswer) againstTheQuickest(across *speeds.Across) {
	if len(a.Names) < 2 {
		return
	}
	quickest, least := a.Names[0], 0.0
	for _, name := range a.Names[1:] {
		if d, err := across.Compare(name, a.Names[0]); err == nil && d.Log < least {
			quickest, least = name, d.Log
		}
	}
	for _, name := range a.Names {
		if name != quickest {
			a.duel(across, name, quickest)
		}
	}
	slices.SortStableFunc(a.Duels, func(x, y acrossDuel) int { return cmp.Compare(x.Percent, y.Percent) })
}

func printAcross(w io.Writer, a acrossAnswer, two bool) {
	class := ""
	if a.Class != "" {
		class = " of class " + a.Class
	}
	fmt.Fprintf(w, "%s by layout%s, %s; par laps of car %s\n\n", strings.ToUpper(a.By[:1])+a.By[1:]+"s", class, count(len(a.Nights), "night"), a.Car)
	fmt.Fprintf(w, "%s  layout                stints  laps      best s    median s       km/h     par ratio\n", pad(a.By, 22))
	for _, c := range a.Cells {
		median, kmh, ratio := "-", "-", "-"
		if c.MedianUS != nil {
			median = fmt.Sprintf("%.3f", secondsCut(*c.MedianUS))
		}
		if c.BestKMH != nil {
			kmh = fmt.Sprintf("%.1f ± %.1f", c.BestKMH.Value, 2*c.BestKMH.U)
		}
		if c.ParRatio != nil {
			ratio = fmt.Sprintf("%.4f", *c.ParRatio)
		}
		fmt.Fprintf(w, "%s  %s  %6d  %4d  %10.3f  %10s  %13s  %8s\n", pad(c.Name, 22), pad(c.Layout, 20), c.Stints, c.Laps, secondsCut(c.BestUS), median, kmh, ratio)
	}
	if len(a.Duels) > 0 {
		fmt.Fprintln(w, "\nlap times compared, lanes and layouts taken off; few visits are pulled towards each other")
	}
	for _, d := range a.Duels {
		fmt.Fprintf(w, "%s against %s: %+.2f %%, 95 %% interval %+.2f to %+.2f; quicker with a probability of %s (%s)\n", d.A, d.B, d.Percent, d.Low, d.High, percentOf(&d.Quicker), d.Via)
	}
	for _, r := range a.Refusals {
		fmt.Fprintf(w, "no comparison: %s\n", r.Why)
	}
	if a.Reading != nil && !two {
		fmt.Fprintf(w, "%ss differ by %.2f %% (standard deviation), a stint from the next by %.2f %%\n", a.By, a.Reading.Driver, a.Reading.Stint)
	}
	if a.ParOff != nil && !two {
		fmt.Fprintf(w, "from layout to layout par laps are off by %.2f %% (standard deviation)\n", *a.ParOff)
	}
	if !two {
		printRecords(w, a.Records)
	}
	for _, n := range a.Notes {
		fmt.Fprintln(w, n)
	}
	if !two {
		printLeft(w, a.Left)
	}
}
