package race

import "time"

func (n *Night) heatNo(number int) (*heat, error) {
	for _, h := range n.heats {
		if h.number == number {
			return h, nil
		}
	}
	return nil, unknown("there is no heat %d", number)
}

func (n *Night) stage(e HeatStaged) (func() error, error) {
	if n.phase != Idle {
		return nil, outOfTurn("heat %d cannot be called to the line now (%s)", e.Heat, n.phase)
	}
	h, err := n.heatNo(e.Heat)
	if err != nil {
		return nil, err
	}
	if h.state != ahead {
		return nil, outOfTurn("heat %d has been run", e.Heat)
	}
	h.state = atLine
	n.at = h
	n.phase = Staged
	return func() error {
		if n.phase != Staged || n.at != h {
			return outOfTurn("heat %d has been started", h.number)
		}
		h.state, n.at, n.phase = ahead, nil, Idle
		return nil
	}, nil
}

func (n *Night) startLamps(e LampsStarted) error {
	if n.phase != Staged {
		return outOfTurn("no heat is at the line (%s)", n.phase)
	}
	r := &run{card: n.card, lampsAt: e.Wall}
	r.seats = make([]seat, n.Seats())
	for i := range r.seats {
		r.seats[i].part = -1
		if i < len(n.at.plan.Drivers) {
			r.seats[i].driver = n.at.plan.Drivers[i]
		}
	}
	n.at.run, n.live = r, r
	n.lamps, n.lampsFrom, n.lampsFor = e.Lamps, e.Wall, e.Countdown
	n.phase = Lamps
	n.settle()
	return nil
}

func (n *Night) breakStart(seq uint64, e StartBroken) error {
	if n.phase != Lamps {
		return outOfTurn("no start is running (%s)", n.phase)
	}
	n.dropQuestions(n.at.run)
	n.at.run, n.live = nil, nil
	n.phase = Staged
	n.say(seq, e.Wall, n.Describe(e), true)
	return nil
}

func (n *Night) goes(e Went) error {
	if n.phase != Lamps {
		return outOfTurn("go came in phase %s", n.phase)
	}
	r := n.live
	r.went, r.source, r.acked, r.goWall = true, e.Source, e.Acked, e.Wall
	r.bases = []base{{int32(e.Segment), e.At}}
	n.phase = Green
	r.relate()
	n.settle()
	return nil
}

// mark gives the heat time of a counter time in an event.
func (n *Night) mark(segment int, at time.Duration) (time.Duration, error) {
	if n.live == nil || !n.live.went {
		return 0, outOfTurn("no heat is being driven (%s)", n.phase)
	}
	ht, ok := n.live.heatTime(segment, at)
	if !ok {
		return 0, against("clock segment %d has nothing to do with this heat", segment)
	}
	return ht, nil
}

func (n *Night) hold(seq uint64, e Held) error {
	if n.phase != Green && n.phase != Finishing && n.phase != Resuming {
		return outOfTurn("there is nothing to stop (%s)", n.phase)
	}
	ht, err := n.mark(e.Segment, e.At)
	if err != nil {
		return err
	}
	r := n.live
	if n.phase == Resuming {
		n.phase = TrackCall // still held
		return nil
	}
	if k := len(r.holds); k > 0 && ht < r.holds[k-1].to {
		ht = r.holds[k-1].to
	}
	ht = max(ht, 0)
	r.holds = append(r.holds, span{ht, -1})
	n.phase = TrackCall
	n.recountAll()
	n.say(seq, e.Wall, n.Describe(e), true)
	return nil
}

func (n *Night) startResume(e ResumeStarted) error {
	if n.phase != TrackCall {
		return outOfTurn("the track is not stopped (%s)", n.phase)
	}
	n.lamps, n.lampsFrom, n.lampsFor = e.Lamps, e.Wall, e.Countdown
	n.phase = Resuming
	return nil
}

func (n *Night) resume(e Resumed) error {
	if n.phase != Resuming && n.phase != TrackCall {
		return outOfTurn("the track is not stopped (%s)", n.phase)
	}
	ht, err := n.mark(e.Segment, e.At)
	if err != nil {
		return err
	}
	r := n.live
	k := len(r.holds) - 1
	if k < 0 || r.holds[k].to >= 0 {
		return outOfTurn("the clock is not held")
	}
	r.holds[k].to = max(ht, r.holds[k].from)
	n.phase = Green
	if r.ended {
		n.phase = Finishing
	}
	n.recountAll()
	return nil
}

