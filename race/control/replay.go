package control

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"lanewright/race"
	"lanewright/timing"
	"lanewright/timing/describe"
	"lanewright/timing/listen"
	"lanewright/timing/tape"
	"lanewright/timing/wire"
)

// ReplayOptions say what a tape does not.
type ReplayOptions struct {
	Formats map[string]*describe.Description // by source; our own sentences where there is none
	Begin   []race.Event                     // for a tape that does not tell what the night began with
}

// Replayed is a night worked out from a tape.
type Replayed struct {
	Night   *race.Night
	Records []Record // the journal that it makes
	// Refused are actions of the tape that made no sense when their turn came. A killed program may have put onto the tape what never got into
	// its journal, and gone on from the journal.
	Refused []error
}

// Replay works a night out from a tape alone, in virtual time: the raw bytes are decoded again, what people did is done again, and the
// desk decides again. It gives the results of the live night.
//
// Errors say which entry of the tape cannot be played, counted from 1. What is only refused does not end the replay.
func Replay(ctx context.Context, entries []tape.Entry, o ReplayOptions) (Replayed, error) {
	r := &replay{o: o, ears: map[string]*listen.Ear{}, spoke: map[string]int{}}
	r.d = &desk{night: race.NewNight(), counter: (*replayCounter)(r), speed: 1, power: &powerState{}}
	r.d.foresee = r.foresee
	r.entries, r.taken = entries, make(map[int]bool)
	r.orders = ordersOn(entries)
	r.d.loose = len(r.orders) == 0
	r.d.later = func(job func(context.Context) func(time.Time)) { job(ctx)(r.now) }
	for i := range entries {
		if err := ctx.Err(); err != nil {
			return Replayed{}, err
		}
		e := &entries[i]
		r.at = i
		if i == 0 || e.Start {
			r.now = e.At
			r.speed = speedOf(entries[i:])
			r.firstID = firstIDs(entries[i:])
		}
		if !e.Start {
			r.until(e.At)
		}
		if err := r.play(e); err != nil {
			err = fmt.Errorf("tape entry %d, at %v: %w", i+1, e.T, err)
			var no *refusal
			if !errors.As(err, &no) {
				return Replayed{}, err
			}
			r.refused = append(r.refused, err)
		}
	}
	r.take()
	return Replayed{r.d.night, r.records, r.refused}, nil
}

type replay struct {
	o       ReplayOptions
	d       *desk
	now     time.Time
	ears    map[string]*listen.Ear
	order   []string // of sources, as they came up
	firstID map[string]uint64
	speed   float64         // of the run that is being played
	skews   []time.Duration // by run: how far the wall clock jumped in it
	spoke   map[string]int  // by source: the last run in which it said something
	records []Record
	refused []error

	entries []tape.Entry
	at      int               // index of the entry that is played, or up to which time runs
	taken   map[int]bool      // entries that have been played ahead of their turn
	orders  []order           // that the live night gave
	alias   map[uint64]uint64 // id that an ear gave an order, to the id on the tape
}

// order is an order to a counter as it stands on the tape.
type order struct {
	source string
	at     time.Time
	kind   wire.Kind
	mask   uint32
	lit    uint32
	g      uint32
	timed  bool
	id     uint64
	given  bool
}

// ordersOn finds the orders of a tape, each once however often it was said.
func ordersOn(entries []tape.Entry) []order {
	var out []order
	seen := map[string]bool{}
	for i := range entries {
		e := &entries[i]
		var dec wire.Decoder
		var s wire.Sentence
		for b := e.Sent; len(b) > 0; {
			n, ok := dec.Decode(b, &s)
			b = b[n:]
			key := fmt.Sprint(e.Source, s.Kind, s.ID)
			if !ok || s.Kind != wire.SetPower && s.Kind != wire.SetLamps || seen[key] {
				continue
			}
			seen[key] = true
			out = append(out, order{source: e.Source, at: e.At, kind: s.Kind, mask: s.Mask, lit: s.Lit, g: s.Go, timed: s.Timed, id: s.ID})
		}
	}
	return out
}

