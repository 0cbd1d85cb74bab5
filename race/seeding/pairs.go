package seeding

import (
	"fmt"
	"math"
)

// EloExpected returns the expected score of a rating against another. Source: A.
// E. Elo, The Rating of Chessplayers (1978): logistic curve, 400 points for ten
// to one.
func EloExpected(rating, opponent float64) float64 {
	return 1 / (1 + math.Pow(10, (opponent-rating)/400))
}

// Game is one comparison with an opponent: Score is 1 for ahead, 1/2 for level, 0
// for behind.
type Game struct {
	Rating, Deviation float64 // of the opponent; Elo does not look at the deviation
	Score             float64
}

// Elo returns the new rating and the expected sum of scores. For a night of k
// drivers taken as all pairs divide factor by k-1.
func Elo(rating, factor float64, games []Game) (updated, expected float64, err error) {
	got := 0.0
	for i, g := range games {
		if err := g.check(i); err != nil {
			return 0, 0, err
		}
		expected += EloExpected(rating, g.Rating)
		got += g.Score
	}
	return rating + factor*(got-expected), expected, nil
}

// Glicko is a Glicko-2 rating. A newcomer has 1500, 350, .06.
type Glicko struct{ Rating, Deviation, Volatility float64 }

// glickoScale turns ratings into the system's own scale.
const (
	glickoScale  = 173.7178
	deviationMax = 350.0
)

// Glicko2 returns the rating after a period with the given games; none means that
// the driver was absent. tau holds the volatility back, .3 to 1.2. Source: M. E.
// Glickman, Example of the Glicko-2 system (2013).
func Glicko2(p Glicko, games []Game, tau float64) (Glicko, error) {
	s, err := glickoPeriod(p, games, tau)
	return s.next, err
}

// glickoSteps holds the figures of one period, in the order of the paper.
type glickoSteps struct {
	g, e          []float64
	v, delta      float64
	muNew, phiNew float64
	next          Glicko
}

func glickoPeriod(p Glicko, games []Game, tau float64) (s glickoSteps, err error) {
	if !(p.Deviation > 0) || !(p.Volatility > 0) || !(tau > 0) || math.IsNaN(p.Rating) || math.IsInf(p.Rating+p.Deviation+p.Volatility+tau, 0) {
		return s, fmt.Errorf("seeding: rating %v, tau %v %w: expected positive deviation, volatility and tau", p, tau, ErrBadInput)
	}
	mu, phi := (p.Rating-1500)/glickoScale, p.Deviation/glickoScale
	if len(games) == 0 {
		s.next = p
		s.next.Deviation = math.Min(deviationMax, glickoScale*math.Hypot(phi, p.Volatility))
		return s, nil
	}
	sum := 0.0
	for i, o := range games {
		if err := o.check(i); err != nil {
			return s, err
		}
		pj := o.Deviation / glickoScale
		g := 1 / math.Sqrt(1+3*pj*pj/(math.Pi*math.Pi))
		e := 1 / (1 + math.Exp(-g*(mu-(o.Rating-1500)/glickoScale)))
		s.g, s.e = append(s.g, g), append(s.e, e)
		s.v += g * g * e * (1 - e)
		sum += g * (o.Score - e)
	}
	if s.v == 0 {
		return s, fmt.Errorf("seeding: opponents of rating %v are too far from %v to tell anything %w", games[0].Rating, p.Rating, ErrBadInput)
	}
	s.v = 1 / s.v
	s.delta = s.v * sum
	vol := volatility(s.delta, phi, s.v, p.Volatility, tau)
	star := math.Hypot(phi, vol)
	s.phiNew = 1 / math.Sqrt(1/(star*star)+1/s.v)
	s.muNew = mu + s.phiNew*s.phiNew*sum
	s.next = Glicko{1500 + glickoScale*s.muNew, math.Min(deviationMax, glickoScale*s.phiNew), vol}
	return s, nil
}

// volatility solves step 5 of the paper by the Illinois rule.
func volatility(delta, phi, v, vol, tau float64) float64 {
	a := math.Log(vol * vol)
	f := func(x float64) float64 {
		e := math.Exp(x)
		d := phi*phi + v + e
		return e*(delta*delta-phi*phi-v-e)/(2*d*d) - (x-a)/(tau*tau)
	}
	lo := a
	var hi float64
	if delta*delta > phi*phi+v {
		hi = math.Log(delta*delta - phi*phi - v)
	} else {
		k := 1.0
		for f(a-k*tau) < 0 && k < 1000 {
			k++
		}
		hi = a - k*tau
	}
	fl, fh := f(lo), f(hi)
	for range 200 {
		if math.Abs(hi-lo) <= 1e-14 || fh == fl {
			break
		}
		c := lo + (lo-hi)*fl/(fh-fl)
		fc := f(c)
		if fc*fh <= 0 {
			lo, fl = hi, fh
		} else {
			fl /= 2
		}
		hi, fh = c, fc
	}
	return math.Exp(lo / 2)
}

func (g Game) check(i int) error {
	if !(g.Score >= 0 && g.Score <= 1) || math.IsNaN(g.Rating) || math.IsInf(g.Rating, 0) || !(g.Deviation >= 0) || math.IsInf(g.Deviation, 0) {
		return fmt.Errorf("seeding: game %d is %v %w: expected a finite rating and a score from 0 to 1", i+1, g, ErrBadInput)
	}
	return nil
}