func (n *Night) recountAll() {
	for i := range n.live.seats {
		n.live.recount(&n.live.seats[i])
	}
}

func (n *Night) timeUp(e TimeUp) error {
	if n.phase != Green {
		return outOfTurn("time cannot be up in phase %s", n.phase)
	}
	ht, err := n.mark(e.Segment, e.At)
	if err != nil {
		return err
	}
	n.live.ended, n.live.end = true, ht
	n.phase = Finishing
	n.recountAll()
	return nil
}

func (n *Night) finish(seq uint64, e Finished) (func() error, error) {
	if n.phase != Green && n.phase != Finishing && n.phase != TrackCall && n.phase != Resuming {
		return nil, outOfTurn("no heat is being driven (%s)", n.phase)
	}
	ht, err := n.mark(e.Segment, e.At)
	if err != nil {
		return nil, err
	}
	r, h, was := n.live, n.at, n.phase
	if k := len(r.holds) - 1; k >= 0 && r.holds[k].to < 0 {
		ht = min(ht, r.holds[k].from) // it ended where it stood
	}
	r.over, r.fin, r.early = true, max(ht, 0), e.Early
	n.phase = Finish
	n.recountAll()
	n.say(seq, e.Wall, n.Describe(e), false)
	if !e.Early {
		return nil, nil
	}
	// Ended by hand, perhaps by mistake: taking it back gives a track call at that moment.
	return func() error {
		if n.phase != Finish || n.at != h {
			return outOfTurn("heat %d is settled", h.number)
		}
		if k := len(r.holds) - 1; k < 0 || r.holds[k].to >= 0 {
			r.holds = append(r.holds, span{r.fin, -1})
		}
		r.over, r.fin, r.early = false, 0, false
		n.phase = TrackCall
		if was == TrackCall {
			n.phase = was
		}
		n.recountAll()
		return nil
	}, nil
}

func (n *Night) accept(e Accepted) (func() error, error) {
	if n.phase != Finish {
		return nil, outOfTurn("no finished heat waits for acceptance (%s)", n.phase)
	}
	if n.at.number != e.Heat {
		return nil, outOfTurn("heat %d waits for acceptance, not heat %d", n.at.number, e.Heat)
	}
	h, r, wasPrev := n.at, n.live, n.prev
	h.state = ran
	n.at, n.live, n.prev = nil, nil, r
	n.phase = n.between()
	stepBack := n.stepUp(h)
	return func() error {
		if n.phase != Idle && n.phase != Over {
			return outOfTurn("another heat is at the line")
		}
		stepBack()
		h.state = atLine
		n.at, n.live, n.prev, n.phase = h, r, wasPrev, Finish
		return nil
	}, nil
}

func (n *Night) voidHeat(seq uint64, e Voided) (func() error, error) {
	h, err := n.heatNo(e.Heat)
	if err != nil {
		return nil, err
	}
	if h.run == nil {
		return nil, outOfTurn("heat %d has not been run", e.Heat)
	}
	if n.at != nil && n.at != h && n.phase.Live() {
		return nil, outOfTurn("another heat is being driven")
	}
	wasState, wasRun, wasPhase, wasLive, wasAt := h.state, h.run, n.phase, n.live, n.at
	h.void = append(h.void, h.run)
	h.run, h.state = nil, ahead
	if n.at == h {
		n.at, n.live = nil, nil
		n.phase = Idle
	} else if n.at == nil && n.phase != Practice {
		n.phase = n.between()
	}
	n.say(seq, e.Wall, n.Describe(e), true)
	if wasPhase.Live() {
		return nil, nil // cars have been stopped: there is no way back into it
	}
	return func() error {
		if h.run != nil || h.state != ahead || n.at != nil && wasAt == h || wasAt == h && n.phase != Idle {
			return outOfTurn("heat %d is being run again", h.number)
		}
		h.void = h.void[:len(h.void)-1]
		h.run, h.state = wasRun, wasState
		if wasAt == h {
			n.at, n.live, n.phase = h, wasLive, wasPhase
		} else if n.at == nil && n.phase != Practice {
			n.phase = n.between()
		}
		return nil
	}, nil
}

func (n *Night) breakSegment(seq uint64, e SegmentBroke) error {
	for i := range n.practice {
		n.practice[i].any = false
	}
	if r := n.live; r != nil && r.went && r.source == e.Source {
		ht, ok := r.heatTime(e.From, e.Old)
		if !ok {
			return against("clock segment %d has nothing to do with this heat", e.From)
		}
		if _, ok := r.heatTime(e.To, e.New); !ok {
			r.bases = append(r.bases, base{int32(e.To), e.New - ht})
			r.relate()
		}
	}
	w := &n.lastWord[n.counter(e.Source).Source-1]
	w.top = max(w.top, e.To)
	n.say(seq, e.Wall, n.Describe(e), true)
	return nil
}

