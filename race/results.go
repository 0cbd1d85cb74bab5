package race

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"lanewright/race/score"
)

// resolution is the number of parts of a lap that results are counted in.
func (c Card) resolution() int { return max(c.PartOf, 1) }

// chain is how drivers are told apart: laps with part laps, then what the card names.
func (c Card) chain() []score.Tie {
	chain := []score.Tie{score.ByTotal}
	for _, t := range c.Ties {
		switch t {
		case "part":
			chain = append(chain, score.ByPart)
		case "last-pass":
			chain = append(chain, score.ByLastPass)
		case "best-heat":
			chain = append(chain, score.ByBestStint)
		case "best-lap":
			chain = append(chain, score.ByBestLap)
		case "second-lap":
			chain = append(chain, score.BySecondLap)
		case "lot":
			chain = append(chain, score.ByLot)
		}
	}
	return chain
}

// Rule is the part of the card by which drivers are placed, with the seed for lots.
func (c Card) Rule(seed uint64) score.Rule {
	style, err := score.ParsePlaceStyle(c.PlaceStyle)
	if err != nil {
		style = score.Standard
	}
	return score.Rule{Resolution: c.resolution(), Chain: c.chain(), Lot: &seed, Style: style}
}

func (c Card) sharing() score.Sharing {
	if c.PointsShared == "average" {
		return score.Average
	}
	return score.Equal
}

func (c Card) heatKind() score.HeatKind {
	if c.Kind == "laps" {
		return score.LapRace
	}
	return score.Timed
}

// stint is a seat as the scorer wants it.
func (n *Night) stint(h *heat, r *run, seatNo int) score.Stint {
	s := &r.seats[seatNo-1]
	st := score.Stint{Heat: h.number, Lane: seatNo, Laps: s.net(), LastPass: s.t.lastPass}
	res := score.Parts(r.card.resolution())
	st.Cost = score.Parts(s.penalty)*res + (score.Parts(s.hundredths)*res+99)/100
	if s.part > 0 {
		st.Part = s.part
	}
	if len(s.t.laps) == 0 {
		st.LastPass = 0
	}
	st.BestLaps = s.quickest()
	if s.dropped {
		st.Status = score.Void
	}
	return st
}

// quickest returns the two quickest laps, quickest first: no tie step of a card looks further.
func (s *seat) quickest() []time.Duration {
	var first, second time.Duration
	for i := range s.t.laps {
		l := &s.t.laps[i]
		switch {
		case !l.clean:
		case first == 0 || l.time < first:
			first, second = l.time, first
		case second == 0 || l.time < second:
			second = l.time
		}
	}
	switch {
	case first == 0:
		return nil
	case second == 0:
		return []time.Duration{first}
	}
	return []time.Duration{first, second}
}

// driverKey names a driver for the scorer so that level drivers stand in the order of their numbers.
func driverKey(d int) string { return fmt.Sprintf("%06d", d) }

func driverOf(key string) int {
	d, _ := strconv.Atoi(key)
	return d
}

// HeatResults returns the result of a heat's present attempt, best first; nil while it has not been started.
func (n *Night) HeatResults(heatNo int) []ResultRow {
	h, err := n.heatNo(heatNo)
	if err != nil || h.run == nil {
		return nil
	}
	var entries []score.Entry
	for i := range h.run.seats {
		d := h.run.seats[i].driver
		if d == 0 {
			continue
		}
		st := n.stint(h, h.run, i+1)
		status := score.Finished
		if st.Status == score.Void {
			status = score.DidNotStart // listed below the others, without a place
		}
		entries = append(entries, score.Entry{Driver: driverKey(d), Stints: []score.Stint{st}, Status: status})
	}
	rows, _ := n.rows(entries, h.run.card, uint64(heatNo))
	return rows
}

// Filter narrows standings down; the zero value takes everybody.
type Filter struct {
	Class, Group string
}