// ordered finds the id under which the live night gave the order that is given now; id is that of the ear.
func (r *replay) ordered(o order, id uint64) uint64 {
	for i := range r.orders {
		q := &r.orders[i]
		if q.given || q.source != r.d.source || q.kind != o.kind || q.mask != o.mask || q.lit != o.lit || q.g != o.g || q.timed != o.timed {
			continue
		}
		if away := q.at.Sub(r.now); away > near || away < -near {
			continue
		}
		q.given = true
		if r.alias == nil {
			r.alias = map[uint64]uint64{}
		}
		r.alias[id] = q.id
		return q.id
	}
	return id
}

// near is how far behind the moment at which it was worked out a mark may stand on the tape.
const near = 2 * time.Second

// foresee finds the next mark of a kind on the tape.
func (r *replay) foresee(k race.Kind) race.Event {
	for i := r.at; i < len(r.entries); i++ {
		e := &r.entries[i]
		if e.Start && i > r.at || e.At.Sub(r.now) > near {
			return nil
		}
		if e.Do == "" || r.taken[i] {
			continue
		}
		if _, event, err := race.ParseAction(e.Do, e.Args); err == nil && event != nil && event.Kind() == k {
			r.taken[i] = true
			return event
		}
	}
	return nil
}

// firstIDs finds the id of the first order given to each source in a run: the ear then numbers its orders as the live one did.
func firstIDs(entries []tape.Entry) map[string]uint64 {
	ids := map[string]uint64{}
	for i := range entries {
		e := &entries[i]
		if e.Start && i > 0 {
			break
		}
		if e.Sent == nil || ids[e.Source] != 0 {
			continue
		}
		var dec wire.Decoder
		var s wire.Sentence
		for b := e.Sent; len(b) > 0; {
			n, ok := dec.Decode(b, &s)
			b = b[n:]
			if ok && (s.Kind == wire.SetPower || s.Kind == wire.SetLamps) {
				ids[e.Source] = s.ID
				break
			}
		}
	}
	return ids
}

// speedOf looks ahead for the speed of the run that begins here: the counter is heard before it is told.
func speedOf(entries []tape.Entry) float64 {
	for i := range entries {
		var a runArgs
		switch e := &entries[i]; {
		case e.Start && i > 0:
			return 1
		case e.Do == runAction && json.Unmarshal(e.Args, &a) == nil && a.Speed > 0:
			return a.Speed
		}
	}
	return 1
}

func (r *replay) ear(source string) *listen.Ear {
	if e, ok := r.ears[source]; ok {
		return e
	}
	c := listen.EarConfig{Name: source, Format: r.o.Formats[source], Speed: r.speed, FirstID: r.firstID[source]}
	c.After, c.Stepped, c.Segment = Heard(r.d.night, source)
	if run, ok := r.spoke[source]; ok {
		// The times of a tape do not jump with the wall clock, but at the start of a run.
		c.Stepped = 0
		for _, by := range r.skews[run : len(r.skews)-1] {
			c.Stepped += by
		}
	}
	e := listen.NewEar(c)
	r.ears[source] = e
	r.order = append(r.order, source)
	return e
}

// Heard is what listening must know of the earlier runs of a night, for listen.Config: the last word of a counter, nil if there was none, how
// far the wall clock has jumped since, and the highest clock segment.
func Heard(n *race.Night, source string) (after *timing.Pass, stepped time.Duration, segment int) {
	p, stepped, segment, ok := n.LastWord(source)
	if !ok {
		return nil, 0, segment
	}
	return &timing.Pass{Source: p.Source, Sensor: p.Sensor, Lane: p.Lane, Car: p.Car, At: p.At, Segment: p.Segment, Ticks: p.Ticks, Timed: !p.Untimed, Heard: p.Heard.Time(),
		Serial: p.Serial, Boot: p.Boot, Raw: p.Raw}, stepped, segment
}

// until does what falls due up to a time.
func (r *replay) until(to time.Time) {
	for {
		due := r.d.next()
		var ear *listen.Ear
		for _, source := range r.order {
			if t, ok := r.ears[source].Due(); ok && (due.IsZero() || t.Before(due)) {
				due, ear = t, r.ears[source]
			}
		}
		if due.IsZero() || due.After(to) {
			break
		}
		if due.After(r.now) {
			r.now = due
		}
		if ear != nil {
			ear.Wake(r.now)
			r.listen(ear)
		} else {
			r.d.wake(r.now)
		}
		r.take()
	}
	if to.After(r.now) {
		r.now = to
	}
}

