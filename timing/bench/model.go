package bench

import "time"

// Profile is a field of cars in a few numbers. Zero fields get the values named.
type Profile struct {
	Lap    time.Duration // a usual lap: 6 s
	Grid   time.Duration // from the grid to the timing line: 0.8 s
	Spread time.Duration // how far apart cars and lanes are: 0.4 s
	Noise  time.Duration // how much a car's laps vary: 0.15 s
	Off    int           // one lap in so many has a car off the track: 40; negative: never
	OffMin time.Duration // what that costs: 2 s
	OffMax time.Duration // up to 6 s
}

// Model makes a lap model from a profile and a seed. It uses integers only, so that
// every computer draws the same laps.
func Model(p Profile, seed uint64) func(heat, lane, lap int) time.Duration {
	set := func(d *time.Duration, v time.Duration) {
		if *d == 0 {
			*d = v
		}
	}
	set(&p.Lap, 6*time.Second)
	set(&p.Grid, 800*time.Millisecond)
	set(&p.Spread, 400*time.Millisecond)
	set(&p.Noise, 150*time.Millisecond)
	set(&p.OffMin, 2*time.Second)
	set(&p.OffMax, 6*time.Second)
	if p.Off == 0 {
		p.Off = 40
	}
	return func(heat, lane, lap int) time.Duration {
		car := mix(seed, uint64(heat), uint64(lane), 0)
		one := mix(seed, uint64(heat), uint64(lane), uint64(lap)+1)
		if lap == 0 {
			return p.Grid + within(one, p.Noise)
		}
		d := p.Lap + within(car, p.Spread)
		// The sum of three draws: mostly near the middle.
		d += within(one, p.Noise)/3 + within(mix(one), p.Noise)/3 + within(mix(one, 1), p.Noise)/3
		if p.Off > 0 && mix(one, 2)%uint64(p.Off) == 0 {
			d += p.OffMin + within(mix(one, 3), p.OffMax-p.OffMin)
		}
		return d
	}
}

// within draws from 0 to less than width, in whole microseconds.
func within(draw uint64, width time.Duration) time.Duration {
	us := uint64(max(width, 0) / time.Microsecond)
	if us == 0 {
		return 0
	}
	return time.Duration(draw%us) * time.Microsecond
}

// mix hashes numbers: the finaliser of SplitMix64 (Steele, Lea, Flood,
// "Fast splittable pseudorandom number generators", 2014), chained.
func mix(parts ...uint64) uint64 {
	h := uint64(0x9E3779B97F4A7C15)
	for _, p := range parts {
		h += p + 0x9E3779B97F4A7C15
		h = (h ^ h>>30) * 0xBF58476D1CE4E5B9
		h = (h ^ h>>27) * 0x94D049BB133111EB
		h ^= h >> 31
	}
	return h
}

// chance tells whether draw falls below probability p.
func chance(draw uint64, p float64) bool {
	return p > 0 && float64(draw>>11)/(1<<53) < p
}