// Standings adds up the accepted heats, best first. Drivers who have not driven are listed last with nothing.
func (n *Night) Standings(f Filter) []ResultRow {
	var entries []score.Entry
	index := make([]int, len(n.drivers))
	for i, d := range n.drivers {
		index[i] = -1
		if d.gone || f.Class != "" && d.class != f.Class || f.Group != "" && d.group != f.Group {
			continue
		}
		index[i] = len(entries)
		entries = append(entries, score.Entry{Driver: driverKey(i + 1)})
	}
	card := n.card
	for _, h := range n.heats {
		if h.state != ran || h.run == nil || h.plan.Main != "" {
			continue
		}
		card = h.run.card
		for i := range h.run.seats {
			d := h.run.seats[i].driver
			if d == 0 || index[d-1] < 0 {
				continue
			}
			e := &entries[index[d-1]]
			e.Stints = append(e.Stints, n.stint(h, h.run, i+1))
		}
	}
	for i := range entries {
		if len(entries[i].Stints) == 0 {
			entries[i].Status = score.DidNotStart
		}
	}
	rows, sizes := n.rows(entries, card, 0)
	if f == (Filter{}) {
		rows, sizes = n.byMains(rows, sizes)
	}
	n.award(rows, sizes, card)
	return rows
}

// rows ranks entries; sizes says how many placed rows are level with each other, best first. lot
// makes the draw by lot of each heat a new one.
func (n *Night) rows(entries []score.Entry, card Card, lot uint64) (rows []ResultRow, sizes []int) {
	ranked, err := score.Rank(entries, card.Rule(n.info.Seed+lot))
	if err != nil {
		// The fold keeps all values within what the scorer takes; say so loudly rather than show nothing.
		return []ResultRow{{Reason: "results cannot be worked out: " + err.Error()}}, nil
	}
	res := card.resolution()
	out := make([]ResultRow, 0, len(ranked))
	for i, r := range ranked {
		d := driverOf(r.Driver)
		row := ResultRow{Place: r.Place.Whole(), Shared: r.Shared, Driver: d, Name: n.drivers[d-1].name, Class: n.drivers[d-1].class,
			PartOf: card.PartOf, Best: r.BestLap, Last: r.LastPass}
		row.ByLane = make([]int, n.Seats())
		for l := range row.ByLane {
			row.ByLane[l] = -1
		}
		for _, s := range r.Stints {
			row.Heats++
			row.Penalty += int(s.Cost) / res
			if s.Status != score.Finished {
				continue
			}
			row.ByLane[s.Lane-1] = max(row.ByLane[s.Lane-1], 0) + s.Laps
		}
		row.Laps, row.Part = split(int64(r.Total), int64(res))
		switch {
		case r.Status != score.Finished:
			row.Reason = "not driven"
			if len(r.Stints) > 0 {
				row.Reason = "not counted"
			}
		case r.Shared:
			row.Reason = "level"
		case r.Decided != nil && *r.Decided != score.ByTotal:
			row.Reason = r.Decided.String()
		}
		if i > 0 && r.Status == score.Finished {
			row.Gap = score.GapBetween(card.heatKind(), ranked[0], r).Format(res)
		}
		out = append(out, row)
	}
	return out, score.GroupSizes(ranked)
}

// split cuts a distance into whole laps and parts; a negative one keeps its parts positive.
func split(total, res int64) (laps, part int) {
	l, p := total/res, total%res
	if p < 0 {
		l, p = l-1, p+res
	}
	return int(l), int(p)
}

// award gives points by place.
func (n *Night) award(rows []ResultRow, sizes []int, card Card) {
	if len(card.Points) == 0 {
		return
	}
	table := make(score.Table, len(card.Points))
	for i, p := range card.Points {
		table[i] = int64(p)
	}
	for i, p := range table.Award(sizes, card.sharing()) {
		if i < len(rows) {
			rows[i].Points = p.String()
		}
	}
}

// LapRow unfolds a result to what it came from: one pass, what became of it and why.
type LapRow struct {
	Pass    uint64 // journal number
	Serial  uint64
	Segment int
	Counter time.Duration // counter time
	At      time.Duration // driven time of the heat
	Verdict Verdict
	Lap     int           // number of the lap it completed, 0 if none
	Time    time.Duration // of that lap, 0 if not timed
	Best    bool
	Clean   bool
	Moved   bool // was moved here from another lane
}

