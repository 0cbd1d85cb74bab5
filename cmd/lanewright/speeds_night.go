package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"lanewright/layout"
	"lanewright/race/speeds"
	"lanewright/race/stints"
)

// receiptTick stands for the tick of a counter where a pass was timed by its receipt: a common serial chip holds bytes back for up to
// 16 ms (default latency timer, FTDI AN232B-04).
const receiptTick = 16 * time.Millisecond

// measureFlags say how well lengths and times are known.
type measureFlags struct {
	lengthSD float64
	tick     time.Duration
}

func (m *measureFlags) add(cmd *cobra.Command) {
	cmd.Flags().Float64Var(&m.lengthSD, "length-sd", 5, "standard uncertainty of a lane's length in mm; 5 is common practice for a taped lane, no source")
	cmd.Flags().DurationVar(&m.tick, "tick", 0, "resolution of the counter (default: learned from its ticks)")
}

func (m measureFlags) check() error {
	if !(m.lengthSD >= 0) || m.lengthSD > 10000 {
		return fmt.Errorf("--length-sd is %g mm; it is from 0 to 10000", m.lengthSD)
	}
	if m.tick < 0 || m.tick > time.Second {
		return fmt.Errorf("--tick is %v; it is from 0 to 1s", m.tick)
	}
	return nil
}

// tickOf is the resolution of the counter of a night, and whether it is known.
func (m measureFlags) tickOf(n *paceNight) (time.Duration, bool) {
	if m.tick > 0 {
		return m.tick, true
	}
	if tick, ok := n.ear.Tick(); ok {
		return tick, true
	}
	return time.Millisecond, false
}

// lapU is the standard uncertainty of a lap time: the difference of two readings, each off by a uniform error of half a tick either way
// (JCGM 100:2008, 4.3.7 and 5.1.2).
func lapU(tick time.Duration, byReceipt bool) time.Duration {
	if byReceipt {
		tick = max(tick, receiptTick)
	}
	return time.Duration(float64(tick)/math.Sqrt(6) + 0.5)
}

type nightFlags struct {
	measureFlags
	class, plan string
	trap        []int
	trapSD      float64
	byCar       bool
	mph, asJSON bool
}

func speedsNightCommand() *cobra.Command {
	var f nightFlags
	cmd := &cobra.Command{
		Use:   "night FILE [NIGHT]",
		Short: "Scale speed of everybody's quickest and usual lap, with its uncertainty; speed traps",
		Args:  cobra.RangeArgs(1, 2),
		RunE:  func(cmd *cobra.Command, args []string) error { return runNightSpeeds(cmd, args, f) },
	}
	f.add(cmd)
	fs := cmd.Flags()
	fs.StringVar(&f.class, "class", "", "only this class")
	fs.BoolVar(&f.byCar, "by-car", false, "cars instead of drivers")
	fs.StringVar(&f.plan, "plan", "", "plan of the layout with its sensors, where its kit is not built in")
	fs.IntSliceVar(&f.trap, "trap", nil, "the two sensors of a speed trap, such as 2,3 (default: the two closest together)")
	fs.Float64Var(&f.trapSD, "trap-sd", 1, "standard uncertainty in mm of the distance between two sensors")
	fs.BoolVar(&f.mph, "mph", false, "miles an hour instead of kilometres in the table")
	fs.BoolVar(&f.asJSON, "json", false, "print the speeds as JSON")
	return cmd
}

// nightSpeeds is what `speeds night --json` prints. u is a standard uncertainty; the table shows twice it.
type nightSpeeds struct {
	Schema  int          `json:"schema"`
	Night   string       `json:"night"`
	Layout  string       `json:"layout"`
	Scale   int          `json:"scale"`
	Digital bool         `json:"digital"`
	TickUS  float64      `json:"tick_us"`
	Learned bool         `json:"tick_known"` // false: no tick could be learned and a millisecond is taken
	LenSD   float64      `json:"length_sd_mm"`
	Drivers []nightSpeed `json:"drivers"`
	Trap    *trapAnswer  `json:"trap"`
	Notes   []string     `json:"notes"`
}

type nightSpeed struct {
	Driver string    `json:"driver"`
	Class  string    `json:"class,omitempty"`
	Laps   int       `json:"laps"`
	Best   lapSpeed  `json:"best"`   // quickest by speed
	Median *lapSpeed `json:"median"` // the middle one by speed, standing starts left out; null without any
}

