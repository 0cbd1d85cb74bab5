package fairness

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"lanewright/race/analysis"
	"lanewright/race/speeds"
)

// Official is a driver's result as the rule card made it.
type Official struct {
	Driver string
	Place  int     // 0 for none
	Laps   float64 // total, for the margins
}

// Options says how to audit.
type Options struct {
	Draws int    // for the probability of being best; 0 for 20,000
	Seed  uint64 // of the draws
	// LengthMM and Par of the lanes, where known, split the lane effects.
	LengthMM map[int]float64
	Par      map[int]time.Duration
}

const drawsUsual = 20_000

// Row is one driver in the audit's table, in official order.
type Row struct {
	Official
	// Ahead and Behind are the margins in laps to the places above and below.
	Ahead, Behind *float64
	// LaneLuck and EveningLuck are what his lanes and heats gave him, in laps over
	// the night, against average ones. Nil where the rotation cannot tell.
	LaneLuck, EveningLuck *float64
	Adjusted              *float64 // total less luck
	AdjustedPlace         int      // by Adjusted; 0 without
	// EveryLane is the total had he run every lane once, from the fit of scores.
	EveryLane *float64
	// RightScore and RightPace are the probabilities that he is truly better
	// than the driver one place below: in laps a stint, mistakes and all, and in
	// plain pace.
	RightScore, RightPace *float64
	BestScore, BestPace   *float64 // probability of being truly the best of all
}

// LaneRow is one lane in the audit.
type LaneRow struct {
	speeds.LaneCost
	LapsPerStint *float64 // what the lane gives (+) or costs (-) a stint, in laps
	Letters      string   // lanes that share a letter do not differ significantly; "" in unconnected rotations
}

// Report is the audit of a night.
type Report struct {
	Sentence string // the whole in plain words
	Rows     []Row
	Lanes    []LaneRow
	Rotation Rotation

	Pace  *analysis.LaneFit // of ln median laps; nil when too few laps were kept
	Score *analysis.LaneFit // of laps a stint; nil when no stint ran to the end
	// Basis says which of them luck and lanes rest on.
	Basis string
	// LeftOut are stints not used for the lanes: stopped early or too few laps.
	LeftOut int

	LanePairs                        []analysis.Pair
	Shares                           analysis.Shares
	TrendPercent                     analysis.Est // pace per heat in per cent, positive is slower; Basis "pace" only
	DriverEfficiency, LaneEfficiency *float64
	Friedman                         *analysis.Friedman // lanes within drivers; complete rotations only
	Tau                              *float64           // Kendall's, official against adjusted order
	PlacesChanged                    int                // drivers whose place differs when luck is taken off
	OnLuck                           []int              // official places that rest on luck, sorted
}

// Audit audits a night. stints are all stints driven, those stopped early
// included; official is the result, which is only read.
func Audit(stints []analysis.Stint, official []Official, options Options) (*Report, error) {
	if len(stints) == 0 || len(official) == 0 {
		return nil, fmt.Errorf("fairness: %d stints, %d results %w: expected a night that was raced", len(stints), len(official), ErrBadInput)
	}
	seen := map[string]bool{}
	for _, o := range official {
		if seen[o.Driver] || o.Place < 0 || math.IsNaN(o.Laps) || math.IsInf(o.Laps, 0) {
			return nil, fmt.Errorf("fairness: result of %s, place %d, %v laps %w: expected each driver once, a place from 1 or 0 for none", o.Driver, o.Place, o.Laps, ErrBadInput)
		}
		seen[o.Driver] = true
	}
	r := &Report{Rotation: rotationOf(stints)}
	pace, leftPace, err := analysis.PaceObs(stints)
	if err != nil {
		return nil, fmt.Errorf("fairness: %w", err)
	}
	score, leftScore, err := analysis.ScoreObs(stints)
	if err != nil {
		return nil, fmt.Errorf("fairness: %w", err)
	}
	// In a rotation that moves everybody one lane on each heat, heat is nearly
	// driver less lane, and in a short one exactly: then the evening cannot be told
	// from them and is left out.
	fit := func(obs []analysis.Obs) (*analysis.LaneFit, error) {
		if len(obs) == 0 {
			return nil, nil
		}
		with, err := analysis.FitLanes(obs, analysis.LaneOptions{Trend: analysis.HeatLinear})
		if err != nil || with.Trend.Value != nil && with.DF > 0 && with.LaneGroups == 1 && with.DriverGroups == 1 {
			return with, err
		}
		return analysis.FitLanes(obs, analysis.LaneOptions{})
	}
	if r.Score, err = fit(score); err != nil {
		return nil, fmt.Errorf("fairness: %w", err)
	}
	// Pace is used when nearly every stint has one; a lane must not drop out of
	// the audit because its laps were not kept.
	if len(pace) > 0 && 4*len(pace) >= 3*len(score) && sameLanes(pace, score) {
		if r.Pace, err = fit(pace); err != nil {
			return nil, fmt.Errorf("fairness: %w", err)
		}
	}
	main := r.Score
	r.Basis, r.LeftOut = "score", leftScore
	if r.Pace != nil {
		main, r.Basis, r.LeftOut = r.Pace, "pace", leftPace
	}
	r.rows(official)
	if main == nil {
		r.Sentence = "No stint ran to the end, so nothing can be said about lanes."
		return r, nil
	}
	r.DriverEfficiency, r.LaneEfficiency = main.DriverEfficiency(), main.LaneEfficiency()
	r.Shares = main.Shares()
	r.LanePairs = main.LanePairs()
	r.lanes(main, stints, options)
	r.luck(main, stints)
	r.adjust()
	r.certainty(options)
	if r.Rotation.Complete && r.LeftOut == 0 {
		r.Friedman = friedman(main)
	}
	r.Sentence = r.sentence(main)
	return r, nil
}

