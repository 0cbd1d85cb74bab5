package rotation

import (
	"math"
	"math/bits"
)

// random is a splitmix64 generator: one word of state, the same stream on
// every machine. Source: Steele, Lea & Flood, "Fast splittable pseudorandom
// number generators", OOPSLA 2014 (constants from memory).
type random struct{ s uint64 }

func newRandom(seed, stream uint64) *random {
	r := &random{seed ^ stream*0x9e3779b97f4a7c15}
	r.next()
	return r
}

func (r *random) next() uint64 {
	r.s += 0x9e3779b97f4a7c15
	z := r.s
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// below returns a number in 0..n-1; n must be positive. The bias of the
// multiply-and-shift is under n/2^64.
func (r *random) below(n int) int {
	hi, _ := bits.Mul64(r.next(), uint64(n))
	return int(hi)
}

func (r *random) shuffle(a []int) {
	for i := len(a) - 1; i > 0; i-- {
		j := r.below(i + 1)
		a[i], a[j] = a[j], a[i]
	}
}

// cooling is a schedule of simulated annealing in whole numbers, so that a
// draw does not depend on how a machine rounds. A worsening by delta is taken
// with probability exp(-delta/T), by comparing delta with T * -ln(u) from a
// table of 4096 steps in 1/65536.
type cooling struct {
	heat  int64 // T in 1/65536 of a cost unit
	keep  int64 // factor per step in 1/65536
	every int   // moves per step
	count int
}

var minusLog = func() (t [4096]int64) {
	for i := range t {
		t[i] = int64(math.Round(-math.Log((float64(i)+0.5)/4096) * 65536))
	}
	return
}()

// newCooling goes from T = from to T = to (in cost units times 1000) in about
// moves moves, geometrically in 128 steps.
func newCooling(from, to int64, moves int) cooling {
	const steps = 128
	from, to = max(from, 1), max(to, 1)
	keep := int64(math.Round(65536 * math.Pow(float64(to)/float64(from), 1.0/steps)))
	return cooling{heat: from/1000<<16 + from%1000<<16/1000, keep: keep, every: max(1, moves/steps)}
}

// accept decides on a move that changes the cost by delta and cools.
func (c *cooling) accept(delta int64, r *random) bool {
	c.count++
	if c.count >= c.every {
		c.count = 0
		c.heat = mulShift(c.heat, c.keep, 16)
	}
	if delta <= 0 {
		return true
	}
	return delta <= mulShift(c.heat, minusLog[r.next()>>52], 32)
}

// mulShift is x*y >> s without overflow on the way; x and y are not negative.
func mulShift(x, y int64, s uint) int64 {
	hi, lo := bits.Mul64(uint64(x), uint64(y))
	return int64(hi<<(64-s) | lo>>s)
}
