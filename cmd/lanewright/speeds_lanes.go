package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lanewright/layout/pace"
	"lanewright/race/analysis"
	"lanewright/race/chart"
	"lanewright/race/speeds"
	"lanewright/race/stints"
)

type lanesFlags struct {
	car, plan, class, out, evening string
	every, costs, robust           bool
	asJSON, ascii                  bool
}

func speedsLanesCommand() *cobra.Command {
	var f lanesFlags
	cmd := &cobra.Command{
		Use:   "lanes FILE [NIGHT]",
		Short: "What each lane costs a driver, how sure that is, and what its length and bends explain of it",
		Long: "Measures lane effects on pace, the logarithm of each stint's median lap, because one spin moves a score\n" +
			"by a lap and the median hardly. Drivers, lanes and a drift over the evening are fitted together, so that\n" +
			"a rotation with gaps does no harm.",
		Example: "  lanewright speeds lanes club.lw\n" +
			"  lanewright rotation --sheet night.toml --kind short --heats 14 --costs $(lanewright speeds lanes club.lw --every-night --costs)",
		Args: cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error { return runLanes(cmd, args, f) },
	}
	carFlag(cmd, &f.car)
	fs := cmd.Flags()
	fs.StringVar(&f.plan, "plan", "", "plan of the layout, where its kit is not built in")
	fs.StringVar(&f.class, "class", "", "only this class")
	fs.BoolVar(&f.every, "every-night", false, "all nights of the store on the same layout together; the lanes are known that much better")
	fs.BoolVar(&f.robust, "robust", false, "give odd stints less weight (Huber)")
	fs.BoolVar(&f.costs, "costs", false, "print nothing but the costs as rotation --costs takes them")
	fs.BoolVar(&f.asJSON, "json", false, "print the lane effects as JSON")
	fs.BoolVar(&f.ascii, "ascii", false, "draw with plain letters only")
	fs.StringVar(&f.evening, "evening", "", "also write pace through the evening as an SVG picture to this file")
	pictureFlag(cmd, &f.out, "the lane effects")
	cmd.MarkFlagsMutuallyExclusive("json", "costs")
	return cmd
}

// lanesAnswer is what `speeds lanes --json` prints. Effects are against the mean lane, positive is slower; null is what the laps
// cannot tell.
type lanesAnswer struct {
	Schema   int          `json:"schema"`
	Nights   []string     `json:"nights"`
	Layout   string       `json:"layout"`
	Car      string       `json:"car"`
	Stints   int          `json:"stints"`    // whose pace was used
	LapS     float64      `json:"typical_s"` // at which per cent are turned into seconds
	DF       int          `json:"df"`
	StintSD  *float64     `json:"stint_sd_percent"` // of a stint about the fit
	Groups   int          `json:"groups"`           // lanes can be compared inside a group only
	Lanes    []laneEffect `json:"lanes"`
	Pairs    []lanePair   `json:"pairs"`
	LaneTest *float64     `json:"lanes_p"`         // p value: are the lanes alike?
	Trend    estAnswer    `json:"trend_percent"`   // a heat, positive is slower
	Costs    []float64    `json:"costs"`           // seconds a lap over the quickest lane, from lane 1, as `rotation --costs` takes them
	Unknown  []int        `json:"costs_unknown"`   // lanes whose cost is taken to be the mean of the others
	Notes    []string     `json:"notes"`           // plain sentences
	Left     []leftAnswer `json:"left_out"`        // stints whose pace was not used
	Short    int          `json:"left_short"`      // of them with too few laps to have a median
	Paced    []pacedStint `json:"pace_by_stint"`   // each stint against its driver and lane
	Robust   bool         `json:"robust,omitzero"` // odd stints had less weight
}

type laneEffect struct {
	Lane     int       `json:"lane"`
	Group    int       `json:"group"`
	LengthMM *float64  `json:"length_mm"`
	ParS     *float64  `json:"par_s"`
	Stints   int       `json:"stints"`
	Percent  estAnswer `json:"percent"`
	Seconds  estAnswer `json:"seconds"`
	Length   *float64  `json:"length_s"` // of the seconds, what the lane's length explains
	Par      *float64  `json:"par_extra_s"`
	Rest     *float64  `json:"rest_s"`
	Notable  bool      `json:"notable"` // rest lies outside its interval
}

type lanePair struct {
	A       int       `json:"a"`
	B       int       `json:"b"`
	Seconds estAnswer `json:"seconds"` // A less B
	P       *float64  `json:"p"`
	Tukey   *float64  `json:"p_all_pairs"` // for all pairs together
}

