package rotation

// DriverPlan is one driver's evening.
type DriverPlan struct {
	Driver int
	Stints []Stint
	// Gaps holds the heats he sits out before his first heat, between one and
	// the next, and after his last.
	Gaps []int
	Duty []int // heats in which he stands at a post
	// Met holds for every driver, from driver 1, the heats driven together.
	Met      []int
	MeanHeat float64
	Wait     int // longest gap
	Streak   int // most heats in a row
}

// Stint is a heat that a driver drives, and his lane; both count from 1.
type Stint struct{ Heat, Lane int }

// Explain tells each driver's evening, in driver order.
func (d Draw) Explain() []DriverPlan {
	met := Meetings(d.Drivers, d.Heats)
	out := make([]DriverPlan, d.Drivers)
	for i, at := range stints(d.Drivers, d.Heats) {
		x := DriverPlan{Driver: i + 1, Met: met[i]}
		last, run, sum := -1, 0, 0
		for j, t := range at {
			x.Stints = append(x.Stints, Stint{t.heat + 1, t.lane + 1})
			g := t.heat - last - 1
			x.Gaps = append(x.Gaps, g)
			x.Wait = max(x.Wait, g)
			if g > 0 || j == 0 {
				run = 0
			}
			run++
			x.Streak = max(x.Streak, run)
			last = t.heat
			sum += t.heat + 1
		}
		if len(at) > 0 {
			g := len(d.Heats) - 1 - last
			x.Gaps = append(x.Gaps, g)
			x.Wait = max(x.Wait, g)
			x.MeanHeat = float64(sum) / float64(len(at))
		}
		for h, row := range d.Duty {
			if drives(row, i+1) {
				x.Duty = append(x.Duty, h+1)
			}
		}
		out[i] = x
	}
	return out
}

// Comparison sets one figure of a draw beside its bound and the same figure of
// the rolling rotation.
type Comparison struct {
	Claim
	Rolling    int64
	HasRolling bool
}

// Compare sets the claims of a draw beside those of another, usually the
// rolling rotation of the same field (see [Baseline]).
func Compare(d, rolling Draw) []Comparison {
	var out []Comparison
	for _, c := range d.Claims {
		x := Comparison{Claim: c}
		for _, r := range rolling.Claims {
			if r.Criterion == c.Criterion && r.Figure == c.Figure {
				x.Rolling, x.HasRolling = r.Value, true
			}
		}
		out = append(out, x)
	}
	return out
}

// Baseline is the rolling rotation to set beside a draw of p. A short rotation
// is set beside a rolling one that stops after as many heats; not everybody
// then drives equally often.
func Baseline(p Problem) (Draw, error) {
	short := p.Kind == ShortKind
	p, err := p.normal()
	if err != nil {
		return Draw{}, err
	}
	heats, err := roll(p)
	if err != nil {
		return Draw{}, err
	}
	for short && len(heats) < p.Heats {
		heats = append(heats, heats...)
	}
	if short {
		heats = heats[:p.Heats]
	}
	p.Kind = RollingOn
	return p.finish(heats, p.Rounds), nil
}
