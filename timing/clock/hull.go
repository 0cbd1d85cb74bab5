package clock

import "time"

// Hull relates two clocks by messages that one sends and the other receives.
// Every message is late by a fixed delay and some more, never less, so the
// lower convex hull of (sent, received-sent) is the line of the punctual ones:
// its edge across the middle of the window gives rate and offset. Late messages,
// however late, do not touch it. It is the idea behind keeping the minimum-delay
// sample in RFC 5905, section 10, applied to a line. The zero value is ready.
type Hull struct {
	// Speed is how many seconds pass on the sender's clock in one of the receiver's: 1 (also
	// 0) in real life, more in a simulated night. Messages are late by the receiver's clock,
	// so at sixty-fold speed the same lateness needs a window sixty times as long.
	Speed float64

	points []point       // x rising, at most pointsMax
	edges  []point       // scratch for the hull
	low    time.Duration // lowest d of the points, more or less: see refit
	next   time.Duration
	found  Drift
	ok     bool
	seen   int
	odd    int // fits in a row that were refused as too far off
}

type point struct{ x, d time.Duration }

// Window of the estimate and what it takes to give one.
const (
	Window    = 10 * time.Minute
	EventsMin = 30
	SpanMin   = time.Minute
	pointsMax = 4096
	refresh   = 5 * time.Second // of counter time between two fits

	// leapMax: a new estimate further than this from the old one is not taken
	// over unless it stands for three fits.
	leapMax  = 200e-6
	firstMax = 1e-3 // the same for the first one
	// AlarmPPM is the drift above which people should be told.
	AlarmPPM = 300.0
)

// Drift is a fitted line received = sent + Offset + Slope*sent.
type Drift struct {
	Slope  float64 // dimensionless; positive: the receiver's clock runs fast, the sender's slow
	Offset time.Duration
	Events int
	Span   time.Duration

	origin time.Duration // sent time at which Offset holds
}

// PPM returns by how many parts per million the sender's clock runs fast.
func (d Drift) PPM() float64 { return (1/(1+d.Slope) - 1) * 1e6 }

// Add takes one message: sent and received on the clocks of sender and
// receiver. Sent times must not go back; one that does is ignored.
func (h *Hull) Add(sent, received time.Duration) {
	window := h.stretched(Window)
	if n := len(h.points); n > 0 && sent < h.points[n-1].x {
		return
	}
	h.seen++
	if d := received - sent; len(h.points) == 0 || d < h.low {
		h.low = d
	}
	h.points = append(h.points, point{sent, received - sent})
	if old := sent - window; h.points[0].x < old {
		i := 0
		for h.points[i].x < old {
			i++
		}
		if i > len(h.points)/2 || len(h.points) > pointsMax/2 {
			h.points = append(h.points[:0], h.points[i:]...)
		}
	}
	if len(h.points) >= pointsMax {
		h.thin()
	}
	if sent >= h.next {
		h.next = sent + h.stretched(refresh)
		h.refit()
	}
}

// stretched is a span of the receiver's time on the sender's clock.
func (h *Hull) stretched(d time.Duration) time.Duration {
	if h.Speed <= 1 {
		return d
	}
	return time.Duration(float64(d) * h.Speed)
}

// thin halves the points, keeping the more punctual of each two neighbours.
func (h *Hull) thin() {
	kept := h.points[:0]
	for i := 0; i+1 < len(h.points); i += 2 {
		p := h.points[i]
		if q := h.points[i+1]; q.d < p.d {
			p = q
		}
		kept = append(kept, p)
	}
	h.points = kept
}

// Drift returns the newest estimate; not ok before there are EventsMin messages
// over SpanMin.
func (h *Hull) Drift() (Drift, bool) { return h.found, h.ok }

// X returns the sender's time at the receiver's time received. Not ok before
// the first message.
func (h *Hull) X(received time.Duration) (time.Duration, bool) {
	if len(h.points) == 0 {
		return 0, false
	}
	if !h.ok {
		// No rate yet: the most punctual of the messages so far.
		return received - h.low, true
	}
	f := h.found
	// received = x + Offset + Slope*(x-origin)
	away := float64(received-f.Offset-f.origin) / (1 + f.Slope)
	return f.origin + time.Duration(away), true
}

// refit computes the estimate anew and decides whether to believe it.
func (h *Hull) refit() {
	h.low = h.points[0].d
	for _, p := range h.points {
		h.low = min(h.low, p.d)
	}
	fit, ok := h.fit()
	if !ok {
		return
	}
	// A crystal is good to some 100 ppm, a bare oscillator may be 1 % off. So a first
	// estimate that is far off, and later one that leaps, must stand for a while: the
	// newest message of a window, if it is late, bends the line.
	was, limit := 0.0, firstMax
	if h.ok {
		was, limit = h.found.Slope, leapMax
	}
	if leap := fit.Slope - was; (leap > limit || leap < -limit) && h.odd < 2 {
		h.odd++
		return
	}
	h.found, h.ok, h.odd = fit, true, 0
}

// latest returns the latest time that the sender's clock can show at the receiver's
// time received, by either estimate.
func (h *Hull) latest(received time.Duration) (time.Duration, bool) {
	x, ok := h.X(received)
	return max(x, received-h.low), ok
}

// fit takes the edge of the lower hull across the middle of the window.
func (h *Hull) fit() (Drift, bool) {
	n := len(h.points)
	if n == 0 {
		return Drift{}, false
	}
	last := h.points[n-1].x
	from := 0
	for h.points[from].x < last-h.stretched(Window) {
		from++
	}
	pts := h.points[from:]
	span := last - pts[0].x
	if h.seen < EventsMin || len(pts) < EventsMin || span < h.stretched(SpanMin) {
		return Drift{}, false
	}
	e := h.edges[:0]
	for _, p := range pts {
		if k := len(e); k > 0 && p.x == e[k-1].x { // same moment: the lower one
			if p.d >= e[k-1].d {
				continue
			}
			e = e[:k-1]
		}
		for len(e) >= 2 && !below(e[len(e)-2], e[len(e)-1], p) {
			e = e[:len(e)-1]
		}
		e = append(e, p)
	}
	h.edges = e
	middle := pts[0].x + span/2
	i := 0
	for i+2 < len(e) && e[i+1].x <= middle {
		i++
	}
	if len(e) < 2 {
		return Drift{}, false
	}
	a, b := e[i], e[i+1]
	slope := float64(b.d-a.d) / float64(b.x-a.x)
	return Drift{Slope: slope, Offset: a.d, origin: a.x, Events: len(pts), Span: span}, true
}

// below tells whether b lies below the line from a to c.
func below(a, b, c point) bool {
	return float64(b.d-a.d)*float64(c.x-a.x) < float64(c.d-a.d)*float64(b.x-a.x)
}
