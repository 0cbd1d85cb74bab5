package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"lanewright/race/fairness"
	"lanewright/race/stints"
)

type auditFlags struct {
	car, plan, class string
	pictures         string
	draws            int
	seed             uint64
	full, asJSON     bool
}

func speedsAuditCommand() *cobra.Command {
	var f auditFlags
	cmd := &cobra.Command{
		Use:   "audit FILE [NIGHT]",
		Short: "Was the night fair: one sentence, one table; the official result is never changed",
		Long: "Says what lanes and evening gave or cost each driver next to the margins, which places rest on that, and\n" +
			"how sure the order is. The result stays what the rule card made it.",
		Args: cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error { return runAudit(cmd, args, f) },
	}
	carFlag(cmd, &f.car)
	fs := cmd.Flags()
	fs.StringVar(&f.plan, "plan", "", "plan of the layout, where its kit is not built in")
	fs.StringVar(&f.class, "class", "", "only this class, against its own standings")
	fs.IntVar(&f.draws, "draws", 20000, "draws for the probability of being the best")
	fs.Uint64Var(&f.seed, "seed", 1, "of the draws: the same seed gives the same figures")
	fs.StringVar(&f.pictures, "pictures", "", "also write SVG pictures into this folder: lane effects, pace through the evening, par laps")
	fs.BoolVar(&f.full, "full", false, "all figures")
	fs.BoolVar(&f.asJSON, "json", false, "print the audit, with all figures, as JSON")
	return cmd
}

// auditAnswer is what `speeds audit --json` prints. Laps of luck are positive where they helped; null is what the laps cannot tell.
type auditAnswer struct {
	Schema    int           `json:"schema"`
	Night     string        `json:"night"`
	Layout    string        `json:"layout"`
	Sentence  string        `json:"sentence"`
	Basis     string        `json:"basis"` // "pace" or "score": what lanes and luck rest on
	Rows      []auditRow    `json:"drivers"`
	Lanes     []auditLane   `json:"lanes"`
	Rotation  auditRotation `json:"rotation"`
	Pairs     []lanePercent `json:"lane_pairs"`
	Shares    auditShares   `json:"shares"`            // of the variation between stints
	Trend     estAnswer     `json:"trend_percent"`     // a heat, positive is slower
	TestLanes *float64      `json:"lanes_p"`           // p value: are the lanes alike?
	DriverEff *float64      `json:"driver_efficiency"` // of the rotation, 1 is as good as can be
	LaneEff   *float64      `json:"lane_efficiency"`
	Friedman  *float64      `json:"friedman_p"` // rank test of the lanes, complete rotations only
	Tau       *float64      `json:"tau"`        // rank correlation of official and adjusted order
	Changed   int           `json:"places_changed"`
	OnLuck    []int         `json:"places_on_luck"`
	Left      []leftAnswer  `json:"left_out"`
	Groups    int           `json:"lane_groups"` // that no driver connects
	Notes     []string      `json:"notes"`
	Draws     int           `json:"draws"`
	Seed      uint64        `json:"seed"`
	Digital   bool          `json:"digital,omitempty"`
	StintSD   *float64      `json:"stint_sd_percent"`   // of a stint's pace about the fit
	SetOff    int           `json:"laps_not_looked_at"` // counted laps without a clean time
	Timed     int           `json:"laps_timed"`
	ClassOnly string        `json:"class,omitempty"`
	Official  string        `json:"official_result_unchanged"` // says so
}

type auditRow struct {
	Place         int      `json:"place"` // 0 none
	Driver        string   `json:"driver"`
	Laps          float64  `json:"laps"`
	Ahead         *float64 `json:"behind_next_above"` // margins in laps
	Behind        *float64 `json:"ahead_of_next_below"`
	LaneLuck      *float64 `json:"lane_luck"`
	EveningLuck   *float64 `json:"evening_luck"`
	Adjusted      *float64 `json:"adjusted"`
	AdjustedPlace *int     `json:"adjusted_place"`
	EveryLane     *float64 `json:"every_lane_once"`
	RightScore    *float64 `json:"right_by_score"` // probability that he is truly better than the next below
	RightPace     *float64 `json:"right_by_pace"`
	BestScore     *float64 `json:"best_by_score"` // probability of being truly the best
	BestPace      *float64 `json:"best_by_pace"`
}

