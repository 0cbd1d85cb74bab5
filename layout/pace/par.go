// Package pace says how fast a lane can be driven: the par lap of a modelled car, from the same curves that the lane's
// length comes from, and what a real lap time means as a speed in scale.
//
// A par lap is a quasi-steady-state lap of a point mass: the bends limit the speed; between them the car drives as hard
// as motor and grip allow and brakes as late as it can. Speed limits come from the curvature, then one integration
// forwards under drive and one backwards under brakes, and the lower of both holds (N. R. Kapania, J. Subosits and
// J. C. Gerdes, J. Dyn. Sys. Meas. Control 138(9) 091005, 2016; B. Siegler and others, SAE 2000-01-3563).
// Crests and dips, shifting loads and the time it takes to steer are left out.
package pace

import (
	"errors"
	"fmt"
	"math"
)

// Par is a par lap, or the laps of a joined slot one after the other.
type Par struct {
	Car      string    `json:"car"`
	Lanes    []int     `json:"lanes"`  // in which the laps start
	LapsS    []float64 `json:"laps_s"` // time of each lap in seconds
	MeanS    float64   `json:"mean_s"`
	LengthMM float64   `json:"length_mm"` // of all laps
	TopMS    float64   `json:"top_ms"`
	LeastMS  float64   `json:"least_ms"`
	Brakes   []Brake   `json:"brakes"`
	Points   []Point   `json:"points,omitempty"`
}

// Point is the state of the car at one place.
type Point struct {
	AtMM     float64 `json:"at_mm"` // from the line at the start of the first lap
	TimeS    float64 `json:"time_s"`
	SpeedMS  float64 `json:"speed_ms"`
	AccelMS2 float64 `json:"accel_ms2"` // along the way, from here on; negative under brakes
	LimitMS  float64 `json:"limit_ms"`  // what the bend allows; 0 where nothing limits
}

// Brake is a stretch on which the car brakes.
type Brake struct {
	AtMM    float64 `json:"at_mm"` // from the line at the start of the first lap
	UntilMM float64 `json:"until_mm"`
	FromMS  float64 `json:"from_ms"`
	ToMS    float64 `json:"to_ms"`
	Road    int     `json:"road"`
	Index   int     `json:"index"` // of the piece on which the car begins to brake
	Call    int     `json:"call"`
	Piece   string  `json:"piece"`
}

// ErrStall reports a slope that the modelled car cannot climb.
var ErrStall = errors.New("the car cannot climb")

// lapsMost bounds how often the lap is driven round until it repeats itself. The speed at the slowest bend forgets the
// lap before within one lap; only layouts without any bend that limits need more.
const lapsMost = 500

// settled is the relative change of a squared speed below which a lap repeats itself.
const settled = 1e-12

// DrivePar drives the ribbon round and round as fast as the car allows and returns the lap that repeats itself. points
// asks for the state at every step as well. Errors wrap [ErrCar], [ErrRibbon] or [ErrStall].
func DrivePar(r Ribbon, c Car, points bool) (Par, error) {
	var d driver
	return d.drive(r, c, points)
}

// driver keeps its room between laps, so that a whole layout needs it once.
type driver struct {
	limit, fore, aft []float64
	free             float64 // a limit from here up limits nothing
}

func (d *driver) drive(r Ribbon, c Car, points bool) (Par, error) {
	if err := c.Check(); err != nil {
		return Par{}, err
	}
	if err := d.profile(r, c); err != nil {
		return Par{}, err
	}
	p := Par{Car: c.Name, Lanes: r.Lanes, LengthMM: r.LengthMM(), LeastMS: math.Inf(1)}
	d.clock(r, &c, &p, points)
	for _, s := range p.LapsS {
		p.MeanS += s
	}
	p.MeanS /= float64(len(p.LapsS))
	return p, nil
}

