package bench

import (
	"slices"

	"lanewright/timing/wire"
)

// Machine is the counter and its track without a clock of their own. It starts at
// tick Config.Start with power off everywhere and no heat running.
type Machine struct {
	c    Config
	now  uint64 // unwrapped
	dec  wire.Decoder
	cars []car
	heat int // of the heat running; Config.Heat-1 before the first
	next int // number of the next heat

	mask   uint32
	lit    uint32
	held   bool   // lamps are lit: drivers wait for go even if power comes on before
	beat   uint64 // tick of the next one
	serial uint64
	ring   []wire.Sentence // the last passes, oldest first; the last Config.Ring of them count
	made   []Pass
	ghosts []ghost // passes of nothing, in the order of their ticks

	waiting [2]*wire.Sentence // SetPower, SetLamps with a tick to come
	wakeAt  [2]uint64         // that tick, unwrapped
	done    [2]wire.Sentence  // the last answers
}

type ghost struct {
	tick      uint64
	heat, lap int
	lane      int
}

const (
	forPower = 0
	forLamps = 1
)

// NewMachine returns a machine and what it says when it starts.
func NewMachine(c Config) (*Machine, []byte) {
	c = c.filled()
	m := &Machine{c: c, now: c.Start, heat: c.Heat - 1, next: c.Heat, cars: make([]car, c.Lanes)}
	m.beat = m.now + c.Rate
	out := m.caps(nil)
	return m, m.say(out, wire.Sentence{Kind: wire.Power, Ticks: m.now})
}

// Now returns the tick it stands at, unwrapped.
func (m *Machine) Now() uint64 { return m.now }

// Made returns the passes made so far, bounces and phantoms included.
func (m *Machine) Made() []Pass { return m.made }

// SetHeat sets the number of the heat that the next start begins.
func (m *Machine) SetHeat(n int) { m.next = n }

// Next returns the tick at which it will have something to say.
func (m *Machine) Next() uint64 {
	tick, _, _ := m.first()
	return tick
}

// The kinds of things that happen, in the order in which they are said when
// they fall on the same tick.
const (
	isPass = iota
	isGhost
	isPower
	isLamps
	isBeat
)

// first finds what happens next.
func (m *Machine) first() (tick uint64, kind, lane int) {
	tick, kind = m.beat, isBeat
	for k := forLamps; k >= forPower; k-- {
		if m.waiting[k] != nil && m.wakeAt[k] <= tick {
			tick, kind = m.wakeAt[k], isPower+k
		}
	}
	if len(m.ghosts) > 0 && m.ghosts[0].tick <= tick {
		tick, kind = m.ghosts[0].tick, isGhost
	}
	for i := len(m.cars) - 1; i >= 0; i-- {
		if t, ok := m.cars[i].due(); ok && t <= tick {
			tick, kind, lane = t, isPass, i
		}
	}
	return tick, kind, lane
}

// Advance moves to tick to and appends what it says on the way. Moving
// backwards does nothing.
func (m *Machine) Advance(to uint64, out []byte) []byte {
	for {
		tick, kind, lane := m.first()
		if tick > to {
			break
		}
		m.now = max(m.now, tick)
		switch kind {
		case isPass:
			out = m.pass(lane, tick, out)
		case isGhost:
			g := m.ghosts[0]
			m.ghosts = m.ghosts[1:]
			out = m.count(Pass{Heat: g.heat, Lane: g.lane, Lap: g.lap, Ticks: g.tick, False: true}, out)
		case isPower, isLamps:
			s := m.waiting[kind-isPower]
			m.waiting[kind-isPower] = nil
			out = m.do(s, tick, out)
		case isBeat:
			out = m.say(out, wire.Sentence{Kind: wire.Beat, Boot: m.c.Boot, Last: m.serial, Ticks: tick})
			m.beat += m.c.Rate
		}
	}
	m.now = max(m.now, to)
	return out
}

// pass moves the car on lane i over the line.
func (m *Machine) pass(i int, tick uint64, out []byte) []byte {
	c := &m.cars[i]
	lap, lane := c.lap, i+1
	draw := mix(m.c.Seed, uint64(m.heat), uint64(lane), uint64(lap))
	long := m.c.Laps(m.heat, lane, lap+1)
	ticks := max(m.c.rate().Ticks(long), 1)
	if long <= 0 {
		c.here = false
	} else {
		c.next(tick, ticks)
	}
	f := m.c.Faults
	if !chance(mix(draw, 1), f.Miss) {
		out = m.count(Pass{Heat: m.heat, Lane: lane, Lap: lap, Ticks: tick}, out)
		if chance(mix(draw, 2), f.Bounce) {
			m.haunt(ghost{tick + m.c.Rate*(2+mix(draw, 3)%29)/1000, m.heat, lap, lane})
		}
	}
	if long > 0 && chance(mix(draw, 4), f.Phantom) {
		m.haunt(ghost{tick + ticks/16 + mix(draw, 5)%max(ticks*14/16, 1), m.heat, lap, lane})
	}
	return out
}

func (m *Machine) haunt(g ghost) {
	i, _ := slices.BinarySearchFunc(m.ghosts, g, func(a, b ghost) int {
		if a.tick != b.tick {
			if a.tick < b.tick {
				return -1
			}
			return 1
		}
		return a.lane - b.lane
	})
	m.ghosts = slices.Insert(m.ghosts, i, g)
}

