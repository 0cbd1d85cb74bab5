package control

import (
	"math"
	"math/rand/v2"
	"time"

	"lanewright/timing/bench"
	"lanewright/timing/wire"
)

// simCounter is the counter of a simulated night with its cars, in world time: the time since the night began that goes on while the
// computer sleeps.
type simCounter struct {
	c    bench.Config
	m    *bench.Machine
	born time.Duration // world time at which its clock showed c.Start
	rate float64       // true ticks per second
	dig  bool          // it tells cars, not lanes
	dec  wire.Decoder

	lives []simLife
	acts  []simAct
}

// simLife is one life of the counter: from being switched on to being switched off.
type simLife struct {
	boot uint64
	made []bench.Pass // bounces and phantoms included; what the sensors saw
	last bool         // it lives still
}

// simAct is something that the counter really did, at an unwrapped tick.
type simAct struct {
	boot uint64
	tick uint64
	kind wire.Kind // wire.Power or wire.Lamps
	mask uint32
	goes uint32
}

// switchOn begins a life at a world time and returns what the counter says.
func (k *simCounter) switchOn(at time.Duration) []byte {
	m, hello := bench.NewMachine(k.c)
	k.m, k.born = m, at
	return hello
}

// restart begins a new life: another boot number, ticks from anywhere, nothing remembered, power off. Cars stop where they are, and are
// put back to the grid when the heat goes on.
func (k *simCounter) restart(at time.Duration, rnd *rand.Rand) []byte {
	k.lives = append(k.lives, simLife{boot: k.c.Boot, made: k.m.Made()})
	k.c.Boot++
	k.c.Start = rnd.Uint64N(1 << k.c.Bits)
	k.c.Heat += 7 // other laps than before
	return k.switchOn(at)
}

// tick is where its clock stands at a world time.
func (k *simCounter) tick(at time.Duration) uint64 {
	return k.c.Start + uint64(float64(at-k.born)/1e9*k.rate)
}

// when is the world time at which its clock has reached a tick.
func (k *simCounter) when(tick uint64) time.Duration {
	return k.born + time.Duration(math.Ceil(float64(tick-k.c.Start)/k.rate*1e9)) + 50
}

// truth is a tick as the time it stands for.
func (k *simCounter) truth(tick uint64) time.Duration {
	return time.Duration(float64(tick) / float64(k.c.Rate) * 1e9)
}

// passes are all passes of all lives so far.
func (k *simCounter) passes() []simLife {
	return append(append([]simLife(nil), k.lives...), simLife{boot: k.c.Boot, made: k.m.Made(), last: true})
}

// sentences cuts what the counter said into sentences, notes what it did, and turns lanes into cars on digital nights.
func (k *simCounter) sentences(said []byte) [][]byte {
	var out [][]byte
	var s wire.Sentence
	for len(said) > 0 {
		n, ok := k.dec.Decode(said, &s)
		raw := said[:n]
		said = said[n:]
		if !ok {
			continue
		}
		switch s.Kind {
		case wire.Power, wire.Lamps:
			if s.Kind == wire.Power || s.Go > 0 {
				k.acts = append(k.acts, simAct{k.c.Boot, k.unwrap(s.Ticks), s.Kind, s.Mask, s.Go})
			}
		case wire.Pass:
			if k.dig {
				s.Lane, s.Car = 0, s.Lane
				out = append(out, wire.Append(nil, &s))
				continue
			}
		}
		out = append(out, append([]byte(nil), raw...))
	}
	return out
}

// unwrap finds the tick nearest to now that is shown as ticks.
func (k *simCounter) unwrap(ticks uint64) uint64 {
	wrap := uint64(1)<<k.c.Bits - 1
	now := k.m.Now()
	back := (now - ticks) & wrap
	return now - back
}
