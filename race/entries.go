package race

import (
	"math"
)

func (n *Night) open(o Opened) error {
	switch {
	case n.opened:
		return outOfTurn("the night is open already")
	case len(o.Layout.Lanes) == 0 || len(o.Layout.Lanes) > lanesMax:
		return against("the layout has %d lanes, expected 1 to %d", len(o.Layout.Lanes), lanesMax)
	case o.Cars < 0 || o.Cars > carsMax:
		return against("%d cars, expected 1 to %d", o.Cars, carsMax)
	case o.Scale < 0:
		return against("scale 1:%d", o.Scale)
	}
	for i, l := range o.Layout.Lanes {
		if !lengthSane(l.LengthMM) {
			return against("lane %d is %v mm long, expected more than 0 and less than 10 km", i+1, l.LengthMM)
		}
		for k, c := range l.CallsMM {
			if math.IsNaN(c) || math.IsInf(c, 0) {
				return against("lane %d: call %d lies at %v mm", i+1, k+1, c)
			}
		}
	}
	if o.Digital && (!lengthSane(o.ShortestMM) || !lengthSane(o.LongestMM) || o.ShortestMM > o.LongestMM) {
		return against("digital night: a lap measures %v to %v mm, expected the shortest and the longest way round", o.ShortestMM, o.LongestMM)
	}
	if err := o.Card.Check(); err != nil {
		return err
	}
	if !speedSane(o.Speed) {
		return against("speed %v, expected 0 for real time, or more", o.Speed)
	}
	if o.Digital && o.Cars == 0 {
		o.Cars = 8
	}
	n.opened = true
	n.setSpeed(o.Speed)
	n.info, n.card = o, o.Card
	n.lanes = make([]lane, len(o.Layout.Lanes))
	n.practice = make([]practiceSeat, n.Seats())
	return nil
}

// speedSane takes 0 for real time.
func speedSane(s float64) bool { return s >= 0 && s <= 1e6 }

func (n *Night) setSpeed(s float64) {
	if s == 0 {
		s = 1
	}
	n.speed = s
}

func lengthSane(mm float64) bool { return mm > 0 && mm < 1e7 }

func (n *Night) driverAt(d int) (*driver, error) {
	if d < 1 || d > len(n.drivers) || n.drivers[d-1].gone {
		return nil, unknown("there is no driver %d", d)
	}
	return &n.drivers[d-1], nil
}

func (n *Night) addDriver(e DriverAdded) (func() error, error) {
	if e.Driver >= 1 && e.Driver <= len(n.drivers) && n.drivers[e.Driver-1].gone { // done again
		n.drivers[e.Driver-1].gone = false
	} else {
		if e.Driver != len(n.drivers)+1 {
			return nil, against("the next driver is number %d, not %d", len(n.drivers)+1, e.Driver)
		}
		if e.Name == "" {
			return nil, against("a driver needs a name")
		}
		for i, d := range n.drivers {
			if !d.gone && d.name == e.Name && d.class == e.Class {
				return nil, against("%s is entered already, as driver %d", e.Name, i+1)
			}
		}
		n.drivers = append(n.drivers, driver{name: e.Name, short: e.Short, class: e.Class, group: e.Group, car: e.Car, register: e.Register,
			comes: e.Comes, leaves: e.Leaves})
	}
	stale := n.draw.Stale
	n.entriesChanged()
	i := e.Driver - 1
	return func() error {
		for _, h := range n.heats {
			for _, d := range h.plan.Drivers {
				if d == e.Driver {
					return outOfTurn("%s is in the draw; drop him instead", e.Name)
				}
			}
		}
		n.drivers[i].gone = true
		n.draw.Stale = stale
		return nil
	}, nil
}

// entriesChanged notes that the draw no longer fits.
func (n *Night) entriesChanged() {
	if n.draw.Kind != "" {
		n.draw.Stale = true
	}
}

func (n *Night) setAway(d int, away bool) (func() error, error) {
	p, err := n.driverAt(d)
	if err != nil {
		return nil, err
	}
	if p.away == away {
		if away {
			return nil, against("%s has left already", p.name)
		}
		return nil, against("%s is here already", p.name)
	}
	stale := n.draw.Stale
	p.away = away
	n.entriesChanged()
	return func() error {
		n.drivers[d-1].away = !away
		n.draw.Stale = stale
		return nil
	}, nil
}

func (n *Night) shareCar(e CarShared) (func() error, error) {
	p, err := n.driverAt(e.Driver)
	if err != nil {
		return nil, err
	}
	if e.With == e.Driver {
		return nil, against("%s cannot share a car with himself", p.name)
	}
	if e.With != 0 {
		if _, err := n.driverAt(e.With); err != nil {
			return nil, err
		}
	}
	was := make([]int, len(n.drivers))
	for i := range n.drivers {
		was[i] = n.drivers[i].share
		if s := n.drivers[i].share; i == e.Driver-1 || s == e.Driver || e.With != 0 && (i == e.With-1 || s == e.With) {
			n.drivers[i].share = 0
		}
	}
	if e.With != 0 {
		n.drivers[e.Driver-1].share, n.drivers[e.With-1].share = e.With, e.Driver
	}
	stale := n.draw.Stale
	n.entriesChanged()
	return func() error {
		for i, s := range was {
			n.drivers[i].share = s
		}
		n.draw.Stale = stale
		return nil
	}, nil
}

