package race

import "time"

// What race/control needs to know to decide what happens next. Nothing here changes the night.

// Speed is how many seconds of the counter pass in a second of this computer: 1 in real life.
func (n *Night) Speed() float64 {
	if n.speed == 0 {
		return 1
	}
	return n.speed
}

// AtLine returns the number and the attempt (from 1) of the heat at the line, 0 if none.
func (n *Night) AtLine() (heatNo, attempt int) {
	if n.at == nil {
		return 0, 0
	}
	return n.at.number, len(n.at.void) + 1
}

// LastRun returns the heat that rulings are about when none is named: the one at the line if it has been started, else the last one run.
func (n *Night) LastRun() int {
	if n.at != nil && n.at.run != nil {
		return n.at.number
	}
	last := 0
	for _, h := range n.heats {
		if h.state == ran {
			last = h.number
		}
	}
	return last
}

// Going returns the source, segment and counter time of go of the heat being driven, or finished and not yet accepted.
func (n *Night) Going() (source string, segment int, at time.Duration, ok bool) {
	r := n.live
	if r == nil || !r.went {
		return "", 0, 0, false
	}
	return r.source, int(r.bases[0].segment), r.bases[0].offset, true
}

// Knows tells whether a clock segment is related to the heat being driven.
func (n *Night) Knows(segment int) bool {
	if n.live == nil || !n.live.went {
		return false
	}
	_, ok := n.live.heatTime(segment, 0)
	return ok
}

// CounterTime turns a driven time of the heat into counter time of its newest clock segment.
func (n *Night) CounterTime(driven time.Duration) (segment int, at time.Duration, ok bool) {
	r := n.live
	if r == nil || !r.went {
		return 0, 0, false
	}
	ht := driven
	for _, h := range r.holds {
		if ht > h.from && h.to >= 0 {
			ht += h.to - h.from
		}
	}
	b := r.bases[len(r.bases)-1]
	return int(b.segment), b.offset + ht, true
}

// EndDriven returns the driven time at which the heat is over: its length, or the winner's last pass once he is home.
func (n *Night) EndDriven() (time.Duration, bool) {
	r := n.live
	if r == nil {
		return 0, false
	}
	if r.card.Kind == "timed" {
		return r.card.Length, true
	}
	if r.ended {
		return r.driven(r.end), true
	}
	return 0, false
}

// Home returns the first seat that has driven all laps of a lap heat, with the driven time of its last pass.
func (n *Night) Home() (seatNo int, at time.Duration, ok bool) {
	r := n.live
	if r == nil || r.card.Kind != "laps" {
		return 0, 0, false
	}
	for i := range r.seats {
		s := &r.seats[i]
		if s.driver != 0 && s.t.done && (!ok || s.t.lastPass < at) {
			seatNo, at, ok = i+1, s.t.lastPass, true
		}
	}
	return seatNo, at, ok
}

// Out returns the seats that still drive after the end of the heat: with a driver, on the way, not home.
func (n *Night) Out() []int {
	var out []int
	r := n.live
	if r == nil {
		return nil
	}
	for i := range r.seats {
		s := &r.seats[i]
		if s.driver != 0 && !s.t.done && (s.t.started || r.card.Grid == "past") && !s.dropped {
			out = append(out, i+1)
		}
	}
	return out
}

// Newest returns the driven time of the last counted pass of the heat being driven.
func (n *Night) Newest() time.Duration {
	var d time.Duration
	if n.live != nil {
		for i := range n.live.seats {
			d = max(d, n.live.seats[i].t.lastPass)
		}
	}
	return d
}

// Jumped returns the seats with a driver that passed before go in the heat being driven.
func (n *Night) Jumped() []int {
	var out []int
	if n.live == nil {
		return nil
	}
	for i := range n.live.seats {
		s := &n.live.seats[i]
		if s.driver == 0 {
			continue
		}
		for j := range s.passes {
			if s.passes[j].verdict == BeforeGo || !n.live.went {
				out = append(out, i+1)
				break
			}
		}
	}
	return out
}