// listen hands on what an ear has understood.
func (r *replay) listen(ear *listen.Ear) {
	ear.Say() // what would be said to the counter
	for _, m := range ear.Messages() {
		switch m := m.(type) {
		case timing.Pass:
			r.spoke[m.Source] = len(r.skews) - 1
		case timing.PowerAck:
			if m.Boot != 0 {
				r.spoke[m.Source] = len(r.skews) - 1
			}
		}
		r.d.hear(r.now, m)
	}
}

// take moves events to the records.
func (r *replay) take() {
	for _, m := range r.d.take() {
		r.records = append(r.records, Record{m.seq, uint16(m.kind), int64(m.wall), m.data})
	}
}

func (r *replay) play(e *tape.Entry) error {
	// What was done may stand behind what was heard a little later: its own time counts, for all alarms that are set by it.
	late := r.now
	r.now = e.At
	defer func() {
		r.take()
		if late.After(r.now) && !e.Start { // a new run has its own clock
			r.now = late
		}
	}()
	switch {
	case e.Heard != nil:
		ear := r.ear(e.Source)
		ear.Hear(e.Heard, r.now)
		r.listen(ear)
	case e.Port != "":
		s, ok := timing.ParseState(e.Port)
		if !ok {
			return fmt.Errorf("port state %q is unknown", e.Port)
		}
		ear := r.ear(e.Source)
		ear.Port(s, e.Detail, r.now)
		r.listen(ear)
	case e.Start:
		// A new run of the program hears with new ears.
		clear(r.ears)
		r.order = nil
		r.skews = append(r.skews, 0)
		return r.takeUp()
	case e.Step != 0:
		if n := len(r.skews); n > 0 {
			r.skews[n-1] += e.Step
		}
		for _, source := range r.order {
			r.ears[source].Step(e.Step, r.now)
			r.listen(r.ears[source])
		}
	case r.taken[r.at]:
	case e.Do == runAction:
		return r.begin(e.Args)
	case e.Do != "":
		return r.act(e.Do, e.Args)
	}
	return nil
}

// takeUp begins the run that starts here: the program listens already while it reads its journal, but hears nothing before it has.
func (r *replay) takeUp() error {
	for i := r.at + 1; i < len(r.entries) && !r.entries[i].Start; i++ {
		if e := &r.entries[i]; e.Do == runAction {
			r.taken[i] = true
			r.now = e.At
			err := r.begin(e.Args)
			r.now = r.entries[r.at].At
			return err
		}
	}
	return nil
}

// begin is the start of a run: of a new night, or of one that is taken up again.
func (r *replay) begin(args []byte) error {
	var a runArgs
	if err := json.Unmarshal(args, &a); err != nil {
		return fmt.Errorf("action run: %w", err)
	}
	d := r.d
	if a.Speed > 0 {
		d.speed = a.Speed
	}
	d.waits = a.Marks
	d.auto = a.Unattended && !a.Marks // otherwise what was done by itself is on the tape
	d.source = a.Source
	if d.night.IsOpen() {
		if err := r.cutTo(a.Kept); err != nil {
			return err
		}
		d.start, d.call, d.back, d.end, d.pause = startState{}, callState{}, backState{}, endState{}, pauseState{}
		d.seen, d.power = sighting{}, &powerState{}
		if d.source == "" {
			d.source = d.night.Info().Counter
		}
		d.takeUp(r.now)
		d.plan(r.now, 0)
	}
	return nil
}

// cutTo forgets what the killed program had put onto the tape and never got into its journal, of which the next run found so many events.
func (r *replay) cutTo(kept uint64) error {
	if kept == 0 || r.d.night.Weighty() <= kept {
		return nil
	}
	n, records := race.NewNight(), r.records
	r.records = nil
	for _, rec := range records {
		if n.Weighty() == kept {
			break
		}
		e, err := race.Decode(race.Kind(rec.Kind), rec.Data)
		if err == nil {
			err = n.Apply(rec.Seq, e)
		}
		if err != nil {
			return fmt.Errorf("action run: %w", err)
		}
		r.records = append(r.records, rec)
	}
	r.d.night, r.d.seq = n, n.Seq()
	return nil
}

