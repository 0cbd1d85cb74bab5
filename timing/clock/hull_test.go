package clock

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"
)

// jitter draws how late one message is.
type jitter func(r *rand.Rand) time.Duration

func uniform(width time.Duration) jitter {
	return func(r *rand.Rand) time.Duration { return time.Duration(r.Float64() * float64(width)) }
}

func spiky(r *rand.Rand) time.Duration {
	if r.Float64() < 0.05 {
		return 150 * time.Millisecond
	}
	return uniform(16 * time.Millisecond)(r)
}

func exponential(r *rand.Rand) time.Duration {
	return time.Duration(r.ExpFloat64() * 0.8e6)
}

// errors95 simulates 60 windows of n events with a true drift of 40 ppm and
// returns the 95th percentile of the error in ppm, of the hull and of a least
// squares line by gonum's stat.LinearRegression.
func errors95(n int, span time.Duration, j jitter) (hull, squares float64) {
	var hs, ls []float64
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 1))
		var h Hull
		var x, y []float64
		at := make([]time.Duration, n)
		for i := range at {
			at[i] = time.Duration(r.Float64() * float64(span))
		}
		slices.Sort(at)
		at[0], at[n-1] = 0, span
		for _, a := range at {
			got := time.Duration(float64(a)*(1+40e-6)) + 3*time.Millisecond + j(r)
			h.Add(a, got)
			x = append(x, a.Seconds())
			y = append(y, (got - a).Seconds())
		}
		f, ok := h.fit()
		if !ok {
			return math.NaN(), math.NaN()
		}
		hs = append(hs, math.Abs(f.Slope-40e-6)*1e6)
		_, slope := stat.LinearRegression(x, y, nil, false)
		ls = append(ls, math.Abs(slope-40e-6)*1e6)
	}
	slices.Sort(hs)
	slices.Sort(ls)
	return hs[56], ls[56]
}

// TestHullAgainstLeastSquares: the errors must be of the size that theory gives
// for one-sided lateness, and well below least squares where some messages
// are very late. The yardstick is gonum's regression on the same data.
func TestHullAgainstLeastSquares(t *testing.T) {
	for _, c := range []struct {
		name  string
		n     int
		span  time.Duration
		j     jitter
		limit float64 // ppm
		times float64 // least squares must be worse by this
	}{
		{"uniform 16 ms, 3 min", 120, 3 * time.Minute, uniform(16 * time.Millisecond), 25, 0.7},
		{"uniform 16 ms, 10 min", 480, 10 * time.Minute, uniform(16 * time.Millisecond), 2, 1.5},
		{"uniform 1 ms, 3 min", 120, 3 * time.Minute, uniform(time.Millisecond), 2, 0.7},
		{"exponential 0.8 ms, 10 min", 480, 10 * time.Minute, exponential, 0.1, 4},
		{"spikes, 3 min", 120, 3 * time.Minute, spiky, 25, 5},
		{"spikes, 10 min", 480, 10 * time.Minute, spiky, 2.5, 8},
	} {
		hull, squares := errors95(c.n, c.span, c.j)
		t.Logf("%-28s p95 of 60 runs: hull %.2f ppm, least squares %.2f ppm", c.name, hull, squares)
		if !(hull <= c.limit) || !(squares >= c.times*hull) {
			t.Errorf("%s: hull %.2f ppm (limit %.2f), least squares %.2f (wanted %.1f times as bad)", c.name, hull, c.limit, squares, c.times)
		}
	}
}

func TestHullMapsHostToCounter(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	var h Hull
	if _, ok := h.X(0); ok {
		t.Error("an estimate out of nothing")
	}
	for i := range 1200 { // 20 minutes, one a second
		sent := time.Duration(i) * time.Second
		h.Add(sent, time.Duration(float64(sent)*(1-100e-6))+time.Hour+exponential(r))
	}
	d, ok := h.Drift()
	if !ok || math.Abs(d.PPM()-100) > 1 {
		t.Errorf("drift %v ppm, want 100", d.PPM())
	}
	sent := 1200 * time.Second
	x, ok := h.X(time.Duration(float64(sent)*(1-100e-6)) + time.Hour)
	if off := x - sent; !ok || off < -time.Millisecond || off > time.Millisecond {
		t.Errorf("mapped %v off", off)
	}
	if len(h.points) > pointsMax {
		t.Errorf("%d points kept", len(h.points))
	}
}

// TestFirstEstimateIsNotRash: one late message at the end of a short window would
// make the counter seem slow by 7 %.
func TestFirstEstimateIsNotRash(t *testing.T) {
	var h Hull
	for range 40 {
		h.Add(0, 0)
	}
	h.Add(time.Minute, 64*time.Second)
	if d, ok := h.Drift(); ok {
		t.Errorf("%.0f ppm", d.PPM())
	}
	// An oscillator that is really 2 % off is believed after a while.
	h = Hull{}
	for i := range 200 {
		sent := time.Duration(i) * time.Second
		h.Add(sent, sent*98/100)
	}
	if d, ok := h.Drift(); !ok || math.Abs(d.PPM()-20408) > 1 { // 1/0.98 - 1
		t.Errorf("%.0f ppm, %v", d.PPM(), ok)
	}
}

// TestHullIsBounded: a counter that talks a thousand times a second for an
// hour must not fill memory, and the estimate must stay good.
func TestHullIsBounded(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	var h Hull
	for i := range 400_000 {
		sent := time.Duration(i) * time.Millisecond
		h.Add(sent, time.Duration(float64(sent)*(1+50e-6))+exponential(r))
	}
	d, ok := h.Drift()
	if !ok || math.Abs(d.PPM()+50) > 1 || len(h.points) > pointsMax || cap(h.points) > 2*pointsMax {
		t.Errorf("%v ppm, %d points", d.PPM(), len(h.points))
	}
}

func BenchmarkHullAdd(b *testing.B) {
	var h Hull
	i := 0
	b.ReportAllocs()
	for b.Loop() {
		sent := time.Duration(i) * 100 * time.Millisecond
		h.Add(sent, sent+time.Duration(i*7919%16000)*time.Microsecond)
		i++
	}
}

func BenchmarkRead(b *testing.B) {
	l := line(32, 1000000)
	i := 0
	b.ReportAllocs()
	for b.Loop() {
		l.Read(uint64(i)*100000, time.Duration(i)*100*time.Millisecond)
		i++
	}
}

// A night at two hundredfold speed: lateness that falls from 300 ms to nothing within a second of the receiver's time must not be
// taken for a clock that runs fast. Taken so, heats ended before they began.
func TestLatenessAtGreatSpeedIsNotDrift(t *testing.T) {
	h := Hull{Speed: 200}
	var last time.Duration
	for i := range 400 {
		sent := time.Duration(i) * time.Second
		late := max(300*time.Millisecond-time.Duration(i)*time.Millisecond, 0)
		received := sent + time.Duration(float64(late)*200) // in the sender's seconds
		h.Add(sent, received)
		last = received
		if x, ok := h.X(received); !ok || x > sent+time.Duration(float64(late)*200) {
			t.Fatalf("after message %d, sent at %s, the sender's clock is put at %s", i, sent, x)
		}
	}
	if x, _ := h.X(last + time.Minute); x > 400*time.Second+time.Minute {
		t.Errorf("a minute on the clock is put at %s", x)
	}
}