type pacedStint struct {
	Heat    int     `json:"heat"`
	Lane    int     `json:"lane"`
	Driver  string  `json:"driver"`
	Percent float64 `json:"percent"` // against the same driver and lane over the evening, positive is slower
}

func runLanes(cmd *cobra.Command, args []string, f lanesFlags) error {
	car, err := carOf(f.car)
	if err != nil {
		return err
	}
	nights, err := lanesNights(args, f)
	if err != nil {
		return err
	}
	if nights[len(nights)-1].Info().Digital {
		return sayNo(cmd, "night %q was digital: cars share the lanes, so lanes cost nobody anything", nights[len(nights)-1].id)
	}
	a, err := laneEffectsOf(nights, car, f)
	if err != nil {
		return err
	}
	if a.Stints == 0 {
		return sayNo(cmd, "%s: no stint with laps enough to have a pace", strings.Join(a.Nights, ", "))
	}
	title := fmt.Sprintf("What each lane costs on %s", a.Layout)
	if err := writePicture(f.out, func() []byte { return chart.IntervalsSVG(title, "seconds a lap", a.intervals()) }); err != nil {
		return err
	}
	if err := writePicture(f.evening, func() []byte { return chart.ThroughSVG("Pace through the evening on "+a.Layout, a.through()) }); err != nil {
		return err
	}
	switch {
	case f.costs:
		if len(a.Unknown) > 0 || a.Groups > 1 {
			return sayNo(cmd, "%s: the costs of the lanes cannot be compared: %s", strings.Join(a.Nights, ", "), strings.Join(a.Notes, "; "))
		}
		fmt.Fprintln(cmd.OutOrStdout(), costList(a.Costs))
	case f.asJSON:
		return printJSON(cmd.OutOrStdout(), a)
	default:
		a.print(cmd.OutOrStdout(), f.ascii)
	}
	return nil
}

// lanesNights reads the night asked for; with --every-night the others on the same layout before it.
func lanesNights(args []string, f lanesFlags) ([]*paceNight, error) {
	one, err := onePaceNight(args)
	if err != nil {
		return nil, err
	}
	nights := []*paceNight{one}
	if f.every {
		all, err := allPaceNights(args[:1])
		if err != nil {
			return nil, err
		}
		nights = nil
		for _, n := range all {
			if n.id == one.id || !n.Info().Digital && sameLayout(n, one) {
				nights = append(nights, n)
			}
		}
		orderNights(nights)
	}
	for _, n := range nights {
		if err := n.layOut(f.plan); err != nil {
			return nil, err
		}
	}
	return nights, nil
}

// sameLayout tells whether two nights were raced on the same lanes.
func sameLayout(a, b *paceNight) bool {
	x, y := a.Info().Layout, b.Info().Layout
	if x.Name != y.Name || len(x.Lanes) != len(y.Lanes) {
		return false
	}
	for i := range x.Lanes {
		if math.Abs(x.Lanes[i].LengthMM-y.Lanes[i].LengthMM) > 0.5 {
			return false
		}
	}
	return true
}

// fitLanesOf fits drivers, lanes and, where the rotation can tell it, a drift over the evening.
func fitLanesOf(obs []analysis.Obs, robust bool) (*analysis.LaneFit, error) {
	with, err := analysis.FitLanes(obs, analysis.LaneOptions{Trend: analysis.HeatLinear, Robust: robust})
	if err != nil || with.Trend.Value != nil && with.DF > 0 && with.LaneGroups == 1 && with.DriverGroups == 1 {
		return with, err
	}
	return analysis.FitLanes(obs, analysis.LaneOptions{Robust: robust})
}

func laneEffectsOf(nights []*paceNight, car pace.Car, f lanesFlags) (lanesAnswer, error) {
	newest := nights[len(nights)-1]
	info := newest.Info()
	a := lanesAnswer{Schema: 1, Layout: info.Layout.Name, Car: car.Name, Lanes: []laneEffect{}, Pairs: []lanePair{}, Costs: []float64{}, Unknown: []int{}, Notes: []string{},
		Left: []leftAnswer{}, Paced: []pacedStint{}}
	var all []analysis.Stint
	for _, n := range nights {
		a.Nights = append(a.Nights, n.id)
		found, err := n.stints(car, stints.Options{Class: f.class})
		if err != nil {
			return a, err
		}
		all = append(all, found.Stints...)
		name := ""
		if len(nights) > 1 {
			name = n.id
		}
		a.Left = append(a.Left, leftOf(name, found.Left)...)
	}
	if newest.track == nil {
		a.Notes = append(a.Notes, "no par laps: "+newest.why)
	}
	for _, s := range all {
		if !s.Early && analysis.Pace(s.Laps) == nil {
			a.Short++
		}
	}
	observe := analysis.PaceObs
	if len(nights) > 1 {
		observe = analysis.PaceObsByNight
	}
	obs, _, err := observe(all)
	if err != nil || len(obs) == 0 {
		return a, err
	}
	fit, err := fitLanesOf(obs, f.robust)
	if err != nil {
		return a, err
	}
	par, err := newest.par(car)
	if err != nil {
		return a, err
	}
	a.fill(fit, stints.Lengths(newest.Night), par, len(info.Layout.Lanes))
	return a, nil
}