// act does what somebody did.
func (r *replay) act(action string, args []byte) error {
	d := r.d
	cmd, event, err := race.ParseAction(action, args)
	if err != nil {
		return err
	}
	if event == nil && !d.night.IsOpen() && len(r.o.Begin) > 0 {
		for _, e := range r.o.Begin {
			if err := d.emit(race.Stamped(e, race.WallOf(r.now))); err != nil {
				return err
			}
		}
		r.opened()
	}
	if event != nil {
		return r.event(event)
	}
	if cmd, err = r.renumber(cmd, args); err != nil {
		return &refusal{action, err}
	}
	reply, later := d.do(r.now, cmd, nil)
	if !later && reply.Err != nil {
		return &refusal{action, reply.Err}
	}
	return nil
}

// refusal is an action that was refused.
type refusal struct {
	action string
	err    error
}

func (r *refusal) Error() string { return fmt.Sprintf("action %s: %v", r.action, r.err) }
func (r *refusal) Unwrap() error { return r.err }

func (r *replay) opened() {
	if r.d.source == "" {
		r.d.source = r.d.night.Info().Counter
	}
}

// event takes an event that the tape holds as it is.
func (r *replay) event(e race.Event) error {
	d := r.d
	switch e.(type) {
	case race.Went, race.Held, race.Resumed, race.TimeUp, race.Finished, race.SegmentBroke:
		d.enact(r.now, e)
		return nil
	}
	if err := d.emit(e); err != nil {
		return &refusal{"event", err}
	}
	r.opened()
	d.plan(r.now, 0)
	return nil
}

// renumber finds the pass that an action is about by the counter's own number.
func (r *replay) renumber(cmd race.Command, args []byte) (race.Command, error) {
	var a struct {
		Number  uint64
		Segment int
	}
	if len(args) == 0 || json.Unmarshal(args, &a) != nil || a.Number == 0 {
		return cmd, nil
	}
	find := func(heat, lane int) (uint64, error) {
		for _, l := range r.d.night.Laps(r.d.heat(heat), lane) {
			if l.Serial == a.Number && (a.Segment == 0 || l.Segment == a.Segment) && !l.Moved {
				return l.Pass, nil
			}
		}
		return 0, fmt.Errorf("pass number %d is not on %d in heat %d", a.Number, lane, r.d.heat(heat))
	}
	var err error
	switch c := cmd.(type) {
	case race.StrikePass:
		c.Pass, err = find(c.Heat, c.Lane)
		cmd = c
	case race.MovePass:
		c.Pass, err = find(c.Heat, c.Lane)
		cmd = c
	}
	return cmd, err
}

// replayCounter takes the desk's orders as the live counter did; its answers are on the tape.
type replayCounter replay

func (r *replayCounter) counting() *listen.Ear { return r.ears[r.d.source] }

func (r *replayCounter) Power(lanes uint32) (uint64, error) {
	ear := r.counting()
	if ear == nil {
		return 0, errNoCounter
	}
	id, err := ear.Power(lanes, nil, r.now)
	if err != nil {
		return id, err
	}
	return (*replay)(r).ordered(order{kind: wire.SetPower, mask: lanes}, id), nil
}

func (r *replayCounter) PowerAt(lanes uint32, at time.Duration) (uint64, error) {
	ear := r.counting()
	if ear == nil {
		return 0, errNoCounter
	}
	id, err := ear.Power(lanes, &at, r.now)
	if err != nil {
		return id, err
	}
	return (*replay)(r).ordered(order{kind: wire.SetPower, mask: lanes, timed: true}, id), nil
}

func (r *replayCounter) Lamps(lit int, g timing.Go) (uint64, error) {
	ear := r.counting()
	if ear == nil {
		return 0, errNoCounter
	}
	id, err := ear.Lamps(lit, g, nil, r.now)
	if err != nil {
		return id, err
	}
	return (*replay)(r).ordered(order{kind: wire.SetLamps, lit: uint32(lit), g: uint32(g)}, id), nil
}

func (r *replayCounter) CounterTime(host time.Time) (time.Duration, int, bool) {
	ear := r.counting()
	if ear == nil {
		return 0, 0, false
	}
	return ear.CounterTime(host)
}