func sameLanes(a, b []analysis.Obs) bool {
	set := func(obs []analysis.Obs) []int {
		var out []int
		for _, o := range obs {
			out = append(out, o.Lane)
		}
		return unique(out)
	}
	return slices.Equal(set(a), set(b))
}

// rows puts the official result in order; drivers without a place come last.
func (r *Report) rows(official []Official) {
	for _, o := range official {
		r.Rows = append(r.Rows, Row{Official: o})
	}
	slices.SortFunc(r.Rows, func(a, b Row) int {
		last := func(p int) int {
			if p == 0 {
				return math.MaxInt
			}
			return p
		}
		return cmp.Or(cmp.Compare(last(a.Place), last(b.Place)), cmp.Compare(b.Laps, a.Laps), cmp.Compare(a.Driver, b.Driver))
	})
	for i := 1; i < len(r.Rows); i++ {
		if r.Rows[i].Place == 0 {
			break
		}
		gap := r.Rows[i-1].Laps - r.Rows[i].Laps
		r.Rows[i].Ahead, r.Rows[i-1].Behind = &gap, &gap
	}
}

// meanScores returns the mean score a stint of each driver and of everybody.
func meanScores(stints []analysis.Stint) (byDriver map[string]float64, all float64) {
	byDriver = map[string]float64{}
	n := map[string]float64{}
	for _, s := range stints {
		byDriver[s.Driver] += s.Score
		n[s.Driver]++
		all += s.Score / float64(len(stints))
	}
	for d := range byDriver {
		byDriver[d] /= n[d]
	}
	return byDriver, all
}

// lanes lists the lanes. With pace as basis, d ln(laps) = -d pace.
func (r *Report) lanes(main *analysis.LaneFit, stints []analysis.Stint, options Options) {
	_, all := meanScores(stints)
	marks := letters(main.Lanes, r.LanePairs, 0.05)
	for i, l := range main.Lanes {
		row := LaneRow{Letters: marks[i]}
		row.Lane, row.Group = l.Lane, l.Group
		if main.LaneGroups > 1 || main.DF < 1 {
			row.Letters = ""
		}
		if l.Value != nil {
			laps := *l.Value
			if r.Basis == "pace" {
				laps *= -all
			}
			row.LapsPerStint = &laps
		}
		r.Lanes = append(r.Lanes, row)
	}
	if r.Basis == "pace" {
		for i, c := range speeds.LaneCosts(main, options.LengthMM, options.Par) {
			r.Lanes[i].LaneCost = c
		}
		r.TrendPercent = percent(main.Trend)
	}
}

func percent(e analysis.Est) analysis.Est {
	mul := func(x *float64) *float64 {
		if x == nil {
			return nil
		}
		v := *x * 100
		return &v
	}
	return analysis.Est{Value: mul(e.Value), SE: mul(e.SE), Low: mul(e.Low), High: mul(e.High)}
}