// Laps returns every pass of a seat in a heat's present attempt, in order of time.
func (n *Night) Laps(heatNo, seatNo int) []LapRow {
	r, s, err := n.onRun(heatNo, seatNo)
	if err != nil {
		return nil
	}
	byPass := make(map[uint64]int, len(s.t.laps))
	for i := range s.t.laps {
		byPass[s.t.laps[i].pass] = i
	}
	rows := make([]LapRow, 0, len(s.passes)+len(s.in))
	add := func(p *heard, moved bool) {
		row := LapRow{Pass: p.seq, Serial: p.serial, Segment: int(p.segment), Counter: p.at, Verdict: p.verdict, Moved: moved}
		if r.went && p.verdict != NoClock {
			row.At = r.driven(p.ht)
		}
		if i, ok := byPass[p.seq]; ok && p.verdict == Counted {
			l := s.t.laps[i]
			row.Lap, row.Time, row.Clean = i+1, l.time, l.clean
			row.Best = l.clean && l.time == s.t.best
		}
		rows = append(rows, row)
	}
	for i := range s.passes {
		add(&s.passes[i], false)
	}
	for i := range s.in {
		add(&s.in[i], true)
	}
	slices.SortStableFunc(rows, func(a, b LapRow) int {
		switch {
		case a.At != b.At && a.At < b.At:
			return -1
		case a.At != b.At:
			return 1
		case a.Pass < b.Pass:
			return -1
		}
		return 1
	})
	return rows
}

// Report is a whole night's results without anything that depends on when or where it was raced: no wall times, no counter times.
type Report struct {
	Club, Title, Layout string
	Scale               int
	Digital             bool `json:",omitempty"`
	Arrival             bool `json:",omitempty"` // laps come from times of receipt and deserve hundredths at most
	Card                Card
	Heats               []HeatReport
	Standings           []ResultRow
	Classes             []ClassReport `json:",omitempty"`
	Rulings             []string      `json:",omitempty"`
}

// HeatReport is one heat of a [Report].
type HeatReport struct {
	Heat    int
	Group   string `json:",omitempty"`
	State   string
	Results []ResultRow `json:",omitempty"`
}

// ClassReport is the standings of one class.
type ClassReport struct {
	Class     string
	Standings []ResultRow
}

// Report works out the results of the night so far.
func (n *Night) Report() Report {
	rep := Report{Club: n.info.Club, Title: n.info.Title, Layout: n.info.Layout.Name, Scale: n.info.Scale, Digital: n.info.Digital, Card: n.card}
	for _, h := range n.heats {
		rep.Arrival = rep.Arrival || h.run.arrival()
		rep.Heats = append(rep.Heats, HeatReport{Heat: h.number, Group: h.plan.Group, State: n.heatWord(h), Results: n.HeatResults(h.number)})
	}
	rep.Standings = n.Standings(Filter{})
	if classes := n.classes(); len(classes) > 1 {
		for _, c := range classes {
			rep.Classes = append(rep.Classes, ClassReport{c, n.Standings(Filter{Class: c})})
		}
	}
	for _, r := range n.rulings {
		if !r.undone {
			line := fmt.Sprintf("heat %d: %s%s", r.heat, r.text, because(r.why))
			rep.Rulings = append(rep.Rulings, strings.TrimSpace(line))
		}
	}
	return rep
}

// arrival tells whether any lap of the run was taken from times of receipt.
func (r *run) arrival() bool {
	if r == nil {
		return false
	}
	for i := range r.seats {
		if slices.ContainsFunc(r.seats[i].t.laps, func(l lap) bool { return l.arrival }) {
			return true
		}
	}
	return false
}

func (n *Night) classes() []string {
	var out []string
	for _, d := range n.drivers {
		if !d.gone && d.class != "" && !slices.Contains(out, d.class) {
			out = append(out, d.class)
		}
	}
	slices.Sort(out)
	return out
}

func (n *Night) heatWord(h *heat) string {
	switch h.state {
	case atLine:
		return "at the line"
	case ran:
		return "run"
	}
	return "ahead"
}
