package fairness

import (
	"math"
	"math/bits"
)

// stream is a source of pseudo-random numbers that gives the same numbers for the
// same seed in every version of the program: xoshiro256++ by D. Blackman and S. Vigna
// (2019), seeded by SplitMix64.
type stream struct {
	s     [4]uint64
	spare float64
	full  bool
}

func newStream(seed uint64) *stream {
	r := &stream{}
	for i := range r.s {
		seed += 0x9e3779b97f4a7c15
		z := seed
		z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
		z = (z ^ z>>27) * 0x94d049bb133111eb
		r.s[i] = z ^ z>>31
	}
	return r
}

func (r *stream) next() uint64 {
	s := &r.s
	out := bits.RotateLeft64(s[0]+s[3], 23) + s[0]
	t := s[1] << 17
	s[2] ^= s[0]
	s[3] ^= s[1]
	s[1] ^= s[2]
	s[0] ^= s[3]
	s[2] ^= t
	s[3] = bits.RotateLeft64(s[3], 45)
	return out
}

// uniform returns a number above 0 and below 1.
func (r *stream) uniform() float64 { return (float64(r.next()>>11) + 0.5) / (1 << 53) }

// normal returns a standard normal number by Marsaglia's polar method.
func (r *stream) normal() float64 {
	if r.full {
		r.full = false
		return r.spare
	}
	for {
		u, v := 2*r.uniform()-1, 2*r.uniform()-1
		s := u*u + v*v
		if s >= 1 || s == 0 {
			continue
		}
		f := math.Sqrt(-2 * math.Log(s) / s)
		r.spare, r.full = v*f, true
		return u * f
	}
}

// chi2 returns a chi-squared number by the gamma method of G. Marsaglia and W. W.
// Tsang (2000).
func (r *stream) chi2(df float64) float64 {
	shape := df / 2
	boost := 1.0
	if shape < 1 {
		boost = math.Pow(r.uniform(), 1/shape)
		shape++
	}
	d := shape - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := r.normal()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v = v * v * v
		u := r.uniform()
		if math.Log(u) < x*x/2+d-d*v+d*math.Log(v) {
			return 2 * d * v * boost
		}
	}
}