// profile fills fore and aft with the squared speeds at the joints; joint 0 and the last are the same place.
func (d *driver) profile(r Ribbon, c Car) error {
	n := len(r.steps)
	if n == 0 {
		return fmt.Errorf("pace: nothing to drive: %w", ErrRibbon)
	}
	d.limit, d.fore, d.aft = room(d.limit, n+1), room(d.fore, n+1), room(d.aft, n+1)
	start := d.limits(r, c)
	top := c.Top * c.Top
	if !d.round(r, c, start, min(d.limit[start], top), d.fore, 1) {
		return fmt.Errorf("pace: car %q stalls on a slope; it needs more drive or grip, or the layout a gentler ramp: %w", c.Name, ErrStall)
	}
	// Backwards, an endless straight would gain for ever: above the fastest forward lap nothing matters.
	most := top
	for _, w := range d.fore {
		most = max(most, w)
	}
	d.free = 4 * most
	for i := range d.limit {
		d.limit[i] = min(d.limit[i], d.free)
	}
	if !d.round(r, c, start, d.limit[start], d.aft, -1) {
		return fmt.Errorf("pace: car %q cannot slow down on a slope; it needs more brake or grip: %w", c.Name, ErrStall)
	}
	return nil
}

func room(b []float64, n int) []float64 {
	if cap(b) < n {
		return make([]float64, n)
	}
	return b[:n]
}

// limits fills limit at each joint with the lower of the limits on its two sides and returns the lowest joint.
func (d *driver) limits(r Ribbon, c Car) int {
	n := len(r.steps)
	for i := range d.limit {
		d.limit[i] = math.Inf(1)
	}
	for i := range r.steps {
		s := &r.steps[i]
		first := s.limit(&c, s.k[0])
		last := first
		if !s.even {
			last = s.limit(&c, s.k[2])
		}
		d.limit[i], d.limit[i+1] = min(d.limit[i], first), min(d.limit[i+1], last)
	}
	d.limit[0] = min(d.limit[0], d.limit[n])
	d.limit[n] = d.limit[0]
	lowest := 0
	for i := range n {
		if d.limit[i] < d.limit[lowest] {
			lowest = i
		}
	}
	return lowest
}

// stalled is a squared speed so low that the car stands: a tenth of a millimetre a second.
const stalled = 1e-8

// round integrates from the joint start, once round in direction dir, and again until the lap repeats itself. It is
// false when the car stops.
func (d *driver) round(r Ribbon, c Car, start int, w float64, out []float64, dir int) bool {
	n := len(r.steps)
	fresh := true
	for range lapsMost {
		first := w
		if !fresh && math.Abs(out[start]-w) <= settled*w {
			break
		}
		out[start] = w
		i := start
		for range n {
			var next int
			if dir > 0 {
				w, next = d.stepAhead(r, &c, i, w), i+1
			} else {
				if i == 0 {
					i = n
				}
				w, next = d.stepBack(r, &c, i-1, w), i-1
			}
			if next == n {
				next = 0
			}
			if !(w > stalled) {
				return false
			}
			if next != start {
				if !fresh && math.Abs(out[next]-w) <= settled*w {
					// From here on this lap is the one before.
					return d.close(out)
				}
				out[next] = w
			}
			i = next
		}
		fresh = false
		if math.Abs(w-first) <= settled*w {
			break
		}
	}
	return d.close(out)
}

// close gives the last joint the value of the first, which is the same place.
func (d *driver) close(out []float64) bool {
	out[len(out)-1] = out[0]
	return true
}

func (d *driver) stepAhead(r Ribbon, c *Car, i int, w float64) float64 {
	s := &r.steps[i]
	if s.even && s.sinA == 0 && w >= d.limit[i] && d.limit[i] == d.limit[i+1] {
		return min(w, d.limit[i+1]) // at the limit of a bend nothing is left to drive with
	}
	return min(s.forward(c, w), d.limit[i+1])
}

