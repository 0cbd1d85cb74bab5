package rotation

import "math"

// Figures are what a draw is judged by. All counts are exact. Sums of squares
// fall when things get more equal. Drivers who drive no heat at all are left
// out of least and most.
type Figures struct {
	Heats int `json:"heats"`
	Empty int `json:"empty_seats"` // of lanes in use

	// Opponents: heats in which two drivers meet, over all pairs.
	PairLeast int   `json:"pair_least"`
	PairMost  int   `json:"pair_most"`
	PairSq    int64 `json:"pair_squares"`
	MetLeast  int   `json:"opponents_met_least"` // the fewest different opponents a driver has

	// Waiting, in heats.
	Streak     int   `json:"longest_streak"`   // heats driven in a row
	Wait       int   `json:"longest_wait"`     // sat out in a row, before the first and after the last too
	FirstLate  int   `json:"latest_first"`     // heat number of the latest first heat
	BackToBack int   `json:"back_to_back"`     // times anybody drives two heats in a row
	Idle       int64 `json:"idle_squares"`     // sum over drivers and gaps of (heats sat out in a row)^2
	Overlong   int64 `json:"streaks_overlong"` // sum over streaks of (heats beyond what may be forced, at least two)^2

	// Evening.
	MeanSpread float64 `json:"mean_heat_spread"`  // latest less earliest mean heat number of a driver
	MeanSq     int64   `json:"mean_heat_squares"` // sum over drivers of (twice the sum of his heat numbers, less its fair share)^2
	LaneTime   float64 `json:"lane_time_most"`    // largest correlation of a driver's lane numbers (or costs) with the evening, in standard errors of chance
	LaneTimeSq int64   `json:"lane_time_squares"` // sum over drivers of (LaneTime in whole quarters)^2
	StintSq    int64   `json:"lane_mean_squares"` // sum over driver and lane of (twice the sum of heat numbers there, less its fair share)^2

	// Moves. A move is from the lane of one heat to the lane of the same
	// driver's next; a take-over is a lane passing from one driver to another
	// in the next heat.
	MoveLeast int   `json:"move_least"`
	MoveMost  int   `json:"move_most"`
	MoveSq    int64 `json:"move_squares"` // over ordered pairs of different lanes; staying costs sameWeight each
	MoveSame  int   `json:"move_same_lane"`
	TakeMost  int   `json:"takeover_most"`
	TakeSq    int64 `json:"takeover_squares"` // over ordered pairs of different drivers; staying costs sameWeight each
	TakeSame  int   `json:"takeover_self"`

	// Marshals.
	DutyLeast int `json:"duty_least"`
	DutyMost  int `json:"duty_most"`
	BeforeOwn int `json:"duty_before_own"` // duties in the heat before one's own
	Unstaffed int `json:"posts_unstaffed"`

	// Lane costs: largest less smallest sum of a driver's lane costs.
	CostSpread float64 `json:"cost_spread"`
	// Seats of heats that break a wish; 0 in every draw handed out.
	Broken int `json:"wishes_broken"`
	// AEfficiency of drivers corrected for heats and lanes: 1 when nothing is
	// lost, 0 when the draw falls apart in groups that never meet.
	AEfficiency float64 `json:"a_efficiency"`
}

// measure works out the figures of a draw anew and slowly. p tells which lanes
// are used, costs, wishes and posts. The searches keep running totals of the
// same figures, and tests compare the two.
func measure(p Problem, heats, duty [][]int) Figures {
	f := Figures{Heats: len(heats)}
	n, lanes := p.Drivers, p.usable()
	at := stints(n, heats)
	driving := 0
	for d := range n {
		if len(at[d]) > 0 {
			driving++
		}
	}
	for _, row := range heats {
		for _, l := range lanes {
			if row[l-1] == 0 {
				f.Empty++
			}
		}
	}
	f.pairs(n, heats, at)
	f.waits(p, len(heats), at)
	f.evening(p, len(heats), at)
	f.moves(n, lanes, heats, at)
	f.duties(n, heats, duty, at)
	f.costs(p, at)
	f.Broken = broken(p, heats)
	f.AEfficiency = aEfficiency(n, heats)
	return f
}

// stint is one driver in one heat; both count from 0.
type stint struct{ heat, lane int }

// stints lists for each driver (from 0) his heats in order.
func stints(n int, heats [][]int) [][]stint {
	at := make([][]stint, n)
	for h, row := range heats {
		for l, x := range row {
			if x > 0 {
				at[x-1] = append(at[x-1], stint{h, l})
			}
		}
	}
	return at
}

