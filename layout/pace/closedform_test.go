package pace

import (
	"math"
	"testing"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// shape is one piece of a one-lane test track, in metres and degrees.
type shape struct {
	straight  float64 // length
	radius    float64
	turn      float64 // degrees, positive to the left
	rise      float64 // m
	bank      float64 // degrees
	curvature float64 // with straight: a made-up curvature that turns nowhere, for paths that need not close
}

// hoop is a curvature without a place: par laps read nothing else.
type hoop struct{ length, k float64 }

func (h hoop) Length() float64           { return h.length }
func (h hoop) At(float64) curve.Pose     { return curve.Pose{} }
func (h hoop) Curvature(float64) float64 { return h.k }

func oneLane(shapes ...shape) layout.Track {
	road := layout.Road{Number: 1, Positions: 1}
	for i, s := range shapes {
		var seg curve.Segment
		switch {
		case s.curvature != 0:
			seg = hoop{s.straight * 1000, s.curvature / 1000}
		case s.radius > 0:
			seg = curve.Arc{RadiusMM: s.radius * 1000, Turn: s.turn * math.Pi / 180}
		default:
			seg = curve.Line{LengthMM: s.straight * 1000}
		}
		way := layout.Strand{From: 1, To: 1, Plan: curve.Path{seg}, RiseMM: s.rise * 1000, LengthMM: math.Hypot(seg.Length(), s.rise*1000)}
		road.Pieces = append(road.Pieces, layout.Placed{Index: i + 1, Call: i + 1, Road: 1, Piece: "piece", BankDeg: s.bank,
			Stay: []layout.Strand{way}})
	}
	road.Pieces[0].Sensors = []layout.Sensor{{Number: 1, AtMM: []float64{0}}}
	return layout.Track{Roads: []layout.Road{road}, Lanes: []layout.Lane{{Number: 1, At: layout.LaneRef{Road: 1, Position: 1}, EndsIn: 1}}}
}

func par(t testing.TB, track layout.Track, c Car) Par {
	t.Helper()
	r, err := LaneRibbon(track, 1)
	if err != nil {
		t.Fatal(err)
	}
	p, err := DrivePar(r, c, true)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func near(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s is %.10f, want %.10f (off by %.2e, allowed %.0e)", what, got, want, math.Abs(got/want-1), relative)
	}
}

// In a circle of radius R the car holds v = sqrt(mu (g + magnet) R) all the way round: t = 2 pi R/v.
func TestCircle(t *testing.T) {
	circle := oneLane(shape{radius: 0.27, turn: 180}, shape{radius: 0.27, turn: 180})
	c := Car{Name: "c", Grip: 0.9, Drive: 6.5, Top: 7.5, Brake: 6}
	p := par(t, circle, c)
	near(t, "lap", p.LapsS[0], 2*math.Pi*math.Sqrt(0.27/(0.9*Gravity)), 1e-9)
	near(t, "lap in figures", p.LapsS[0], 1.0989556291, 1e-9)
	near(t, "speed", p.TopMS, 1.5437020276, 1e-9)
	c.Magnet = 12
	near(t, "lap with a magnet", par(t, circle, c).LapsS[0], 0.7369635684, 1e-9)
}

// From standstill dv/dt = a0 (1 - v/vmax) gives x(v) = -(vmax^2/a0)(q + ln(1-q)) and t(v) = -(vmax/a0) ln(1-q) with
// q = v/vmax. The program has no standing starts, so the run begins at a small speed x0 into it.
func TestDriveFromRest(t *testing.T) {
	a0, top := 6.5, 7.5
	x := func(v float64) float64 { return -(top * top / a0) * (v/top + math.Log(1-v/top)) }
	at := func(v float64) float64 { return -(top / a0) * math.Log(1-v/top) }
	near(t, "x(5)", x(5), 3.7379909596, 1e-10)
	near(t, "t(5)", at(5), 1.2676295638, 1e-10)
	// A hairpin so tight that the car leaves it at 0.2 m/s, then a straight; grip does not limit the drive.
	c := Car{Name: "c", Grip: 1, Drive: a0, Top: top, Brake: 100}
	slow := 0.2
	radius := slow * slow / Gravity
	p := par(t, oneLane(shape{straight: x(5) - x(slow)}, shape{straight: 3}, shape{radius: radius, turn: 90}), c)
	for _, pt := range p.Points {
		if math.Abs(pt.AtMM-(x(5)-x(slow))*1000) < 1e-6 {
			near(t, "speed there", pt.SpeedMS, 5, 1e-6)
			near(t, "time there", pt.TimeS, at(5)-at(slow), 1e-4) // the first steps from almost nothing are coarse
			return
		}
	}
	t.Error("no point at the end of the run")
}

func TestDriveOverThreeMetres(t *testing.T) {
	a0, top, v0 := 6.5, 7.5, 1.5
	x := func(v float64) float64 { return -(top * top / a0) * (v/top + math.Log(1-v/top)) }
	c := Car{Name: "c", Grip: 1, Drive: a0, Top: top, Brake: 100}
	// v = 4.6457780663 is reached 3 m from standstill.
	near(t, "x", x(4.6457780663), 3, 1e-9)
	p := par(t, oneLane(shape{straight: 3 - x(v0)}, shape{straight: 3}, shape{radius: v0 * v0 / Gravity, turn: 90}), c)
	for _, pt := range p.Points {
		if math.Abs(pt.AtMM-(3-x(v0))*1000) < 1e-6 {
			near(t, "speed", pt.SpeedMS, 4.6457780663, 1e-7)
			near(t, "time", pt.TimeS, 1.1147350871+(top/a0)*math.Log(1-v0/top), 1e-6)
			return
		}
	}
	t.Error("no point at the end of the run")
}

// A straight L between equal speeds vc with constant acceleration a and braking b: vp = sqrt(vc^2 + 2abL/(a+b)),
// t = (vp - vc)(1/a + 1/b). A drive that does not fall with speed is the limit of an endless top speed.
func TestStraightBetweenBends(t *testing.T) {
	mu := 0.9
	c := Car{Name: "c", Grip: mu, Drive: 4, Top: carMost, Brake: 6}
	r := 4 / (mu * Gravity) // vc = 2
	p := par(t, oneLane(shape{straight: 3}, shape{radius: r, turn: 180}, shape{straight: 3}, shape{radius: r, turn: 180}), c)
	// Drive falls by v/top = 4e-4 of itself here, so the agreement is of that order.
	near(t, "peak", p.TopMS, 4.2895221179, 1e-3)
	near(t, "lap", p.LapsS[0]/2-math.Pi*r/2, 0.9539675491, 1e-3)
	near(t, "closed form", (4.2895221179-2)*(1.0/4+1.0/6), 0.9539675491, 1e-9)
}

// stadium gives the closed form of two straights L and two half circles R: the car leaves the bends at vc, drives to vp
// and brakes back to vc.
func stadium(l, r float64, c Car) (vc, vp, lap float64) {
	x := func(v float64) float64 { return -(c.Top * c.Top / c.Drive) * (v/c.Top + math.Log(1-v/c.Top)) }
	at := func(v float64) float64 { return -(c.Top / c.Drive) * math.Log(1-v/c.Top) }
	vc = math.Sqrt(c.Grip * Gravity * r)
	lo, hi := vc, c.Top*(1-1e-12)
	for range 200 {
		vp = (lo + hi) / 2
		if x(vp)-x(vc)+(vp*vp-vc*vc)/(2*c.Brake) < l {
			lo = vp
		} else {
			hi = vp
		}
	}
	return vc, vp, 2 * (at(vp) - at(vc) + (vp-vc)/c.Brake + math.Pi*r/vc)
}

func TestStadium(t *testing.T) {
	for _, w := range []struct{ l, r, grip, drive, top, brake, lap float64 }{
		{2, 0.45, 0.9, 6.5, 7.5, 6, 2.8163207319},
		{3, 0.4, 0.9, 6, 9, 7, 3.2543118216},
	} {
		c := Car{Name: "c", Grip: w.grip, Drive: w.drive, Top: w.top, Brake: w.brake}
		p := par(t, oneLane(shape{straight: w.l}, shape{radius: w.r, turn: 180}, shape{straight: w.l}, shape{radius: w.r, turn: 180}), c)
		vc, vp, lap := stadium(w.l, w.r, c)
		near(t, "closed form", lap, w.lap, 1e-10)
		near(t, "lap", p.LapsS[0], w.lap, 1e-6)
		near(t, "least speed", p.LeastMS, vc, 1e-9)
		near(t, "peak", p.TopMS, vp, 1e-6)
		if len(p.Brakes) != 2 {
			t.Fatalf("brakes %d times, want twice", len(p.Brakes))
		}
		near(t, "braking distance", (p.Brakes[0].UntilMM-p.Brakes[0].AtMM)/1000, (vp*vp-vc*vc)/(2*c.Brake), 1e-4)
		near(t, "where the brakes end", p.Brakes[0].UntilMM, w.l*1000, 1e-9)
	}
}

// With nothing but the friction circle, w = mu g R sin(2 theta + c) in an arc: on a path of half a circle R 0.2 and 2 rad
// of R 0.8 the car speeds up along one circle and slows down along the other. The figure was computed from that form by
// a separate program; only curvature matters, so the path need not close.
func TestFrictionCircle(t *testing.T) {
	c := Car{Name: "c", Grip: 0.8, Drive: carMost, Top: carMost, Brake: carMost}
	p := par(t, oneLane(shape{radius: 0.2, turn: 180}, shape{radius: 0.8, turn: 2 * 180 / math.Pi}), c)
	near(t, "lap", p.LapsS[0], 1.2352701145, 1e-6)

	// The same from the closed form. In the large circle, forwards from vc: w = mu g R2 sin(2 theta + c0) with
	// sin c0 = R1/R2, and backwards alike; by symmetry they meet half way.
	mu, r1, r2, angle := c.Grip, 0.2, 0.8, 2.0
	c0 := math.Asin(r1 / r2)
	sum := 0.0
	const n = 200000
	for i := range n { // midpoint rule over half the arc
		theta := (float64(i) + 0.5) / n * angle / 2
		phase := min(2*theta+c0, math.Pi/2)
		sum += r2 * (angle / 2 / n) / math.Sqrt(mu*Gravity*r2*math.Sin(phase))
	}
	near(t, "closed form", 2*sum+math.Pi*r1/math.Sqrt(mu*Gravity*r1), 1.2352701145, 1e-8)
}

// A bend of radius R banked by B holds v^2 = g R (tan B + mu)/(1 - mu tan B).
func TestBankedBend(t *testing.T) {
	c := Car{Name: "c", Grip: 0.5, Drive: 6, Top: 8, Brake: 6}
	banked := par(t, oneLane(shape{radius: 0.5, turn: 360, bank: 15}), c)
	near(t, "banked", banked.TopMS, 2.0851930470, 1e-9)
	near(t, "flat", par(t, oneLane(shape{radius: 0.5, turn: 360}), c).TopMS, 1.5657785603, 1e-9)
	tan := math.Tan(15 * math.Pi / 180)
	near(t, "formula", math.Sqrt(Gravity*0.5*(tan+0.5)/(1-0.5*tan)), 2.0851930470, 1e-9)
}

// Halving the step changes a lap less and less.
func TestStepsConverge(t *testing.T) {
	c := builtin[0]
	track := oneLane(shape{straight: 1.7}, shape{radius: 0.3, turn: 120}, shape{straight: 0.4}, shape{radius: 0.6, turn: 150, rise: 0.05},
		shape{straight: 2, rise: -0.05}, shape{radius: 0.45, turn: 90})
	var laps []float64
	for _, step := range []float64{20, 10, 5, 1, 0.125} {
		g := graph(t, track)
		r, err := laneRibbon(g, 1, 1, step)
		if err != nil {
			t.Fatal(err)
		}
		p, err := DrivePar(r, c, false)
		if err != nil {
			t.Fatal(err)
		}
		laps = append(laps, p.LapsS[0])
		t.Logf("step %6.3f mm: %.9f s", step, p.LapsS[0])
	}
	fine := laps[len(laps)-1]
	if math.Abs(laps[1]-fine) > 2e-6 || math.Abs(laps[3]-fine) > math.Abs(laps[0]-fine)+1e-9 {
		t.Errorf("laps %v do not converge", laps)
	}
}