// luck turns lane and evening effects into laps for every driver, over all the
// stints he drove, those left out of the fit included.
func (r *Report) luck(main *analysis.LaneFit, stints []analysis.Stint) {
	byDriver, _ := meanScores(stints)
	effect := map[int]float64{}
	for _, l := range main.Lanes {
		if l.Value != nil && main.LaneGroups == 1 {
			effect[l.Lane] = *l.Value
		}
	}
	count := map[string]map[int]int{}
	heats := map[string][]int{}
	sum, n := 0.0, 0.0
	for _, s := range stints {
		if count[s.Driver] == nil {
			count[s.Driver] = map[int]int{}
		}
		count[s.Driver][s.Lane]++
		heats[s.Driver] = append(heats[s.Driver], s.Heat)
		sum += float64(s.Heat - stints[0].Heat)
		n++
	}
	meanHeat := float64(stints[0].Heat) + sum/n
	for i := range r.Rows {
		row := &r.Rows[i]
		lanes := count[row.Driver]
		if len(lanes) == 0 {
			continue
		}
		unit := 1.0
		if r.Basis == "pace" {
			unit = -byDriver[row.Driver]
		}
		luck, known, even := 0.0, main.LaneGroups == 1, len(lanes) == len(main.Lanes)
		some := -1
		for _, l := range main.Lanes {
			c := lanes[l.Lane]
			if some < 0 {
				some = c
			}
			even = even && c == some
			luck += float64(c) * effect[l.Lane]
		}
		for l := range lanes {
			if _, ok := effect[l]; !ok {
				known = false // a lane the fit never saw
			}
		}
		if known {
			luck *= unit
			if even {
				luck = 0 // every lane equally often: exactly none
			}
			row.LaneLuck = &luck
		}
		if main.Trend.Value != nil {
			t := 0.0
			for _, h := range heats[row.Driver] {
				t += *main.Trend.Value * (float64(h) - meanHeat) * unit
			}
			row.EveningLuck = &t
		}
	}
	if r.Score == nil || r.Score.LaneGroups > 1 {
		return
	}
	for _, d := range r.Score.Drivers {
		for i := range r.Rows {
			if r.Rows[i].Driver == d.Driver && d.Adjusted.Value != nil {
				v := *d.Adjusted.Value * float64(len(r.Score.Lanes))
				r.Rows[i].EveryLane = &v
			}
		}
	}
}

// adjust takes luck off and orders anew. The evening is taken off only when its
// trend stands out from chance; otherwise that would add noise, not fairness.
func (r *Report) adjust() {
	main := r.Score
	if r.Basis == "pace" {
		main = r.Pace
	}
	evening := main.TrendTest != nil && main.TrendTest.P != nil && *main.TrendTest.P < 0.05
	var x, y []float64
	var order []int
	for i := range r.Rows {
		row := &r.Rows[i]
		if row.Place == 0 || row.LaneLuck == nil {
			continue
		}
		v := row.Laps - *row.LaneLuck
		if evening && row.EveningLuck != nil {
			v -= *row.EveningLuck
		}
		row.Adjusted = &v
		order = append(order, i)
		x, y = append(x, -float64(row.Place)), append(y, v)
	}
	r.Tau = Kendall(x, y)
	// Drivers level in the official result keep their order among themselves.
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(*r.Rows[b].Adjusted, *r.Rows[a].Adjusted) })
	for n, i := range order {
		r.Rows[i].AdjustedPlace = n + 1
	}
	official := slices.Clone(order)
	slices.Sort(official)
	for n, i := range official { // the n-th of those that can be compared
		row := &r.Rows[i]
		levelFrom, levelTo := n+1, n+1
		for levelFrom > 1 && r.Rows[official[levelFrom-2]].Place == row.Place {
			levelFrom--
		}
		for levelTo < len(official) && r.Rows[official[levelTo]].Place == row.Place {
			levelTo++
		}
		if row.AdjustedPlace < levelFrom || row.AdjustedPlace > levelTo {
			r.PlacesChanged++
			r.OnLuck = append(r.OnLuck, row.Place)
		}
	}
	r.OnLuck = unique(r.OnLuck)
}

// certainty fills in how sure the order is.
func (r *Report) certainty(options Options) {
	draws := options.Draws
	if draws == 0 {
		draws = drawsUsual
	}
	each := func(fit *analysis.LaneFit, more bool, right, best func(*Row) **float64) {
		if fit == nil {
			return
		}
		at := map[string]int{}
		for i, d := range fit.Drivers {
			at[d.Driver] = i
		}
		for i := 0; i+1 < len(r.Rows); i++ {
			a, oka := at[r.Rows[i].Driver]
			b, okb := at[r.Rows[i+1].Driver]
			if oka && okb && r.Rows[i+1].Place > 0 {
				*right(&r.Rows[i]) = fit.Better(a, b, more)
			}
		}
		if fit.DriverGroups > 1 {
			return
		}
		p := Best(fit, 1, more, draws, options.Seed)
		for i := range r.Rows {
			if a, ok := at[r.Rows[i].Driver]; ok && p != nil {
				*best(&r.Rows[i]) = p[a]
			}
		}
	}
	each(r.Score, true, func(row *Row) **float64 { return &row.RightScore }, func(row *Row) **float64 { return &row.BestScore })
	each(r.Pace, false, func(row *Row) **float64 { return &row.RightPace }, func(row *Row) **float64 { return &row.BestPace })
}

// friedman tests lanes within drivers; nil when a driver ran a lane twice.
func friedman(fit *analysis.LaneFit) *analysis.Friedman {
	if len(fit.Sorted) != len(fit.Drivers)*len(fit.Lanes) || len(fit.Lanes) < 2 {
		return nil
	}
	rows := make([][]float64, len(fit.Drivers))
	for i, o := range fit.Sorted { // by driver, then lane
		rows[i/len(fit.Lanes)] = append(rows[i/len(fit.Lanes)], o.Y)
	}
	f, err := analysis.FriedmanTest(rows)
	if err != nil {
		return nil
	}
	return f
}