// Meetings counts for every pair of drivers (from 0) the heats they share.
func Meetings(drivers int, heats [][]int) [][]int {
	m := make([][]int, drivers)
	for i := range m {
		m[i] = make([]int, drivers)
	}
	for _, row := range heats {
		for i, x := range row {
			for _, y := range row[i+1:] {
				if x > 0 && y > 0 {
					m[x-1][y-1]++
					m[y-1][x-1]++
				}
			}
		}
	}
	return m
}

func (f *Figures) pairs(n int, heats [][]int, at [][]stint) {
	m := Meetings(n, heats)
	f.PairLeast, f.MetLeast = math.MaxInt, math.MaxInt
	any := false
	for x := range n {
		if len(at[x]) == 0 {
			continue
		}
		met := 0
		for y := range n {
			if x == y || len(at[y]) == 0 {
				continue
			}
			any = true
			v := m[x][y]
			f.PairLeast, f.PairMost = min(f.PairLeast, v), max(f.PairMost, v)
			if v > 0 {
				met++
			}
			if x < y {
				f.PairSq += int64(v * v)
			}
		}
		f.MetLeast = min(f.MetLeast, met)
	}
	if !any {
		f.PairLeast, f.MetLeast = 0, 0
	}
}

// streakAllowed is the longest streak that costs nothing: two in a row, or
// more where so few sit out that more is forced.
func streakAllowed(n, lanes int) int {
	if n <= lanes {
		return HeatsMax
	}
	return max(2, ceilDiv(lanes, n-lanes))
}

func ceilDiv(a, b int) int { return (a + b - 1) / b }

func (f *Figures) waits(p Problem, heats int, at [][]stint) {
	allowed := streakAllowed(p.Drivers, len(p.usable()))
	here := presence(p, heats)
	for d, s := range at {
		if len(s) == 0 {
			continue
		}
		f.FirstLate = max(f.FirstLate, s[0].heat+1)
		last, run := here[d].from-1, 0
		gap := func(g int) {
			f.Wait = max(f.Wait, g)
			f.Idle += int64(g * g)
		}
		end := func() {
			f.Streak = max(f.Streak, run)
			if run > allowed {
				f.Overlong += int64((run - allowed) * (run - allowed))
			}
		}
		for _, t := range s {
			g := t.heat - last - 1
			gap(g)
			if g == 0 && run > 0 {
				run++
				f.BackToBack++
			} else {
				end()
				run = 1
			}
			last = t.heat
		}
		end()
		gap(here[d].until - last - 1)
	}
}

// window is the part of the evening a driver is there for: heats from <= h <
// until, from 0.
type window struct{ from, until int }

// presence lists when each driver is there, by the wishes.
func presence(p Problem, heats int) []window {
	w := make([]window, p.Drivers)
	for i := range w {
		w[i] = window{0, heats}
	}
	for _, s := range p.Wishes.Stay {
		x := &w[s.Driver-1]
		if s.From > 1 {
			x.from = min(s.From-1, heats)
		}
		if s.Until > 0 && s.Until < heats {
			x.until = max(s.Until, x.from)
		}
	}
	return w
}

// laneScores gives each lane of the track a whole number with mean near 0 over
// the lanes used: twice its place among them less the mean, or its cost when
// costs are known, scaled to the same spread.
func laneScores(p Problem) []int64 {
	use := p.usable()
	out := make([]int64, p.Lanes)
	k := float64(len(use))
	var mean, sq float64
	if p.Costs != nil {
		for _, l := range use {
			mean += p.Costs[l-1] / k
		}
		for _, l := range use {
			sq += (p.Costs[l-1] - mean) * (p.Costs[l-1] - mean)
		}
	}
	want := k * (k*k - 1) / 3 // sum of squares of -k+1, -k+3, ..., k-1
	for i, l := range use {
		if sq > 1e-12 {
			out[l-1] = int64(math.Round((p.Costs[l-1] - mean) * math.Sqrt(want/sq)))
		} else {
			out[l-1] = int64(2*i - len(use) + 1)
		}
	}
	return out
}

// laneTimeUnit is a quarter of the standard error that a driver's sum of lane
// score times heat score has by chance, when he drives k heats.
func laneTimeUnit(k, lanes, heats int) int64 {
	v := float64(k) * float64(lanes*lanes-1) / 3 * float64(heats*heats-1) / 3
	return max(1, int64(math.Sqrt(v)/4))
}

