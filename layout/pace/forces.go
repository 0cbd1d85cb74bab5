package pace

import "math"

// Gravity is the standard acceleration of free fall in m/s2, exact by definition (3rd CGPM, 1901).
const Gravity = 9.80665

// grip says what the tyres can still give along the way at squared speed w, with curvature k.
//
// In the plane of the road: the bend asks for w k across, of which a bank takes its part; the tyres carry at most
// mu times what presses the car down. What is left of the friction circle (traction circle, g-g diagram: Milliken and
// Milliken, Race Car Vehicle Dynamics, 1995, from memory) drives or brakes. A car slower than its bank leans on the slot.
func (s *step) grip(c *Car, w, k float64) float64 {
	if s.sinB == 0 {
		press := c.Grip * (Gravity*s.cosA + c.Magnet)
		across := w * k
		if across >= press {
			return 0
		}
		return math.Sqrt(press*press - across*across)
	}
	across := w*k*s.cosB - Gravity*s.cosA*s.sinB
	press := c.Grip * (Gravity*s.cosA*s.cosB + w*k*s.sinB + c.Magnet)
	if across <= 0 || k == 0 {
		return max(0, press)
	}
	if across >= press {
		return 0
	}
	return math.Sqrt(press*press - across*across)
}

// limit is the greatest squared speed at which the tyres hold with curvature k: grip without anything left. It is
// infinite on a straight, and on a bank so steep that every speed holds.
func (s *step) limit(c *Car, k float64) float64 {
	hold := c.Grip * (Gravity*s.cosA*s.cosB + c.Magnet)
	if s.sinB != 0 {
		// w k (cosB - mu sinB) = mu (g cosB + magnet) + g sinB
		hold += Gravity * s.cosA * s.sinB
		k *= s.cosB - c.Grip*s.sinB
	}
	if k <= 0 {
		return math.Inf(1)
	}
	return max(hold, 0) / k
}

// ahead is dw/ds under full drive.
func (s *step) ahead(c *Car, w, k float64) float64 {
	t := c.Drive * (1 - math.Sqrt(max(w, 0))/c.Top)
	if t > 0 {
		t = min(t, s.grip(c, w, k))
	}
	return 2 * (t - Gravity*s.sinA)
}

// behind is dw/d(-s) under full brakes: what is gained looking backwards.
func (s *step) behind(c *Car, w, k float64) float64 {
	return 2 * (min(c.Brake, s.grip(c, w, k)) + Gravity*s.sinA)
}

// forward takes squared speed w through the step under full drive, backward the other way under full brakes.
func (s *step) forward(c *Car, w float64) float64 {
	if next, ok := s.round(c, w); ok &&
		c.Drive*(1-math.Sqrt(w)/c.Top) >= s.grip(c, w, s.k[0]) && c.Drive*(1-math.Sqrt(next)/c.Top) >= s.grip(c, next, s.k[0]) {
		return next
	}
	return s.rungeKutta(c, w, (*step).ahead, s.k[0], s.k[1], s.k[2])
}

func (s *step) backward(c *Car, w float64) float64 {
	if next, ok := s.round(c, w); ok && c.Brake >= s.grip(c, w, s.k[0]) {
		return next // speed grows and grip falls, so the brake stays the stronger
	}
	return s.rungeKutta(c, w, (*step).behind, s.k[2], s.k[1], s.k[0])
}

// round is the exact step where grip alone counts, on a flat arc: dw/ds = 2 sqrt(p^2 - (w k)^2) gives
// w = p/k sin(2 k s + const), up to the limit p/k where it stays. Near the limit the slope has no bounded derivative, and
// a rule for smooth functions would lose its accuracy there.
func (s *step) round(c *Car, w float64) (float64, bool) {
	k := s.k[0]
	if !s.even || k == 0 || s.sinA != 0 || s.sinB != 0 {
		return 0, false
	}
	most := c.Grip * (Gravity + c.Magnet) / k
	if w >= most {
		return most, true
	}
	return most * math.Sin(min(math.Asin(w/most)+2*k*s.length, math.Pi/2)), true
}

// rungeKutta is the classical rule of order four.
func (s *step) rungeKutta(c *Car, w float64, slope func(*step, *Car, float64, float64) float64, k0, k1, k2 float64) float64 {
	h := s.length
	a := slope(s, c, w, k0)
	b := slope(s, c, w+h/2*a, k1)
	d := slope(s, c, w+h/2*b, k1)
	e := slope(s, c, w+h*d, k2)
	return w + h/6*(a+2*b+2*d+e)
}

// driveTime is the time through the step from squared speed a to b, both on the forward profile; brakeTime on the
// backward one. Taking w as linear gives 2h/(v+v'), exact for a constant acceleration; doing so over both halves, with
// the middle from the slopes at the ends, and extrapolating (Richardson) leaves an error of order five in h.
func (s *step) driveTime(c *Car, a, b float64) float64 {
	return s.time(a, b, s.ahead(c, a, s.k[0]), s.ahead(c, b, s.k[2]))
}

func (s *step) brakeTime(c *Car, a, b float64) float64 {
	return s.time(a, b, -s.behind(c, a, s.k[0]), -s.behind(c, b, s.k[2]))
}

func (s *step) time(a, b, da, db float64) float64 {
	h := s.length
	va, vb := math.Sqrt(a), math.Sqrt(b)
	whole := 2 * h / (va + vb)
	middle := (a+b)/2 + h/8*(da-db)
	// Where the slopes do not fit the ends, the step ran into a limit: take the plain rule.
	if !(math.Abs(h/2*(da+db)-(b-a)) <= 0.02*math.Abs(b-a)) || middle <= 0 {
		return whole
	}
	vm := math.Sqrt(middle)
	return (4*(h/(va+vm)+h/(vm+vb)) - whole) / 3
}

// peak finds where in the step the drive from f0 to f1 meets the brakes from b0 to b1, as a share of the step, and the
// squared speed there. Each is taken as the cubic through its ends with its slopes there (Hermite), and the place is
// found by halving, which needs no more than that the one starts below and ends above the other.
func (s *step) peak(c *Car, f0, f1, b0, b1 float64) (share, w float64) {
	h := s.length
	drive := hermite(f0, f1, h*s.ahead(c, f0, s.k[0]), h*s.ahead(c, f1, s.k[2]))
	brake := hermite(b0, b1, -h*s.behind(c, b0, s.k[0]), -h*s.behind(c, b1, s.k[2]))
	lo, hi := 0.0, 1.0
	for range 30 {
		if share = (lo + hi) / 2; drive(share) < brake(share) {
			lo = share
		} else {
			hi = share
		}
	}
	return share, max(min(drive(share), brake(share)), min(f0, b1), stalled)
}

func hermite(a, b, da, db float64) func(u float64) float64 {
	return func(u float64) float64 {
		v := 1 - u
		return v*v*(1+2*u)*a + u*u*(1+2*v)*b + u*v*v*da - u*u*v*db
	}
}