// lapSpeed is the speed of one lap. On digital nights it lies between low and high, as the route is not known.
type lapSpeed struct {
	Heat      int      `json:"heat"`
	Seat      int      `json:"seat"` // lane, or car on digital nights
	Lap       int      `json:"lap"`
	LapUS     int64    `json:"lap_us"`
	MS        figureU  `json:"real_ms"`
	KMH       figureU  `json:"scale_kmh"`
	MPH       figureU  `json:"scale_mph"`
	LowKMH    *float64 `json:"low_kmh,omitempty"`
	HighKMH   *float64 `json:"high_kmh,omitempty"`
	ByReceipt bool     `json:"by_receipt,omitempty"` // timed by receipt, not by the counter
}

type figureU struct {
	Value float64 `json:"value"`
	U     float64 `json:"u"`
}

type trapAnswer struct {
	From       int         `json:"from"`
	To         int         `json:"to"`
	DistanceMM []float64   `json:"distance_mm"` // by lane
	Drivers    []trapSpeed `json:"drivers"`
}

type trapSpeed struct {
	Driver string  `json:"driver"`
	Runs   int     `json:"runs"`
	Heat   int     `json:"heat"`
	Seat   int     `json:"seat"`
	TookUS int64   `json:"took_us"`
	MS     figureU `json:"real_ms"`
	KMH    figureU `json:"scale_kmh"`
	MPH    figureU `json:"scale_mph"`
}

func runNightSpeeds(cmd *cobra.Command, args []string, f nightFlags) error {
	if err := f.check(); err != nil {
		return err
	}
	if len(f.trap) != 0 && len(f.trap) != 2 || !(f.trapSD >= 0) || f.trapSD > 1000 {
		return fmt.Errorf("--trap %v --trap-sd %g: expected two sensors such as 2,3 and 0 to 1000 mm", f.trap, f.trapSD)
	}
	n, err := onePaceNight(args)
	if err != nil {
		return err
	}
	if err := n.layOut(f.plan); err != nil {
		return err
	}
	a, err := nightSpeedsOf(n, f)
	if err != nil {
		return err
	}
	if len(a.Drivers) == 0 {
		return sayNo(cmd, "night %q: %v", n.id, errNoStints)
	}
	if f.asJSON {
		return printJSON(cmd.OutOrStdout(), a)
	}
	printNightSpeeds(cmd.OutOrStdout(), a, f.mph)
	return nil
}

// speedOf is the scale speed of a lap of a night. On digital nights it is the middle of what the routes allow.
func (n *paceNight) speedOf(l stints.Lap, m measureFlags) (lapSpeed, error) {
	info := n.Info()
	tick, _ := m.tickOf(n)
	out := lapSpeed{Heat: l.Heat, Seat: l.Seat, Lap: l.Number, LapUS: l.Time.Microseconds(), ByReceipt: n.ear.ByReceipt(l.Pass)}
	length, sd := 0.0, m.lengthSD
	if info.Digital {
		// Each route between the bounds is taken to be as likely as another: a uniform distribution (JCGM 100:2008, 4.3.7).
		length, sd = (info.ShortestMM+info.LongestMM)/2, math.Hypot(sd, (info.LongestMM-info.ShortestMM)/math.Sqrt(12))
	} else if l.Seat <= len(info.Layout.Lanes) {
		length = info.Layout.Lanes[l.Seat-1].LengthMM
	}
	if !(length > 0) {
		return out, fmt.Errorf("night %q: the length of lane %d is not known", n.id, l.Seat)
	}
	v, err := speeds.ScaleSpeed(length, sd, l.Time, lapU(tick, out.ByReceipt), float64(max(info.Scale, 1)))
	if err != nil {
		return out, err
	}
	out.MS, out.KMH, out.MPH = figureU(v.MS), figureU(v.KMH), figureU(v.MPH)
	if info.Digital {
		low, high := out.KMH.Value*info.ShortestMM/length, out.KMH.Value*info.LongestMM/length
		out.LowKMH, out.HighKMH = &low, &high
	}
	return out, nil
}