func (f *Figures) evening(p Problem, heats int, at [][]stint) {
	score := laneScores(p)
	lanes := len(p.usable())
	first, low, high := true, 0.0, 0.0
	for _, s := range at {
		if len(s) == 0 {
			continue
		}
		var sum, lt int64
		by := make([]int64, p.Lanes)
		for _, t := range s {
			c := int64(2*t.heat + 1 - heats)
			sum += c
			lt += c * score[t.lane]
			by[t.lane] += c
		}
		f.MeanSq += sum * sum
		mean := float64(sum)/float64(2*len(s)) + float64(heats+1)/2
		if first || mean < low {
			low = mean
		}
		if first || mean > high {
			high = mean
		}
		first = false
		unit := laneTimeUnit(len(s), lanes, heats)
		lt = max(lt, -lt)
		f.LaneTime = max(f.LaneTime, float64(lt)/float64(4*unit))
		f.LaneTimeSq += (lt / unit) * (lt / unit)
		for _, b := range by {
			f.StintSq += b * b
		}
	}
	f.MeanSpread = high - low
}

func (f *Figures) moves(n int, lanes []int, heats [][]int, at [][]stint) {
	var moved [LanesMax][LanesMax]int
	for _, s := range at {
		for i := 1; i < len(s); i++ {
			moved[s[i-1].lane][s[i].lane]++
		}
	}
	f.MoveLeast = math.MaxInt
	total := 0
	for _, a := range lanes {
		for _, b := range lanes {
			v := moved[a-1][b-1]
			total += v
			if a == b {
				f.MoveSame += v
				continue
			}
			f.MoveSq += int64(v * v)
			f.MoveLeast, f.MoveMost = min(f.MoveLeast, v), max(f.MoveMost, v)
		}
	}
	if len(lanes) < 2 {
		f.MoveLeast = 0
	} else {
		f.MoveSq += int64(f.MoveSame) * sameWeight(total, len(lanes)*(len(lanes)-1))
	}
	take := make([]int, n*n)
	for h := 1; h < len(heats); h++ {
		for l, y := range heats[h] {
			if x := heats[h-1][l]; x > 0 && y > 0 {
				take[(x-1)*n+y-1]++
			}
		}
	}
	for i, v := range take {
		if i/n == i%n {
			f.TakeSame += v
		} else {
			f.TakeSq += int64(v * v)
			f.TakeMost = max(f.TakeMost, v)
		}
	}
	if n > 1 {
		f.TakeSq += int64(f.TakeSame) * sameWeight(len(lanes)*(len(heats)-1), n*(n-1))
	}
}

// sameWeight is what staying on a lane costs in MoveSq and TakeSq. Spread
// evenly, the last of total things in a cell of cells costs less than this, so
// that staying never lowers the sum under the even split.
func sameWeight(total, cells int) int64 { return int64(2 * ceilDiv(total, cells)) }

func (f *Figures) duties(n int, heats, duty [][]int, at [][]stint) {
	if len(duty) == 0 {
		return
	}
	count := make([]int, n)
	for h, row := range duty {
		for _, x := range row {
			if x == 0 {
				f.Unstaffed++
				continue
			}
			count[x-1]++
			if h+1 < len(heats) && drives(heats[h+1], x) {
				f.BeforeOwn++
			}
		}
	}
	f.DutyLeast = math.MaxInt
	for d := range n {
		if len(at[d]) > 0 {
			f.DutyLeast, f.DutyMost = min(f.DutyLeast, count[d]), max(f.DutyMost, count[d])
		}
	}
	if f.DutyLeast == math.MaxInt {
		f.DutyLeast = 0
	}
}

func drives(row []int, x int) bool {
	for _, y := range row {
		if y == x {
			return true
		}
	}
	return false
}

func (f *Figures) costs(p Problem, at [][]stint) {
	if p.Costs == nil {
		return
	}
	first, low, high := true, 0.0, 0.0
	for _, s := range at {
		if len(s) == 0 {
			continue
		}
		sum := 0.0
		for _, t := range s {
			sum += p.Costs[t.lane]
		}
		if first || sum < low {
			low = sum
		}
		if first || sum > high {
			high = sum
		}
		first = false
	}
	f.CostSpread = high - low
}

// broken counts seats and pairs of seats that break a wish.
func broken(p Problem, heats [][]int) int {
	bad := 0
	here := presence(p, len(heats))
	barred := map[Bar]bool{}
	for _, b := range p.Wishes.Bar {
		barred[b] = true
	}
	for h, row := range heats {
		for l, x := range row {
			if x == 0 {
				continue
			}
			if h < here[x-1].from || h >= here[x-1].until {
				bad++
			}
			if barred[Bar{x, l + 1}] {
				bad++
			}
		}
		for _, s := range p.Wishes.Share {
			a, b := drives(row, s.A), drives(row, s.B)
			if a && b {
				bad++
			}
			if s.Between && h+1 < len(heats) {
				if a && drives(heats[h+1], s.B) {
					bad++
				}
				if b && drives(heats[h+1], s.A) {
					bad++
				}
			}
		}
	}
	if len(heats) > 0 {
		for l, x := range p.Wishes.First {
			if x != 0 && heats[0][l] != x {
				bad++
			}
		}
	}
	return bad
}
