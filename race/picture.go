package race

import (
	"fmt"
	"slices"
	"time"
)

// cache keeps the parts of a snapshot that change seldom. Snapshots may share them: nobody changes a snapshot.
type cache struct {
	version   uint64
	ready     bool
	entries   []EntryRow
	heats     []HeatRow
	rulings   []RulingRow
	questions []Question
	standings []ResultRow
	last      []ResultRow
	lastHeat  *heat
	lines     []string
}

// recentMax is how many lap times a row shows.
const recentMax = 40

// Snapshot makes the picture of the night at a moment that may be shown: now is the host's time, in real life the wall clock.
// It shares nothing with the night that will ever change.
func (n *Night) Snapshot(now time.Time) *Snapshot {
	n.refresh()
	s := &Snapshot{
		Seq: n.seq, Taken: now, Night: n.info.Night, Title: n.info.Title, Club: n.info.Club, Layout: n.info.Layout.Name, Scale: n.info.Scale,
		Digital: n.info.Digital, Phase: n.phase, Card: n.card, Heats: len(n.heats),
		Entries: n.cache.entries, Ahead: n.cache.heats, Rulings: n.cache.rulings, Questions: n.cache.questions,
		Standings: n.cache.standings, Last: n.cache.last, Draw: n.draw,
		JustNow: slices.Clone(n.notes[max(0, len(n.notes)-notesMax):]), Counters: slices.Clone(n.counters),
	}
	s.Draw.Lines = n.cache.lines
	if len(s.Counters) > 0 {
		s.Counter = s.Counters[0]
	}
	_, s.Undo = n.UndoTop()
	_, s.Redo = n.RedoTop()
	s.NextKey, s.Next = n.next()
	if n.at != nil {
		s.Heat = n.at.number
	}
	s.Clock = n.clock(now)
	for i, l := range n.lanes {
		info := n.info.Layout.Lanes[i]
		ls := LaneState{Lane: i + 1, Name: info.Name, LengthMM: info.LengthMM, Closed: l.closed}
		if l.lit != 0 {
			ls.Lit = l.lit.Time()
		}
		s.Lanes = append(s.Lanes, ls)
	}
	rows := n.board()
	if n.info.Digital {
		for i, r := range rows {
			if r.Driver != 0 || r.Passes > 0 {
				s.Cars = append(s.Cars, CarRow{Car: i + 1, LaneRow: r, LengthFrom: n.info.ShortestMM, LengthTo: n.info.LongestMM})
			}
		}
	} else {
		s.Running = rows
	}
	s.Bests = n.bests()
	return s
}

// refresh works out anew what only events other than passes change.
func (n *Night) refresh() {
	if n.cache.ready && n.cache.version == n.version {
		return
	}
	c := cache{version: n.version, ready: true}
	c.entries = n.entryRows()
	for _, h := range n.heats {
		row := HeatRow{Heat: h.number, Group: h.plan.Group, State: n.heatWord(h), Drivers: make([]int, n.Seats()), Names: make([]string, n.Seats())}
		copy(row.Drivers, h.plan.Drivers)
		for i, d := range row.Drivers {
			row.Names[i] = n.DriverName(d)
		}
		for _, m := range h.plan.Marshals {
			row.Marshals = append(row.Marshals, n.DriverName(m))
		}
		c.heats = append(c.heats, row)
		if h.state == ran {
			c.lastHeat = h
		}
	}
	if n.phase == Finish {
		c.lastHeat = n.at
	}
	for _, r := range n.rulings {
		c.rulings = append(c.rulings, RulingRow{ID: r.id, Heat: r.heat, Lane: r.seat, Driver: n.seatDriver(r.run, r.seat), Text: r.text, By: r.by, Why: r.why,
			Undone: r.undone, Wall: r.wall.Time()})
	}
	for _, q := range n.questions {
		if q.open {
			c.questions = append(c.questions, Question{ID: q.ID, Heat: q.Heat, Lane: q.Seat, Driver: n.seatDriver(q.run, q.Seat), Kind: q.What, Text: q.Text,
				Proposal: n.proposalText(q), At: q.At})
		}
	}
	c.standings = n.Standings(Filter{})
	if c.lastHeat != nil {
		c.last = n.HeatResults(c.lastHeat.number)
	}
	c.lines = slices.Clone(n.draw.Lines)
	n.cache = c
}

func (n *Night) proposalText(q *question) string {
	where := fmt.Sprintf("%s %d", n.seatWord(), q.Seat)
	switch q.Proposal.Do {
	case "strike":
		return "strike the pass on " + where
	case "move":
		return fmt.Sprintf("move the pass from %s to %d", where, q.Proposal.To)
	case "give":
		return fmt.Sprintf("give %s %s", where, plural(q.Proposal.Laps, "lap"))
	case "penalise":
		return fmt.Sprintf("take %s from %s", plural(q.Proposal.Laps, "lap"), where)
	}
	return "do not count the stint on " + where
}