// JumpDealtWith tells whether the card has been applied to a jump start of a seat in the heat being driven: asked about or ruled on, even if that
// was taken back.
func (n *Night) JumpDealtWith(seatNo int) bool {
	for _, q := range n.questions {
		if q.run == n.live && q.Seat == seatNo && q.What == JumpStart {
			return true
		}
	}
	for _, r := range n.rulings {
		if r.run == n.live && r.seat == seatNo && r.why == JumpStart {
			return true
		}
	}
	return false
}

// JumpStart is the kind of question, and the reason of a ruling, about a jump start.
const JumpStart = "jump start"

// SeatOf returns the seat that a pass is about, 0 if none: its lane, or its car on digital nights.
func (n *Night) SeatOf(p Pass) int {
	seatNo := p.Lane
	if n.info.Digital {
		seatNo = p.Car
	}
	if p.Sensor > 1 || seatNo < 1 || seatNo > n.Seats() || n.info.Counter != "" && p.Source != n.info.Counter {
		return 0
	}
	return seatNo
}

// DriverIn returns who drives a seat in a heat, 0 if nobody.
func (n *Night) DriverIn(heatNo, seatNo int) int {
	h, err := n.heatNo(heatNo)
	if err != nil || seatNo < 1 || seatNo > len(h.plan.Drivers) {
		return 0
	}
	return h.plan.Drivers[seatNo-1]
}

// Marked is a pass as the judge sees it.
type Marked struct {
	Pass    uint64        // journal number
	At      time.Duration // driven time
	Verdict Verdict
	Timed   bool // the interval to the kept pass before can be trusted
	Held    bool // a track call lies in that interval
}

// Marks returns the passes of a seat of the heat being driven from the index-th on, in order of time.
func (n *Night) Marks(seatNo, index int) []Marked {
	if n.live == nil || !n.live.went || seatNo < 1 || seatNo > len(n.live.seats) {
		return nil
	}
	r := n.live
	s := &r.seats[seatNo-1]
	if index > len(s.passes) {
		return nil
	}
	out := make([]Marked, 0, len(s.passes)-index)
	for i := index; i < len(s.passes); i++ {
		p := &s.passes[i]
		m := Marked{Pass: p.seq, At: r.driven(p.ht), Verdict: p.verdict, Timed: true}
		if i > 0 {
			q := &s.passes[i-1]
			m.Timed = q.segment == p.segment
			m.Held = r.heldBetween(q.ht, p.ht)
		}
		out = append(out, m)
	}
	return out
}

// PassCount returns how many passes of a seat the heat being driven has.
func (n *Night) PassCount(seatNo int) int {
	if n.live == nil || seatNo < 1 || seatNo > len(n.live.seats) {
		return 0
	}
	return len(n.live.seats[seatNo-1].passes)
}

// LastPassOn returns the journal number of the newest pass of a seat in a heat that has not been struck out or moved, 0 if none.
func (n *Night) LastPassOn(heatNo, seatNo int) uint64 {
	_, s, err := n.onRun(heatNo, seatNo)
	if err != nil {
		return 0
	}
	for i := len(s.passes) - 1; i >= 0; i-- {
		if v := s.passes[i].verdict; v == Counted || v == StartsLap {
			return s.passes[i].seq
		}
	}
	return 0
}

// Driver is a driver as the draw sees him.
type Driver struct {
	Number        int
	Name, Short   string
	Class, Group  string
	CarName       string
	Register      string // id in the club's register, "" for a guest
	Car           int    // number on a digital night, 0 none
	Share         int    // driver with whom he shares a car
	Comes, Leaves int
	Away          bool
}

func (d driver) shown(number int) Driver {
	return Driver{Number: number, Name: d.name, Short: d.short, Class: d.class, Group: d.group, CarName: d.car, Register: d.register, Car: d.carNo,
		Share: d.share, Comes: d.comes, Leaves: d.leaves, Away: d.away}
}

// Drivers returns the entered drivers in order of their numbers.
func (n *Night) Drivers() []Driver {
	var out []Driver
	for i, d := range n.drivers {
		if !d.gone {
			out = append(out, d.shown(i+1))
		}
	}
	return out
}

// Planned returns how many drivers had been signed on, and which lanes were closed, when the first draw was made.
func (n *Night) Planned() (drivers int, closed []int) { return n.planned.drivers, n.planned.closed }