type auditLane struct {
	Lane         int       `json:"lane"`
	Percent      estAnswer `json:"percent"`
	Seconds      estAnswer `json:"seconds"`
	LapsPerStint *float64  `json:"laps_per_stint"` // + gives, - costs
	Letters      string    `json:"alike"`          // lanes that share a letter do not differ significantly
	Length       *float64  `json:"length_s"`
	Par          *float64  `json:"par_extra_s"`
	Rest         *float64  `json:"rest_s"`
	Notable      bool      `json:"notable"`
	Text         string    `json:"text,omitempty"`
}

type auditRotation struct {
	Heats    int           `json:"heats"`
	Complete bool          `json:"complete"`
	Missing  []auditCell   `json:"missing"` // driver and lane that never met
	MeetMin  int           `json:"meet_min"`
	MeetMax  int           `json:"meet_max"`
	Drivers  []auditAttend `json:"drivers"`
}

type auditCell struct {
	Driver string `json:"driver"`
	Lane   int    `json:"lane"`
}

type auditAttend struct {
	Driver  string `json:"driver"`
	Stints  int    `json:"stints"`
	SitOuts int    `json:"sit_outs"`
	Wait    int    `json:"longest_wait"`
}

// lanePercent is a pair of lanes: A less B, in per cent of a lap by pace, in laps a stint by score.
type lanePercent struct {
	A     int       `json:"a"`
	B     int       `json:"b"`
	Diff  estAnswer `json:"diff"`
	P     *float64  `json:"p"`
	Tukey *float64  `json:"p_all_pairs"`
	Holm  *float64  `json:"p_holm"`
}

type auditShares struct {
	Driver *float64 `json:"driver"`
	Lane   *float64 `json:"lane"`
	Trend  *float64 `json:"trend"`
	Rest   *float64 `json:"rest"`
}

func runAudit(cmd *cobra.Command, args []string, f auditFlags) error {
	if f.draws < 100 || f.draws > 10_000_000 {
		return fmt.Errorf("--draws is %d; it is from 100 to 10000000", f.draws)
	}
	n, err := onePaceNight(args)
	if err != nil {
		return err
	}
	r, a, err := auditOf(n, f)
	if err == errNoStints {
		return sayNo(cmd, "night %q: %v", n.id, err)
	}
	if err != nil {
		return err
	}
	if f.pictures != "" {
		car, err := carOf(f.car)
		if err != nil {
			return err
		}
		pictures, err := nightPictures(n, car)
		if err != nil {
			return err
		}
		if err := writePictures(f.pictures, pictures); err != nil {
			return err
		}
	}
	if f.asJSON {
		return printJSON(cmd.OutOrStdout(), a)
	}
	printAudit(cmd.OutOrStdout(), r, a, f.full)
	return nil
}