func (n *Night) seatDriver(r *run, seatNo int) string {
	if r == nil || seatNo < 1 || seatNo > len(r.seats) {
		return ""
	}
	return n.DriverName(r.seats[seatNo-1].driver)
}

func (n *Night) entryRows() []EntryRow {
	var out []EntryRow
	for i, d := range n.drivers {
		if d.gone {
			continue
		}
		row := EntryRow{Driver: i + 1, Name: d.name, Short: d.short, Class: d.class, Group: d.group, Car: d.car, CarShare: d.share, Away: d.away}
		if d.carNo > 0 {
			row.Car = fmt.Sprintf("%d", d.carNo)
		}
		for _, h := range n.heats {
			for _, in := range h.plan.Drivers {
				if in == i+1 {
					if h.state == ran {
						row.HeatsRun++
					} else {
						row.HeatsToo++
					}
				}
			}
		}
		out = append(out, row)
	}
	return out
}

// next says what enter does now.
func (n *Night) next() (key, words string) {
	switch n.phase {
	case SignOn:
		if n.entered() > 0 {
			return "draw", "make the draw"
		}
	case Idle:
		if n.draw.Stale && !n.MainsBegun() {
			return "draw", "make the draw anew: entries or lanes have changed"
		}
		if h := n.nextHeat(); h != nil {
			return "stage", fmt.Sprintf("call heat %d to the line", h.number)
		}
	case Staged:
		return "start", fmt.Sprintf("start heat %d", n.at.number)
	case TrackCall:
		return "resume", "resume"
	case Finishing:
		return "finish", fmt.Sprintf("end heat %d", n.at.number)
	case Finish:
		return "accept", fmt.Sprintf("accept heat %d", n.at.number)
	case Over:
		if n.draw.Stale && len(n.mains()) == 0 {
			return "draw", "make the draw anew: entries or lanes have changed"
		}
		return "close-night", "close the night"
	}
	return "", ""
}

func (n *Night) entered() int {
	k := 0
	for _, d := range n.drivers {
		if !d.gone && !d.away {
			k++
		}
	}
	return k
}

func (n *Night) nextHeat() *heat {
	for _, h := range n.heats {
		if h.state == ahead {
			return h
		}
	}
	return nil
}

// NextHeat returns the number of the next heat to be run, 0 if none.
func (n *Night) NextHeat() int {
	if h := n.nextHeat(); h != nil {
		return h.number
	}
	return 0
}

// clock tells the heat's time. Heat time runs from the wall time of go; holds are taken out as the counter timed them.
func (n *Night) clock(now time.Time) Clock {
	c := Clock{Speed: n.speed, AsOf: now}
	if n.card.Kind == "timed" {
		c.Length = n.card.Length
	} else {
		c.Laps = n.card.Laps
	}
	r := n.live
	if n.phase == Lamps || n.phase == Resuming {
		c.LampsOf = n.lamps
		c.Until = n.lampsFrom.Time().Add(time.Duration(float64(n.lampsFor) / n.speed))
		if gone := n.since(n.lampsFrom, now); n.lampsFor > 0 && n.lamps > 0 {
			c.Lamps = min(max(int(gone*time.Duration(n.lamps)/n.lampsFor), 0), n.lamps)
		}
	}
	if r == nil || !r.went {
		return c
	}
	ht := n.since(r.goWall, now)
	if r.over {
		ht = r.fin
	}
	c.Elapsed = max(r.driven(max(ht, 0)), 0)
	switch n.phase {
	case Green:
		c.Ticking = true
	case Finishing, Finish:
		c.Elapsed = r.driven(r.end)
		if !r.ended {
			c.Elapsed = r.driven(r.fin)
		}
	}
	if c.Length > 0 {
		c.Elapsed = min(c.Elapsed, c.Length)
	}
	return c
}

// since is the racing time from a wall time to now.
func (n *Night) since(from Wall, now time.Time) time.Duration {
	return time.Duration(float64(now.Sub(from.Time())) * n.speed)
}

// board is the running order of the heat at the line, one row a seat.
func (n *Night) board() []LaneRow {
	rows := make([]LaneRow, n.Seats())
	var plan []int
	var r *run
	if n.at != nil {
		plan, r = n.at.plan.Drivers, n.at.run
	} else if n.cache.lastHeat != nil && n.phase != Practice && n.phase != SignOn {
		plan = nil
	}
	for i := range rows {
		row := &rows[i]
		row.Lane, row.PartOf, row.Part, row.Timed, row.Digits = i+1, n.card.PartOf, -1, true, 3
		if i < len(plan) {
			row.Driver = plan[i]
		}
		if row.Driver > 0 {
			d := n.drivers[row.Driver-1]
			row.Name, row.Short, row.Car = d.name, d.short, d.car
		}
		if !n.info.Digital {
			row.Closed = n.lanes[i].closed
			if n.lanes[i].lit != 0 {
				row.LastPass = n.lanes[i].lit.Time()
			}
		}
		if n.phase == Practice {
			p := n.practice[i]
			row.Laps, row.Last, row.Best = p.laps, p.lastLap, p.best
			row.KmhScale = n.kmh(i, p.lastLap)
			continue
		}
		if r != nil {
			n.fill(row, r, i)
		}
	}
	if r != nil && r.went {
		n.placeRows(rows, r)
	}
	return rows
}