func (a *lanesAnswer) fill(fit *analysis.LaneFit, length map[int]float64, par map[int]time.Duration, lanes int) {
	a.Stints, a.DF, a.Groups, a.Robust = fit.N, fit.DF, fit.LaneGroups, fit.Robust
	a.LapS = typicalLap(fit)
	if fit.S != nil {
		sd := *fit.S * 100
		a.StintSD = &sd
	}
	for i, c := range speeds.LaneCosts(fit, length, par) {
		e := laneEffect{Lane: c.Lane, Group: c.Group, Stints: fit.Lanes[i].Stints, Percent: estOf(c.Percent), Seconds: estOf(c.Seconds), Length: c.Length, Par: c.Par, Rest: c.Rest, Notable: c.Notable}
		if mm, ok := length[c.Lane]; ok {
			e.LengthMM = &mm
		}
		if d, ok := par[c.Lane]; ok {
			s := d.Seconds()
			e.ParS = &s
		}
		if c.Text != "" {
			a.Notes = append(a.Notes, c.Text)
		}
		a.Lanes = append(a.Lanes, e)
	}
	notable := 0
	for _, l := range a.Lanes {
		if l.Notable {
			notable++
		}
	}
	if doubt := modelDoubt(notable, len(a.Lanes), a.Car); par != nil && doubt != "" {
		a.Notes = append(a.Notes, doubt)
	}
	for _, p := range fit.LanePairs() {
		a.Pairs = append(a.Pairs, lanePair{fit.Lanes[p.A].Lane, fit.Lanes[p.B].Lane, estOf(scaled(p.Diff, a.LapS)), p.P, p.Tukey})
	}
	if fit.LaneTest != nil {
		a.LaneTest = fit.LaneTest.P
	}
	a.Trend = estOf(scaled(fit.Trend, 100))
	if fit.LaneGroups > 1 {
		a.Notes = append(a.Notes, fmt.Sprintf("the lanes fall into %d groups that no driver connects: compare lanes inside a group only", fit.LaneGroups))
	}
	if fit.DF < 1 {
		a.Notes = append(a.Notes, "every stint is needed to tell drivers and lanes apart, so none is left to say how sure the effects are")
	}
	a.price(lanes)
	mean := 0.0
	for _, o := range fit.Sorted {
		mean += float64(o.Heat) / float64(len(fit.Sorted))
	}
	for i, o := range fit.Sorted {
		p := fit.Resid[i]
		if fit.Trend.Value != nil {
			p += *fit.Trend.Value * (float64(o.Heat) - mean)
		}
		a.Paced = append(a.Paced, pacedStint{o.Heat, o.Lane, o.Driver, p * 100})
	}
}

// modelDoubt says that the model is to blame where half the lanes or more do not follow it; "" where they do.
func modelDoubt(notable, lanes int, car string) string {
	if notable < 2 || 2*notable < lanes {
		return ""
	}
	return fmt.Sprintf("that many lanes at once are rather the model than the braids: what bends explain rests on par laps of car %s; try another with --car, or fit one with: lanewright speeds fit", car)
}

// price makes the costs: seconds a lap over the quickest lane. A lane that was not driven gets the mean.
func (a *lanesAnswer) price(lanes int) {
	costs, known := make([]float64, lanes), make([]bool, lanes)
	least := math.Inf(1)
	for _, l := range a.Lanes {
		if l.Seconds.Value != nil && l.Lane >= 1 && l.Lane <= lanes {
			costs[l.Lane-1], known[l.Lane-1] = *l.Seconds.Value, true
			least = math.Min(least, *l.Seconds.Value)
		}
	}
	for i := range costs {
		if !known[i] {
			a.Unknown = append(a.Unknown, i+1)
			a.Notes = append(a.Notes, fmt.Sprintf("lane %d was not driven: its cost is taken to be the mean", i+1))
		}
		if !math.IsInf(least, 0) {
			costs[i] -= least // effects are about the mean, so an unknown one is 0
		}
		costs[i] = math.Round(costs[i]*1e4) / 1e4
	}
	a.Costs = costs
}