func auditOf(n *paceNight, f auditFlags) (*fairness.Report, auditAnswer, error) {
	a := auditAnswer{Schema: 1, Night: n.id, Layout: n.Info().Layout.Name, Draws: f.draws, Seed: f.seed, Digital: n.Info().Digital, ClassOnly: f.class, Notes: []string{},
		Official: "the official result is what the rule card made it; nothing here changes it"}
	car, err := carOf(f.car)
	if err != nil {
		return nil, a, err
	}
	if err := n.layOut(f.plan); err != nil {
		return nil, a, err
	}
	found, err := n.stints(car, stints.Options{Class: f.class})
	if err != nil {
		return nil, a, err
	}
	official := stints.Officials(n.Night, f.class)
	if len(found.Stints) == 0 || len(official) == 0 {
		return nil, a, errNoStints
	}
	par, err := n.par(car)
	if err != nil {
		return nil, a, err
	}
	r, err := fairness.Audit(found.Stints, official, fairness.Options{Draws: f.draws, Seed: f.seed, LengthMM: stints.Lengths(n.Night), Par: par})
	if err != nil {
		return nil, a, err
	}
	a.Left, a.SetOff, a.Timed = leftOf("", found.Left), found.LapsSetOff, found.LapsTimed
	if n.track == nil && !a.Digital {
		a.Notes = append(a.Notes, "no par laps: "+n.why)
	}
	if a.Digital {
		a.Notes = append(a.Notes, "a digital night: cars share the lanes, so no lane luck is possible")
	}
	a.fill(r)
	notable := 0
	for _, l := range a.Lanes {
		if l.Notable {
			notable++
		}
	}
	if doubt := modelDoubt(notable, len(a.Lanes), car.Name); par != nil && doubt != "" {
		a.Notes = append(a.Notes, doubt)
	}
	return r, a, nil
}

func (a *auditAnswer) fill(r *fairness.Report) {
	a.Sentence, a.Basis, a.Tau, a.Changed, a.OnLuck = r.Sentence, r.Basis, r.Tau, r.PlacesChanged, r.OnLuck
	a.DriverEff, a.LaneEff, a.Trend = r.DriverEfficiency, r.LaneEfficiency, estOf(r.TrendPercent)
	a.Shares = auditShares{r.Shares.Driver, r.Shares.Lane, r.Shares.Trend, r.Shares.Rest}
	if a.OnLuck == nil {
		a.OnLuck = []int{}
	}
	if r.Friedman != nil {
		a.Friedman = r.Friedman.P
	}
	main, unit := r.Score, 1.0
	if r.Basis == "pace" {
		main, unit = r.Pace, 100
	}
	if main != nil {
		a.Groups = main.LaneGroups
		if main.LaneTest != nil {
			a.TestLanes = main.LaneTest.P
		}
		if main.S != nil && r.Basis == "pace" {
			sd := *main.S * 100
			a.StintSD = &sd
		}
	}
	a.Rows, a.Lanes, a.Pairs = []auditRow{}, []auditLane{}, []lanePercent{}
	for _, row := range r.Rows {
		x := auditRow{row.Place, row.Driver, row.Laps, row.Ahead, row.Behind, row.LaneLuck, row.EveningLuck, row.Adjusted, nil, row.EveryLane, row.RightScore, row.RightPace, row.BestScore, row.BestPace}
		if row.AdjustedPlace > 0 {
			place := row.AdjustedPlace
			x.AdjustedPlace = &place
		}
		a.Rows = append(a.Rows, x)
	}
	for _, l := range r.Lanes {
		a.Lanes = append(a.Lanes, auditLane{l.Lane, estOf(l.Percent), estOf(l.Seconds), l.LapsPerStint, l.Letters, l.Length, l.Par, l.Rest, l.Notable, l.Text})
		if l.Text != "" {
			a.Notes = append(a.Notes, l.Text)
		}
	}
	for _, p := range r.LanePairs {
		a.Pairs = append(a.Pairs, lanePercent{r.Lanes[p.A].Lane, r.Lanes[p.B].Lane, estOf(scaled(p.Diff, unit)), p.P, p.Tukey, p.Holm})
	}
	a.Rotation = auditRotation{Heats: r.Rotation.Heats, Complete: r.Rotation.Complete, Missing: []auditCell{}, MeetMin: r.Rotation.MeetMin, MeetMax: r.Rotation.MeetMax, Drivers: []auditAttend{}}
	for _, c := range r.Rotation.Missing {
		a.Rotation.Missing = append(a.Rotation.Missing, auditCell{c.Driver, c.Lane})
	}
	for _, d := range r.Rotation.Drivers {
		a.Rotation.Drivers = append(a.Rotation.Drivers, auditAttend{d.Driver, d.Stints, d.SitOuts, d.Wait})
	}
}