// count gives a pass its number, keeps it and says it, with the faults of the line.
func (m *Machine) count(p Pass, out []byte) []byte {
	m.serial++
	p.Serial = m.serial
	m.made = append(m.made, p)
	s := wire.Sentence{Kind: wire.Pass, Serial: p.Serial, Sensor: 1, Lane: uint32(p.Lane), Ticks: p.Ticks & m.wrap()}
	if len(m.ring) == 2*m.c.Ring { // moved seldom: a ring without the arithmetic
		m.ring = append(m.ring[:0], m.ring[m.c.Ring:]...)
	}
	m.ring = append(m.ring, s)

	f := m.c.Faults
	draw := mix(m.c.Seed, 0xFA, p.Serial)
	if chance(mix(draw, 1), f.Noise) {
		for k := range 1 + mix(draw, 2)%12 {
			out = append(out, byte(mix(draw, 3, k)))
		}
	}
	if chance(mix(draw, 4), f.Drop) {
		return out
	}
	from := len(out)
	out = m.say(out, s)
	if chance(mix(draw, 5), f.Garble) {
		at := from + int(mix(draw, 6)%uint64(len(out)-from))
		out[at] ^= 1 << (mix(draw, 7) % 8)
	}
	return out
}

// Take gives it bytes from the other side at the present tick and appends what it
// answers.
func (m *Machine) Take(b, out []byte) []byte {
	var s wire.Sentence
	for len(b) > 0 {
		n, ok := m.dec.Decode(b, &s)
		b = b[n:]
		if ok {
			out = m.command(&s, out)
		}
	}
	return out
}

func (m *Machine) command(s *wire.Sentence, out []byte) []byte {
	switch s.Kind {
	case wire.AskCaps:
		return m.caps(out)
	case wire.SayAgain:
		first := m.serial + 1
		for _, p := range m.ring[max(0, len(m.ring)-m.c.Ring):] {
			if p.Serial >= s.From {
				first = min(first, p.Serial)
				out = m.say(out, p)
			}
		}
		return m.say(out, wire.Sentence{Kind: wire.End, From: s.From, First: first, Last: m.serial})
	case wire.SetPower:
		return m.when(s, forPower, out)
	case wire.SetLamps:
		if m.c.Lamps == 0 || int(s.Lit) > m.c.Lamps {
			return m.say(out, wire.Sentence{Kind: wire.Refused, ID: s.ID})
		}
		return m.when(s, forLamps, out)
	}
	return out
}

// when does a command now or keeps it for its tick.
func (m *Machine) when(s *wire.Sentence, k int, out []byte) []byte {
	if m.done[k].Kind != wire.None && m.done[k].ID == s.ID {
		return m.say(out, m.done[k]) // a repetition
	}
	noted := wire.Sentence{Kind: wire.Noted, ID: s.ID}
	if w := m.waiting[k]; w != nil && w.ID == s.ID {
		return m.say(out, noted)
	}
	m.waiting[k] = nil
	if s.Timed {
		ahead := (s.At - m.now) & m.wrap()
		if ahead > 0 && ahead <= m.wrap()/2 {
			kept := *s
			kept.Raw, kept.Name = nil, nil
			m.waiting[k], m.wakeAt[k] = &kept, m.now+ahead
			return m.say(out, noted)
		}
	}
	return m.do(s, m.now, out)
}

// do carries out SetPower or SetLamps at tick.
func (m *Machine) do(s *wire.Sentence, tick uint64, out []byte) []byte {
	roll := m.c.rate().Ticks(m.c.Coast)
	if s.Kind == wire.SetPower {
		m.mask = s.Mask & (1<<m.c.Lanes - 1)
		for i := range m.cars {
			m.cars[i].power(m.powered(i) && !m.held, tick, roll)
		}
		m.done[forPower] = wire.Sentence{Kind: wire.Power, ID: s.ID, Mask: m.mask, Ticks: tick & m.wrap()}
		return m.say(out, m.done[forPower])
	}
	m.lit = s.Lit
	switch s.Go {
	case 0:
		m.held = m.held || s.Lit > 0
	case 1:
		m.lineUp(tick, roll)
	default:
		if m.heat < m.c.Heat { // a heat goes on that was started before this counter was switched on
			m.lineUp(tick, roll)
			break
		}
		m.held = false
		for i := range m.cars {
			m.cars[i].power(m.powered(i), tick, roll)
		}
	}
	m.done[forLamps] = wire.Sentence{Kind: wire.Lamps, ID: s.ID, Lit: s.Lit, Go: s.Go, Ticks: tick & m.wrap()}
	return m.say(out, m.done[forLamps])
}

// lineUp puts the cars of the next heat on the grid and starts it.
func (m *Machine) lineUp(tick, roll uint64) {
	m.held = false
	m.heat, m.next = m.next, m.next+1
	for i := range m.cars {
		long := m.c.Laps(m.heat, i+1, 0)
		m.cars[i] = car{here: long > 0, way: m.c.rate().Ticks(long), since: tick}
		m.cars[i].power(m.powered(i), tick, roll)
	}
}

func (m *Machine) powered(i int) bool { return m.mask>>i&1 == 1 }

func (m *Machine) caps(out []byte) []byte {
	return m.say(out, wire.Sentence{
		Kind: wire.Caps, Version: wire.Version, Boot: m.c.Boot, Name: []byte(m.c.Name),
		Lanes: uint32(m.c.Lanes), Sensors: 1, Num: m.c.Rate, Den: 1, Bits: uint32(m.c.Bits),
		Ring: uint32(m.c.Ring), HasPower: true, Lit: uint32(m.c.Lamps),
	})
}

func (m *Machine) say(out []byte, s wire.Sentence) []byte {
	s.Ticks &= m.wrap()
	return wire.Append(out, &s)
}

func (m *Machine) wrap() uint64 { return 1<<m.c.Bits - 1 }