func nightSpeedsOf(n *paceNight, f nightFlags) (nightSpeeds, error) {
	info := n.Info()
	tick, learned := f.tickOf(n)
	a := nightSpeeds{Schema: 1, Night: n.id, Layout: info.Layout.Name, Scale: info.Scale, Digital: info.Digital, TickUS: float64(tick) / 1e3, Learned: learned, LenSD: f.lengthSD,
		Drivers: []nightSpeed{}, Notes: []string{}}
	if info.Digital && !(info.ShortestMM > 0) {
		return a, fmt.Errorf("night %q: the shortest and the longest way round are not known, so laps have no speed", n.id)
	}
	laps := map[string][]lapSpeed{}
	class := map[string]string{}
	var names []string
	for _, l := range stints.CleanLaps(n.Night, stints.Options{Class: f.class, ByCar: f.byCar}) {
		v, err := n.speedOf(l, f.measureFlags)
		if err != nil {
			return a, err
		}
		if laps[l.Driver] == nil {
			names = append(names, l.Driver)
		}
		laps[l.Driver], class[l.Driver] = append(laps[l.Driver], v), l.Class
	}
	for _, name := range names {
		list := laps[name]
		slices.SortStableFunc(list, func(a, b lapSpeed) int { return cmp.Compare(b.MS.Value, a.MS.Value) })
		d := nightSpeed{Driver: name, Class: class[name], Laps: len(list), Best: list[0]}
		flying := slices.DeleteFunc(slices.Clone(list), func(l lapSpeed) bool { return l.Lap == 1 })
		if len(flying) > 0 {
			d.Median = &flying[len(flying)/2] // the slower of two middle ones
		}
		a.Drivers = append(a.Drivers, d)
	}
	slices.SortStableFunc(a.Drivers, func(a, b nightSpeed) int {
		return cmp.Or(cmp.Compare(b.Best.MS.Value, a.Best.MS.Value), cmp.Compare(a.Driver, b.Driver))
	})
	if !learned {
		a.Notes = append(a.Notes, "the counter's resolution is not known: a millisecond is taken; give it with --tick")
	}
	if u, all := n.ear.Untimed(); u > 0 {
		a.Notes = append(a.Notes, fmt.Sprintf("%d of %d passes had no time of the counter's own; laps ending in one are taken to be good to %v", u, all, lapU(0, true).Round(100*time.Microsecond)))
	}
	return a, a.traps(n, f)
}

// traps adds the speeds between two sensors, where passes of further sensors are there.
func (a *nightSpeeds) traps(n *paceNight, f nightFlags) error {
	sprints := n.ear.Sprints()
	if len(sprints) == 0 {
		if len(f.trap) > 0 {
			return fmt.Errorf("night %q has no passes of a second sensor", n.id)
		}
		return nil
	}
	if n.track == nil {
		a.Notes = append(a.Notes, "no speed trap: where the sensors are is not known: "+n.why)
		return nil
	}
	from, to, distance := trapOn(*n.track, f.trap)
	if distance == nil {
		if len(f.trap) > 0 {
			return fmt.Errorf("the layout has no sensors %d and %d that every lane passes one after the other", f.trap[0], f.trap[1])
		}
		a.Notes = append(a.Notes, "no speed trap: the layout tells of no second sensor that every lane passes")
		return nil
	}
	if a.Digital && slices.Max(distance)-slices.Min(distance) > 1 {
		a.Notes = append(a.Notes, fmt.Sprintf("no speed trap: sensors %d and %d lie %.0f to %.0f mm apart, depending on the lane", from, to, slices.Min(distance), slices.Max(distance)))
		return nil
	}
	tick, _ := f.tickOf(n)
	t := trapAnswer{From: from, To: to, DistanceMM: distance, Drivers: []trapSpeed{}}
	best := map[int]*trapSpeed{}
	for _, s := range sprints {
		if s.From != from || s.To != to || s.Driver == 0 || f.class != "" && !n.inClass(s.Driver, f.class) {
			continue
		}
		mm := distance[0]
		if !a.Digital {
			mm = distance[s.Seat-1]
		}
		v, err := speeds.TrapSpeed(mm, f.trapSD, s.Took, lapU(tick, false), float64(max(a.Scale, 1)))
		if err != nil {
			return err
		}
		b := best[s.Driver]
		if b == nil {
			b = &trapSpeed{Driver: n.DriverName(s.Driver)}
			best[s.Driver] = b
		}
		b.Runs++
		if v.MS.Value > b.MS.Value {
			b.Heat, b.Seat, b.TookUS, b.MS, b.KMH, b.MPH = s.Heat, s.Seat, s.Took.Microseconds(), figureU(v.MS), figureU(v.KMH), figureU(v.MPH)
		}
	}
	for _, b := range best {
		t.Drivers = append(t.Drivers, *b)
	}
	slices.SortFunc(t.Drivers, func(a, b trapSpeed) int {
		return cmp.Or(cmp.Compare(b.MS.Value, a.MS.Value), cmp.Compare(a.Driver, b.Driver))
	})
	if len(t.Drivers) > 0 {
		a.Trap = &t
	}
	return nil
}

