package seeding

import (
	"errors"
	"math"
	"testing"
)

func TestGlickoExample(t *testing.T) {
	games := []Game{{1400, 30, 1}, {1550, 100, 0}, {1700, 300, 0}}
	s, err := glickoPeriod(Glicko{1500, 200, 0.06}, games, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	// Source: M. E. Glickman, Example of the Glicko-2 system: 1464.06, 151.52,
	// .05999. The sheet rounds on the way; full figures are R 4.2.2's.
	near(t, "rating, sheet", s.next.Rating, 1464.06, 0.02/1464)
	near(t, "deviation, sheet", s.next.Deviation, 151.52, 0.005/151)
	near(t, "volatility, sheet", s.next.Volatility, 0.05999, 0.00001)
	near(t, "rating", s.next.Rating, 1464.05067053909, 1e-13)
	near(t, "deviation", s.next.Deviation, 151.516524124304, 1e-13)
	near(t, "volatility", s.next.Volatility, 0.0599959844006778, 1e-11)
	near(t, "v", s.v, 1.77897708972400, 1e-13)
	near(t, "delta", s.delta, -0.483933260983655, 1e-13)
	near(t, "mu'", s.muNew, -0.206940966676476, 1e-13)
	near(t, "phi'", s.phiNew, 0.872199188133308, 1e-13)
	for i, want := range []float64{.995498006451, .953148977869, .724235478088} {
		near(t, "g", s.g[i], want, 1e-12)
	}
	for i, want := range []float64{.639467730552, .431842356108, .302840729095} {
		near(t, "E", s.e[i], want, 1e-12)
	}
}

func TestGlickoAbsent(t *testing.T) {
	p, err := Glicko2(Glicko{1500, 200, 0.06}, nil, 0.5)
	if err != nil || p.Rating != 1500 || p.Volatility != 0.06 {
		t.Fatal(p, err)
	}
	near(t, "deviation grows", p.Deviation, 173.7178*math.Hypot(200/173.7178, 0.06), 1e-14)
	if p, _ = Glicko2(Glicko{1500, 349.9, 0.1}, nil, 0.5); p.Deviation != 350 {
		t.Errorf("deviation %v, want the cap 350", p.Deviation)
	}
	if _, err = Glicko2(Glicko{1500, 0, 0.06}, nil, 0.5); !errors.Is(err, ErrBadInput) {
		t.Error(err)
	}
}

func TestElo(t *testing.T) {
	// Source: R 4.2.2; the games are a worked example in wide circulation (from
	// memory).
	r, e, err := Elo(1613, 32, []Game{{1609, 0, 0}, {1477, 0, 0.5}, {1388, 0, 1}, {1586, 0, 1}, {1720, 0, 0}})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "expected", e, 2.86656634803884, 1e-13)
	near(t, "rating", r, 1601.2698768627572, 1e-13)
	if _, _, err = Elo(1500, 32, []Game{{1500, 0, 2}}); !errors.Is(err, ErrBadInput) {
		t.Error(err)
	}
}
