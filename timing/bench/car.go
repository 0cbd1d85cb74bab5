package bench

import "math/bits"

// car is the car on one lane. All figures are unwrapped ticks or numbers of them.
// Its way is measured in ticks at full speed.
type car struct {
	here   bool // there is a car and it has a next pass to make
	lap    int  // of the next pass
	way    uint64
	moving bool
	since  uint64 // from when way counts, while moving or rolling
	roll   uint64 // if > 0: power was cut at since, it rolls for so long
}

// rolled returns the way made t ticks after power was cut, if the car stops
// after roll ticks and slows down evenly: t - t*t/(2*roll), cut.
func rolled(t, roll uint64) uint64 {
	if t >= roll {
		return roll / 2
	}
	hi, lo := bits.Mul64(t, t)
	q, rest := bits.Div64(hi, lo, 2*roll) // t < roll, so hi < 2*roll
	if rest > 0 {
		q++
	}
	return t - q
}

// due returns the tick of the next pass, if nothing changes.
func (c *car) due() (tick uint64, ok bool) {
	if !c.here {
		return 0, false
	}
	if c.moving {
		return c.since + c.way, true
	}
	if c.roll == 0 || c.way > rolled(c.roll, c.roll) {
		return 0, false
	}
	// The first t with rolled(t) >= way; rolled rises, so halving finds it.
	lo, hi := uint64(0), c.roll
	for lo < hi {
		mid := lo + (hi-lo)/2
		if rolled(mid, c.roll) >= c.way {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return c.since + lo, true
}

// next sends the car on its next lap, long ticks; it has just passed at tick.
func (c *car) next(tick, long uint64) {
	c.lap++
	if c.moving {
		c.since, c.way = tick, long
		return
	}
	// Rolling: the way it rolled already belongs to the lap before, and the rest
	// of the roll to this one.
	c.way += long
}

// power switches its lane at tick; roll is how long cars roll.
func (c *car) power(on bool, tick, roll uint64) {
	switch {
	case !c.here:
	case on && !c.moving:
		if c.roll > 0 {
			c.way -= min(c.way, rolled(tick-c.since, c.roll))
		}
		c.moving, c.roll, c.since = true, 0, tick
	case !on && c.moving:
		c.way -= min(c.way, tick-c.since)
		c.moving, c.roll, c.since = false, roll, tick
	}
}