func (n *paceNight) inClass(driver int, class string) bool {
	for _, d := range n.EveryDriver() {
		if d.Number == driver {
			return d.Class == class
		}
	}
	return false
}

// trapOn finds the two sensors that lie closest together one after the other, or the two asked for, and how far apart they are on
// each lane; nil where a lane does not pass them so.
func trapOn(t layout.Track, want []int) (from, to int, distance []float64) {
	type pair struct{ from, to int }
	apart := map[pair][]float64{}
	var order []pair
	for _, l := range t.Lanes {
		on := t.SensorsOn(l.Number)
		slices.SortStableFunc(on, func(a, b layout.Passing) int { return cmp.Compare(a.AtMM, b.AtMM) })
		for i := 0; i+1 < len(on); i++ {
			p := pair{on[i].Number, on[i+1].Number}
			if apart[p] == nil {
				order = append(order, p)
			}
			apart[p] = append(apart[p], on[i+1].AtMM-on[i].AtMM)
		}
	}
	best := math.Inf(1)
	for _, p := range order {
		d := apart[p]
		if len(d) != len(t.Lanes) || !(slices.Min(d) > 0) || len(want) == 2 && (p.from != want[0] || p.to != want[1]) {
			continue
		}
		if m := slices.Max(d); m < best {
			best, from, to, distance = m, p.from, p.to, d
		}
	}
	return from, to, distance
}

func printNightSpeeds(w io.Writer, a nightSpeeds, mph bool) {
	seat := "lane"
	if a.Digital {
		seat = "car"
	}
	unit, scaleOf := "km/h", func(k, m figureU) figureU { return k }
	if mph {
		unit, scaleOf = "mph", func(k, m figureU) figureU { return m }
	}
	fmt.Fprintf(w, "%s, %s: speeds at 1:%d, give or take twice the standard uncertainty of length and time\n\n", a.Layout, a.Night, a.Scale)
	fmt.Fprintf(w, "%s         quickest lap                                      usual lap\n", pad("", 24))
	fmt.Fprintf(w, "%s  laps        s  %4s        real m/s  %14s        s  %4s  %14s\n", pad("driver", 24), seat, unit, seat, unit)
	for _, d := range a.Drivers {
		v := scaleOf(d.Best.KMH, d.Best.MPH)
		fmt.Fprintf(w, "%s  %4d  %7.3f  %4d  %6.3f ± %.3f  %7.1f ± %4.1f", pad(d.Driver, 24), d.Laps, secondsCut(d.Best.LapUS), d.Best.Seat, d.Best.MS.Value, 2*d.Best.MS.U, v.Value, 2*v.U)
		if d.Median != nil {
			v := scaleOf(d.Median.KMH, d.Median.MPH)
			fmt.Fprintf(w, "  %7.3f  %4d  %7.1f ± %4.1f", secondsCut(d.Median.LapUS), d.Median.Seat, v.Value, 2*v.U)
		}
		fmt.Fprintln(w)
	}
	if a.Digital {
		fmt.Fprintln(w, "\na digital night: the route of a lap is not known; its speed lies between")
		for _, d := range a.Drivers {
			by := 1.0
			if mph {
				by = d.Best.MPH.Value / d.Best.KMH.Value
			}
			fmt.Fprintf(w, "%s  %8.1f and %8.1f %s\n", pad(d.Driver, 26), *d.Best.LowKMH*by, *d.Best.HighKMH*by, unit)
		}
	}
	if a.Trap != nil {
		fmt.Fprintf(w, "\nspeed trap from sensor %d to sensor %d\n", a.Trap.From, a.Trap.To)
		for _, d := range a.Trap.Drivers {
			v := scaleOf(d.KMH, d.MPH)
			fmt.Fprintf(w, "%s  %8.1f ± %4.1f %s  (%s %d, heat %d; %s)\n", pad(d.Driver, 26), v.Value, 2*v.U, unit, seat, d.Seat, d.Heat, count(d.Runs, "run"))
		}
	}
	fmt.Fprintf(w, "\nlengths are taken to be good to %s mm, the counter's tick is %s ms\n", trim(a.LenSD, 2), trim(a.TickUS/1e3, 3))
	for _, n := range a.Notes {
		fmt.Fprintln(w, n)
	}
}

// secondsCut cuts microseconds to thousandths of a second.
func secondsCut(us int64) float64 { return float64(us/1000) / 1000 }