func (n *Night) fill(row *LaneRow, r *run, i int) {
	s := &r.seats[i]
	row.Laps = s.net() - s.penalty
	row.Part = s.part
	row.Passes = len(s.passes) + len(s.in)
	row.Best = s.t.best
	row.Done = s.t.done || r.over
	laps := s.t.laps
	for k := len(laps); k > 0 && len(row.Recent) < recentMax; k-- {
		if laps[k-1].timed {
			row.Recent = append(row.Recent, laps[k-1].time)
		}
	}
	slices.Reverse(row.Recent)
	if len(laps) > 0 {
		last := laps[len(laps)-1]
		row.Last, row.Timed = last.time, last.timed
		if last.arrival {
			row.Digits = 2
		}
		row.KmhScale = n.kmh(i, last.time)
	}
	row.Median = s.medianLap()
	for _, q := range n.questions {
		if q.open && q.run == r && q.Seat == i+1 {
			row.Open++
		}
	}
}

// medianLap is the median of the timed laps, the mean of the middle two where there is an even number; 0 of none.
func (s *seat) medianLap() time.Duration {
	if s.medianOf == len(s.t.laps) {
		return s.median
	}
	d := make([]time.Duration, 0, len(s.t.laps))
	for i := range s.t.laps {
		if s.t.laps[i].timed {
			d = append(d, s.t.laps[i].time)
		}
	}
	slices.Sort(d)
	s.medianOf, s.median = len(s.t.laps), 0
	switch k := len(d); {
	case k == 0:
	case k%2 == 1:
		s.median = d[k/2]
	default:
		s.median = d[k/2-1] + (d[k/2]-d[k/2-1])/2
	}
	return s.median
}

// kmh is the scale speed of a lap: real speed times the denominator of the scale. Digital laps take the shortest way round, the
// speed that is certain to have been driven.
func (n *Night) kmh(seat int, lap time.Duration) float64 {
	if lap <= 0 || n.info.Scale == 0 {
		return 0
	}
	mm := n.info.ShortestMM
	if !n.info.Digital {
		mm = n.info.Layout.Lanes[seat].LengthMM
	}
	return mm / 1000 / lap.Seconds() * 3.6 * float64(n.info.Scale)
}

// placeRows puts places and gaps on the board.
func (n *Night) placeRows(rows []LaneRow, r *run) {
	results := n.HeatResults(n.at.number)
	leader := -1
	for _, res := range results {
		for i := range rows {
			if rows[i].Driver == res.Driver && res.Driver != 0 {
				rows[i].Place, rows[i].Shared = res.Place, res.Shared
				if leader < 0 && res.Place == 1 {
					leader = i
				}
			}
		}
	}
	if leader < 0 {
		return
	}
	lead := &r.seats[leader]
	for i := range rows {
		s := &r.seats[i]
		if rows[i].Driver == 0 || i == leader {
			continue
		}
		rows[i].Behind = max(rows[leader].Laps-rows[i].Laps, 0)
		k := len(s.t.laps)
		if k > 0 && k <= len(lead.t.laps) && s.given == 0 && lead.given == 0 && s.penalty == 0 && lead.penalty == 0 {
			rows[i].Gap, rows[i].GapKnown = s.t.laps[k-1].at-lead.t.laps[k-1].at, true
		}
	}
}

// bests are the best laps of practice (by lane, driver unknown) and of the night's heats (by driver and lane), quickest first.
func (n *Night) bests() []BestRow {
	var out []BestRow
	for i, p := range n.practice {
		if p.best > 0 {
			out = append(out, BestRow{Lane: i + 1, Name: fmt.Sprintf("%s %d", n.seatWord(), i+1), Best: p.best, Laps: p.laps, Kmh: n.kmh(i, p.best)})
		}
	}
	for _, h := range n.heats {
		if h.run == nil {
			continue
		}
		for i := range h.run.seats {
			s := &h.run.seats[i]
			if s.driver == 0 || s.t.best == 0 || s.dropped {
				continue
			}
			out = append(out, BestRow{Driver: s.driver, Name: n.DriverName(s.driver), Lane: i + 1, Best: s.t.best, Laps: len(s.t.laps), Kmh: n.kmh(i, s.t.best)})
		}
	}
	slices.SortStableFunc(out, func(a, b BestRow) int {
		switch {
		case a.Best < b.Best:
			return -1
		case a.Best > b.Best:
			return 1
		}
		return 0
	})
	return out
}

// Driven returns the driven time of the heat at a counter time; ok is false when no heat is being driven or the segment is not of its clock.
func (n *Night) Driven(segment int, at time.Duration) (d time.Duration, ok bool) {
	if n.live == nil || !n.live.went {
		return 0, false
	}
	ht, ok := n.live.heatTime(segment, at)
	if !ok {
		return 0, false
	}
	return n.live.driven(ht), true
}