// EveryDriver returns all drivers ever signed on, position by number; those whose entry was taken back count as away.
func (n *Night) EveryDriver() []Driver {
	out := make([]Driver, len(n.drivers))
	for i, d := range n.drivers {
		out[i] = d.shown(i + 1)
		out[i].Away = d.away || d.gone
	}
	return out
}

// NextDriver is the number for the next driver.
func (n *Night) NextDriver() int { return len(n.drivers) + 1 }

// ClosedLanes returns the lanes out of use.
func (n *Night) ClosedLanes() []int {
	var out []int
	for i, l := range n.lanes {
		if l.closed {
			out = append(out, i+1)
		}
	}
	return out
}

// LanesMask returns the lanes in use, bit 0 being lane 1.
func (n *Night) LanesMask() uint32 {
	var m uint32
	for i, l := range n.lanes {
		if !l.closed {
			m |= 1 << i
		}
	}
	return m
}

// HeatsRun returns the drivers by seat of the heats that have been run and accepted, mains left out, in order.
func (n *Night) HeatsRun() [][]int {
	var out [][]int
	for _, h := range n.heats {
		if h.state == ran && h.plan.Main == "" {
			row := make([]int, n.Seats())
			copy(row, h.plan.Drivers)
			out = append(out, row)
		}
	}
	return out
}

// HasDraw tells whether a draw has been made.
func (n *Night) HasDraw() bool { return n.draw.Kind != "" }

// DrawStale tells whether entries or lanes have changed since the draw.
func (n *Night) DrawStale() bool { return n.draw.Stale }

// PartOf works out a part lap in parts of the card's resolution for a lane of a heat: from millimetres (den 0), a fraction num/den,
// or the number of a call at whose start the car is taken to stand.
func (n *Night) PartOf(heatNo, seatNo, num, den, call int) (part int, from string, err error) {
	return n.partOf(heatNo, seatNo, num, den, call)
}

// HeatTime turns a time since go, track calls left in, into counter time of the newest clock segment.
func (n *Night) HeatTime(ht time.Duration) (segment int, at time.Duration, ok bool) {
	r := n.live
	if r == nil || !r.went {
		return 0, 0, false
	}
	b := r.bases[len(r.bases)-1]
	return int(b.segment), b.offset + ht, true
}

// Latest returns the newest counter time that is known of the heat being driven: of a pass, a track call, or go.
func (n *Night) Latest() (segment int, at time.Duration, ok bool) {
	r := n.live
	if r == nil || !r.went {
		return 0, 0, false
	}
	var ht time.Duration
	for i := range r.seats {
		if t := &r.seats[i].t; t.any {
			ht = max(ht, t.top)
		}
	}
	for _, h := range r.holds {
		ht = max(ht, h.from, h.to)
	}
	b := r.bases[len(r.bases)-1]
	return int(b.segment), b.offset + ht, true
}

// WentAt returns the wall time of go of the heat being driven.
func (n *Night) WentAt() (time.Time, bool) {
	if n.live == nil || !n.live.went {
		return time.Time{}, false
	}
	return n.live.goWall.Time(), true
}

// Next returns what enter does now: a stable code and words, both empty if nothing.
func (n *Night) Next() (key, words string) { return n.next() }

// SameDraw returns the order for a draw like the last one, balanced with one round where there was none.
func (n *Night) SameDraw() MakeDraw {
	if n.draw.Kind == "" {
		return MakeDraw{Kind: "balanced", Rounds: 1, Seed: n.info.Seed}
	}
	return MakeDraw{Kind: n.draw.Kind, Rounds: n.rounds, Seed: n.draw.Seed}
}

// HeatsAhead returns the heats of the draw that have not been run, in order.
func (n *Night) HeatsAhead() []PlannedHeat {
	var out []PlannedHeat
	for _, h := range n.heats {
		if h.state != ran {
			out = append(out, h.plan)
		}
	}
	return out
}

// AskedAbout tells whether a question about a pass has been asked in the heat being driven, settled or not; what "" is any question.
func (n *Night) AskedAbout(pass uint64, what string) bool {
	for _, q := range n.questions {
		if q.run == n.live && q.Pass == pass && (what == "" || q.What == what) {
			return true
		}
	}
	return false
}