func (d *driver) stepBack(r Ribbon, c *Car, i int, w float64) float64 {
	s := &r.steps[i]
	if s.even && s.sinA == 0 && w >= d.limit[i+1] && d.limit[i] == d.limit[i+1] {
		return min(w, d.limit[i])
	}
	return min(s.backward(c, w), d.limit[i])
}

// clock runs along the lower of both profiles and takes the times.
func (d *driver) clock(r Ribbon, c *Car, p *Par, points bool) {
	at, lap := 0.0, 0
	lapStart := 0.0
	var braking *Brake
	if points {
		p.Points = make([]Point, 0, len(r.steps)+1)
	}
	for i := range r.steps {
		if lap+1 < len(r.lapAt) && i == r.lapAt[lap+1] {
			p.LapsS = append(p.LapsS, at-lapStart)
			lap, lapStart = lap+1, at
		}
		t := d.through(&r.steps[i], c, i)
		if points {
			p.Points = append(p.Points, d.point(r, i, at, t.a, (t.b-t.a)/(2*r.steps[i].length)))
		}
		braking = note(r, p, braking, i, t)
		p.TopMS, p.LeastMS = max(p.TopMS, t.peak), min(p.LeastMS, t.a)
		at += t.seconds
	}
	if points {
		n := len(r.steps)
		p.Points = append(p.Points, d.point(r, n, at, min(d.fore[n], d.aft[n]), p.Points[0].AccelMS2))
	}
	p.LapsS = append(p.LapsS, at-lapStart)
	p.TopMS, p.LeastMS = math.Sqrt(p.TopMS), math.Sqrt(p.LeastMS)
}

func (d *driver) point(r Ribbon, i int, at, w, accel float64) Point {
	pt := Point{AtMM: r.at[i] * 1000, TimeS: at, SpeedMS: math.Sqrt(w), AccelMS2: accel}
	if l := d.limit[i]; l < d.free {
		pt.LimitMS = math.Sqrt(l)
	}
	return pt
}

// passage is what happens within one step.
type passage struct {
	a, b    float64 // squared speeds at its ends
	peak    float64 // the greatest one
	share   float64 // of the step before the brakes come on: 1 not at all, 0 all the way
	seconds float64
}

func (d *driver) through(s *step, c *Car, i int) passage {
	p := passage{a: min(d.fore[i], d.aft[i]), b: min(d.fore[i+1], d.aft[i+1]), share: 1}
	before, after := d.aft[i]-d.fore[i], d.aft[i+1]-d.fore[i+1]
	switch {
	case before > 0 && after < 0:
		// Fore and aft change places: the step is cut at the peak.
		p.share, p.peak = s.peak(c, d.fore[i], d.fore[i+1], d.aft[i], d.aft[i+1])
		v := math.Sqrt(p.peak)
		p.seconds = 2 * s.length * (p.share/(math.Sqrt(p.a)+v) + (1-p.share)/(v+math.Sqrt(p.b)))
		return p
	case p.b < p.a && before <= 0 && after <= 0:
		p.seconds = s.brakeTime(c, p.a, p.b)
		p.share = 0
	case p.a == p.b:
		p.seconds = s.length / math.Sqrt(p.a)
	default:
		p.seconds = s.driveTime(c, p.a, p.b)
	}
	p.peak = max(p.a, p.b)
	return p
}

// note keeps the list of stretches under brakes.
func note(r Ribbon, p *Par, open *Brake, i int, t passage) *Brake {
	if t.share == 1 {
		return nil
	}
	if open == nil {
		piece := r.pieceAt(i)
		p.Brakes = append(p.Brakes, Brake{AtMM: (r.at[i] + t.share*r.steps[i].length) * 1000, FromMS: math.Sqrt(t.peak),
			Road: piece.Road, Index: piece.Index, Call: piece.Call, Piece: piece.Piece})
		open = &p.Brakes[len(p.Brakes)-1]
	}
	open.UntilMM, open.ToMS = r.at[i+1]*1000, math.Sqrt(t.b)
	return open
}