// typicalLap is the lap at which per cent are turned into seconds, as in [speeds.LaneCosts].
func typicalLap(fit *analysis.LaneFit) float64 {
	sum := 0.0
	for _, o := range fit.Sorted {
		sum += o.Y / float64(len(fit.Sorted))
	}
	return math.Exp(sum)
}

func scaled(e analysis.Est, by float64) analysis.Est {
	times := func(v *float64) *float64 {
		if v == nil {
			return nil
		}
		w := *v * by
		return &w
	}
	return analysis.Est{Value: times(e.Value), SE: times(e.SE), Low: times(e.Low), High: times(e.High)}
}

func (a lanesAnswer) intervals() []chart.Interval {
	var out []chart.Interval
	for _, l := range a.Lanes {
		out = append(out, chart.Interval{Lane: l.Lane, Value: l.Seconds.Value, Low: l.Seconds.Low, High: l.Seconds.High})
	}
	return out
}

func (a lanesAnswer) through() chart.Through {
	t := chart.Through{Slope: a.Trend.Value}
	for _, p := range a.Paced {
		t.Stints = append(t.Stints, chart.Paced{Heat: p.Heat, Lane: p.Lane, Percent: p.Percent})
	}
	return t
}

func costList(costs []float64) string {
	s := make([]string, len(costs))
	for i, c := range costs {
		s[i] = fmt.Sprintf("%.4f", c)
	}
	return strings.Join(s, ",")
}

func (a lanesAnswer) print(w io.Writer, ascii bool) {
	fmt.Fprintf(w, "%s, %s: %s, a typical lap takes %.3f s\n", a.Layout, strings.Join(a.Nights, ", "), count(a.Stints, "stint"), a.LapS)
	fmt.Fprintln(w, "\nwhat a lane costs (+) or gives (-) a lap against the mean lane, and what its length and its bends explain of that")
	fmt.Fprintln(w, "lane     seconds  95 % interval         per cent    length     bends      rest")
	for _, l := range a.Lanes {
		note := ""
		if l.Notable {
			note = "  *"
		}
		fmt.Fprintf(w, "%2d %s  %9s  %-20s  %8s  %8s  %8s  %8s%s\n", l.Lane, lookOf(l.Lane, ascii), figureOf(l.Seconds.Value, 3), intervalOf(l.Seconds, 3), figureOf(l.Percent.Value, 2),
			figureOf(l.Length, 3), figureOf(l.Par, 3), figureOf(l.Rest, 3), note)
	}
	if len(a.Lanes) > 0 && a.Lanes[0].ParS != nil {
		fmt.Fprintf(w, "bends: by par laps of car %s; * rest lies outside its interval\n", a.Car)
	}
	if rows := chart.IntervalsText(a.intervals(), textWide, ascii); rows != nil {
		fmt.Fprintf(w, "\n%s\n", strings.Join(rows, "\n"))
	}
	fmt.Fprintln(w, "\nall pairs, seconds a lap")
	for _, p := range a.Pairs {
		if p.Seconds.Value == nil {
			fmt.Fprintf(w, "lanes %d and %d cannot be compared: no driver connects them\n", p.A, p.B)
			continue
		}
		fmt.Fprintf(w, "lane %d less lane %d  %8s  %-20s  p %s, all pairs together %s\n", p.A, p.B, figureOf(p.Seconds.Value, 3), intervalOf(p.Seconds, 3), chanceOf(p.P), chanceOf(p.Tukey))
	}
	if a.Trend.Value != nil {
		fmt.Fprintf(w, "\nthe evening: %s %% a heat, 95 %% interval %s (+ is slower)\n", figureOf(a.Trend.Value, 3), intervalOf(a.Trend, 3))
	}
	if rows := chart.ThroughText(a.through(), textWide, 11); rows != nil {
		fmt.Fprintf(w, "\npace through the evening: each stint by its lane's number, above 0 slower than its driver usually was\n%s\n", strings.Join(rows, "\n"))
	}
	fmt.Fprintln(w)
	for _, n := range a.Notes {
		fmt.Fprintln(w, n)
	}
	fmt.Fprintf(w, "for a short rotation: lanewright rotation --kind short --costs %s\n", costList(a.Costs))
	printLeft(w, a.Left)
	if a.Short > 0 {
		fmt.Fprintf(w, "%s with too few laps to have a pace\n", count(a.Short, "stint"))
	}
}

// chanceOf writes a p value.
func chanceOf(p *float64) string {
	switch {
	case p == nil:
		return "-"
	case *p < 0.001:
		return "<0.001"
	}
	return fmt.Sprintf("%.3f", *p)
}