func printAudit(w io.Writer, r *fairness.Report, a auditAnswer, full bool) {
	fmt.Fprintln(w, r.Text())
	for _, n := range a.Notes {
		fmt.Fprintln(w, n)
	}
	fmt.Fprintln(w, "ahead: laps to the place above; lanes, evening: laps that luck gave; right: probability of being truly better than the place below;\nbest: of being truly the best. "+strings.ToUpper(a.Official[:1])+a.Official[1:]+".")
	if !full {
		return
	}
	printRotationFacts(w, a)
	unit := "per cent of a lap"
	if a.Basis == "score" {
		unit = "laps a stint"
	}
	fmt.Fprintf(w, "\nlanes by %s, all pairs, %s\n", a.Basis, unit)
	for _, p := range a.Pairs {
		fmt.Fprintf(w, "lane %d less lane %d  %7s  %-18s  p %s, all pairs together %s, Holm %s\n", p.A, p.B, figureOf(p.Diff.Value, 2), intervalOf(p.Diff, 2), chanceOf(p.P), chanceOf(p.Tukey), chanceOf(p.Holm))
	}
	fmt.Fprintf(w, "are the lanes alike? p %s; by ranks alone (Friedman) p %s\n", chanceOf(a.TestLanes), chanceOf(a.Friedman))
	fmt.Fprintf(w, "variation between stints: drivers %s, lanes %s, evening %s, rest %s\n", percentOf(a.Shares.Driver), percentOf(a.Shares.Lane), percentOf(a.Shares.Trend), percentOf(a.Shares.Rest))
	if a.Trend.Value != nil {
		fmt.Fprintf(w, "the evening: %s %% a heat, 95 %% interval %s (+ is slower)\n", figureOf(a.Trend.Value, 3), intervalOf(a.Trend, 3))
	}
	fmt.Fprintf(w, "official against adjusted order: rank correlation %s, %s changed\n", figureOf(a.Tau, 3), count(a.Changed, "place"))
	fmt.Fprintln(w, "\ndriver                      every lane once  right by pace  best by pace")
	for _, row := range a.Rows {
		every := "-"
		if row.EveryLane != nil {
			every = fmt.Sprintf("%.2f", *row.EveryLane)
		}
		fmt.Fprintf(w, "%s  %15s  %13s  %12s\n", pad(row.Driver, 26), every, percentOf(row.RightPace), percentOf(row.BestPace))
	}
	fmt.Fprintf(w, "\n%d laps timed, %d counted laps without a clean time\n", a.Timed, a.SetOff)
	printLeft(w, a.Left)
}

func printRotationFacts(w io.Writer, a auditAnswer) {
	complete := "complete: everybody on every lane equally often"
	if !a.Rotation.Complete {
		complete = "not complete"
	}
	fmt.Fprintf(w, "\nrotation: %d heats, %s; efficiency for drivers %s, for lanes %s (1 is as good as can be)\n", a.Rotation.Heats, complete, ratioOf(a.DriverEff), ratioOf(a.LaneEff))
	for _, c := range a.Rotation.Missing {
		fmt.Fprintf(w, "%s never drove lane %d\n", c.Driver, c.Lane)
	}
	fmt.Fprintf(w, "two drivers met %d to %d times\n", a.Rotation.MeetMin, a.Rotation.MeetMax)
	fmt.Fprintln(w, "driver                      stints  sit-outs  longest wait")
	for _, d := range a.Rotation.Drivers {
		fmt.Fprintf(w, "%s  %6d  %8d  %12d\n", pad(d.Driver, 26), d.Stints, d.SitOuts, d.Wait)
	}
}

func ratioOf(v *float64) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf("%.3f", *v)
}