func (n *Night) startPractice() error {
	if n.phase != SignOn && n.phase != Idle && n.phase != Over {
		return outOfTurn("no practice while a heat is at the line (%s)", n.phase)
	}
	n.phase = Practice
	for i := range n.practice {
		n.practice[i].any = false
	}
	return nil
}

func (n *Night) stopPractice() error {
	if n.phase != Practice {
		return outOfTurn("there is no practice to end (%s)", n.phase)
	}
	n.phase = n.between()
	return nil
}

// pass takes a pass wherever the night stands.
func (n *Night) pass(seq uint64, p *Passed) {
	c := n.counter(p.Source)
	last := &n.lastPass[c.Source-1]
	old := p.Serial != 0 && p.Serial <= last.Serial && p.Boot == last.Boot
	if !old {
		*last = p.Pass
		last.Raw = "" // so that a night read back from its journal is the same
		n.heardOf(c.Source, *last)
	}
	c.Passes++
	if p.Again {
		c.Asked++
	}
	if p.Lane >= 1 && p.Lane <= len(n.lanes) {
		l := &n.lanes[p.Lane-1]
		l.lit = p.Heard
		l.passes++
	}
	seatNo := p.Lane
	if n.info.Digital {
		seatNo = p.Car
	}
	if p.Sensor > 1 || seatNo < 1 || seatNo > n.Seats() || n.info.Counter != "" && p.Source != n.info.Counter {
		return
	}
	r := n.live
	if n.prev != nil && n.prev.source == p.Source && n.prev.had(p.Segment, p.At) && (r == nil || !r.went || !r.began(p.Segment, p.At)) {
		r = n.prev
	}
	if r != nil && (!r.went || r.source == p.Source) {
		if n.phase == Finish || r == n.prev {
			n.version++
		}
		if old && r.seats[seatNo-1].knows(p) {
			return // told twice: it was asked for again though it had been written down
		}
		r.hear(&r.seats[seatNo-1], heard{seq: seq, serial: p.Serial, at: p.At, segment: int32(p.Segment), untimed: p.Untimed})
		return
	}
	if n.phase == Practice {
		n.practise(&n.practice[seatNo-1], p)
	}
}

// knows tells whether a seat has that very pass already.
func (s *seat) knows(p *Passed) bool {
	for i := len(s.passes) - 1; i >= 0; i-- {
		if q := &s.passes[i]; q.serial == p.Serial && q.at == p.At && int(q.segment) == p.Segment {
			return true
		}
	}
	return false
}

// had tells whether a counter time lies within a run that is over.
func (r *run) had(segment int, at time.Duration) bool {
	ht, ok := r.heatTime(segment, at)
	if r.early {
		ht -= r.card.Coast
	}
	return ok && r.over && ht >= 0 && ht <= r.fin
}

// began tells whether a counter time lies after go.
func (r *run) began(segment int, at time.Duration) bool {
	ht, ok := r.heatTime(segment, at)
	return ok && ht >= 0
}

func (n *Night) practise(s *practiceSeat, p *Passed) {
	if s.any && s.segment == p.Segment && s.source == p.Source {
		lap := p.At - s.last
		if lap < n.card.DeadTime() {
			return
		}
		s.lastLap = lap
		s.laps++
		if lap >= n.card.LapMin && (s.best == 0 || lap < s.best) {
			s.best = lap
		}
	}
	s.any, s.last, s.segment, s.source = true, p.At, p.Segment, p.Source
}

// counter finds the state of a source, in order of appearance.
func (n *Night) counter(source string) *CounterState {
	for i := range n.counters {
		if n.counters[i].Name == source {
			return &n.counters[i]
		}
	}
	n.counters = append(n.counters, CounterState{Source: len(n.counters) + 1, Name: source, State: "opening"})
	n.lastPass = append(n.lastPass, Pass{})
	n.lastWord = append(n.lastWord, word{})
	return &n.counters[len(n.counters)-1]
}

// LastPass returns the newest pass of a source, by which the counter can be asked for what came after.
func (n *Night) LastPass(source string) (Pass, bool) {
	for i, c := range n.counters {
		if c.Name == source && c.Passes > 0 {
			return n.lastPass[i], true
		}
	}
	return Pass{}, false
}