func (n *Night) assignCar(e CarAssigned) (func() error, error) {
	p, err := n.driverAt(e.Driver)
	if err != nil {
		return nil, err
	}
	if !n.info.Digital {
		return nil, against("cars have no numbers on this night: it is not digital")
	}
	if e.Car < 0 || e.Car > n.info.Cars {
		return nil, against("car %d, expected 1 to %d, or 0 for none", e.Car, n.info.Cars)
	}
	was := p.carNo
	p.carNo = e.Car
	return func() error { n.drivers[e.Driver-1].carNo = was; return nil }, nil
}

func (n *Night) setCard(e CardSet) (func() error, error) {
	if err := e.Card.Check(); err != nil {
		return nil, err
	}
	if n.phase == Staged || n.phase.Live() || n.anyRun() {
		return nil, outOfTurn("the rule card is fixed once a heat is at the line")
	}
	was := n.card
	n.card = e.Card
	return func() error {
		if n.anyRun() {
			return outOfTurn("the rule card is fixed once a heat has been run")
		}
		n.card = was
		return nil
	}, nil
}

func (n *Night) anyRun() bool {
	for _, h := range n.heats {
		if h.run != nil || len(h.void) > 0 {
			return true
		}
	}
	return false
}

func (n *Night) drawn(e Drawn) (func() error, error) {
	if n.phase != SignOn && n.phase != Idle && n.phase != Over {
		return nil, outOfTurn("no draw while a heat is at the line (%s)", n.phase)
	}
	seats := n.Seats()
	for i, h := range e.Heats {
		if len(h.Drivers) > seats {
			return nil, against("heat %d of the draw has %d drivers, there are %d %ss", i+1, len(h.Drivers), seats, n.seatWord())
		}
		in := map[int]bool{}
		for s, d := range h.Drivers {
			if d == 0 {
				continue
			}
			if _, err := n.driverAt(d); err != nil {
				return nil, err
			}
			if in[d] {
				return nil, against("heat %d of the draw has %s twice", i+1, n.drivers[d-1].name)
			}
			in[d] = true
			if !n.info.Digital && n.lanes[s].closed {
				return nil, against("heat %d of the draw uses lane %d, which is closed", i+1, s+1)
			}
		}
		for _, d := range h.Marshals {
			if d != 0 {
				if _, err := n.driverAt(d); err != nil {
					return nil, err
				}
			}
		}
	}
	wasHeats, wasDraw, wasPhase, wasRounds, wasPlanned := n.heats, n.draw, n.phase, n.rounds, n.planned
	heats := make([]*heat, 0, len(n.heats)+len(e.Heats))
	last := 0
	for _, h := range n.heats {
		if h.state == ran {
			heats = append(heats, h)
			last = max(last, h.number)
		}
	}
	for i, p := range e.Heats {
		heats = append(heats, &heat{number: last + i + 1, plan: p})
	}
	n.heats = heats
	n.draw = DrawInfo{Kind: e.Draw, Seed: e.Seed, Proof: e.Proof, Lines: e.Lines}
	n.rounds = e.Rounds
	if last == 0 { // nothing has been run yet: this is the plan that later ones are measured by
		n.planned = planned{len(n.drivers), n.ClosedLanes()}
	}
	n.phase = n.between()
	return func() error {
		if n.phase != Idle && n.phase != Over && n.phase != SignOn {
			return outOfTurn("the draw cannot be taken back while a heat is at the line")
		}
		n.heats, n.draw, n.phase, n.rounds, n.planned = wasHeats, wasDraw, wasPhase, wasRounds, wasPlanned
		return nil
	}, nil
}

// between is the phase when no heat is at the line.
func (n *Night) between() Phase {
	if len(n.heats) == 0 {
		return SignOn
	}
	for _, h := range n.heats {
		if h.state != ran {
			return Idle
		}
	}
	return Over
}

func (n *Night) setClosed(seq uint64, e Event, l int, closed bool, why string) (func() error, error) {
	if l < 1 || l > len(n.lanes) {
		return nil, unknown("there is no lane %d", l)
	}
	if n.lanes[l-1].closed == closed {
		if closed {
			return nil, against("lane %d is closed already", l)
		}
		return nil, against("lane %d is open already", l)
	}
	was, stale := n.lanes[l-1], n.draw.Stale
	n.lanes[l-1].closed, n.lanes[l-1].why = closed, why
	n.entriesChanged()
	n.say(seq, e.When(), n.Describe(e), closed)
	return func() error {
		n.lanes[l-1].closed, n.lanes[l-1].why = was.closed, was.why
		n.draw.Stale = stale
		return nil
	}, nil
}

func (n *Night) closeNight() error {
	if n.phase == Staged || n.phase.Live() || n.phase == Finish || n.phase == Practice {
		return outOfTurn("a heat is at the line (%s): finish or void it first", n.phase)
	}
	n.closed = true
	n.undo, n.redo = nil, nil
	return nil
}
