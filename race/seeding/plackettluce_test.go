package seeding

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: got %.15g, want %.15g (off by %.3g, allowed %.3g)", what, got, want, got-want, tol)
	}
}

// order reads "1 2=3 4": best first, = for level.
func order(s string) Order {
	o := Order{Weight: 1}
	var group []string
	for _, c := range s {
		switch c {
		case ' ':
			o.Groups = append(o.Groups, group)
			group = nil
		case '=':
		default:
			group = append(group, string(c))
		}
	}
	o.Groups = append(o.Groups, group)
	return o
}

func orders(s ...string) []Order {
	var out []Order
	for _, x := range s {
		out = append(out, order(x))
	}
	return out
}

func worth(s *Strengths, driver string) Strength {
	for _, d := range s.Drivers {
		if d.Driver == driver {
			return d
		}
	}
	return Strength{}
}

func TestPlackettLuce(t *testing.T) {
	// Source: R 4.2.2, Hunter's MM iteration run to convergence; standard
	// errors from optimHess of the log likelihood.
	s, err := PlackettLuce(orders("1 2 3 4", "2 1 4 3", "1 3 2 4", "3 1 4", "4 2 1"), 0)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{.3657859352515, .3657859352515, .1790210836368, .0894070458603} {
		near(t, fmt.Sprint("worth ", i+1), worth(s, fmt.Sprint(i+1)).Worth, want, 1e-12)
	}
	near(t, "log likelihood", s.LogLik, -11.4998181979579, 1e-13)
	for i, want := range []float64{0.55900526, 0.55900525, 0.57692074, 0.59759207} {
		near(t, fmt.Sprint("SE ", i+1), worth(s, fmt.Sprint(i+1)).SE, want, 1e-6)
	}
	p, se, ok := s.Ahead("1", "2")
	near(t, "P(1 before 2)", p, 0.5, 1e-12)
	near(t, "SE of 1-2", se, 0.862427889, 1e-6)
	if _, _, known := s.Ahead("1", "9"); !ok || known {
		t.Error("a driver who never raced has no strength")
	}
}

func TestNoMaximumWithoutPhantom(t *testing.T) {
	// 1 won everything: his strength has no end.
	races := orders("1 2 3 4", "1 2 4", "1 3 2")
	if _, err := PlackettLuce(races, 0); !errors.Is(err, ErrNoMaximum) {
		t.Errorf("got %v", err)
	}
	// Source: R 4.2.2, optim (BFGS) on the log likelihood with a fifth driver
	// who beats and loses to each half a time.
	s, err := PlackettLuce(races, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0.83613913, 0.07386826, 0.07796715, 0.01202546} {
		near(t, fmt.Sprint("worth ", i+1), worth(s, fmt.Sprint(i+1)).Worth, want, 1e-6)
	}
	near(t, "log likelihood", s.LogLik, -5.9403791631, 1e-10)
	if len(s.Drivers) != 4 {
		t.Errorf("the phantom is listed: %v", s.Drivers)
	}
}

func TestOneGoodRaceDoesNotMakeTheBestDriver(t *testing.T) {
	races := orders("1 2 3 4", "2 1 3 4", "1 2 4 3", "2 1 4 3", "5 1 2 3 4")
	s, err := PlackettLuce(races, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	if five := worth(s, "5"); five.SE <= worth(s, "1").SE {
		t.Errorf("one race gives SE %v, five give %v", five.SE, worth(s, "1").SE)
	}
}

func TestTiesInPairs(t *testing.T) {
	// Davidson's model is log-linear: checked against a Poisson glm in R 4.2.2
	// (counts of i before j, j before i, level).
	var races []Order
	for _, c := range []struct{ i, j, w, l, t int }{{1, 2, 19, 22, 16}, {1, 3, 16, 19, 12}, {2, 3, 19, 19, 10}, {1, 4, 18, 23, 13}, {2, 4, 23, 19, 9}, {3, 4, 19, 20, 15}} {
		a, b := fmt.Sprint(c.i), fmt.Sprint(c.j)
		races = append(races, Order{[][]string{{a}, {b}}, float64(c.w)}, Order{[][]string{{b}, {a}}, float64(c.l)}, Order{[][]string{{a, b}}, float64(c.t)})
	}
	s, err := PlackettLuce(races, 0)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0.217305976317, 0.271264918951, 0.256305707347, 0.255123397386} {
		near(t, fmt.Sprint("worth ", i+1), worth(s, fmt.Sprint(i+1)).Worth, want, 1e-11)
	}
	near(t, "nu", s.Tie[2], 0.637079211164, 1e-11)
	near(t, "log likelihood", s.LogLik, -334.8322131602, 1e-12)
	_, se, _ := s.Ahead("1", "2")
	near(t, "SE of 2-1", se, 0.22273067799018, 1e-9)
}

func TestTiesOfAnySize(t *testing.T) {
	// Source: R 4.2.2, log likelihood by enumeration of all sets (combn),
	// maximised by optim (BFGS).
	s, err := PlackettLuce(orders("1 2=3 4", "1=2 3 4 5", "5 1 2 3", "2=3=4 1 5", "4 5 1=3", "2 1 4=5", "3 1 5 2 4", "1 4 2"), 0)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0.43268099, 0.16563148, 0.17553684, 0.10212222, 0.12402847} {
		near(t, fmt.Sprint("worth ", i+1), worth(s, fmt.Sprint(i+1)).Worth, want, 1e-6)
	}
	near(t, "nu 2", s.Tie[2], 0.2506020903966, 1e-6)
	near(t, "nu 3", s.Tie[3], 0.12786437338668, 1e-6)
	near(t, "log likelihood", s.LogLik, -36.3983573531, 1e-11)
}

// mm is Hunter's iteration as it stands in his paper: slow and obviously right.
func mm(n int, races [][]int) []float64 {
	g := make([]float64, n)
	for i := range g {
		g[i] = 1
	}
	for range 20000 {
		w, den := make([]float64, n), make([]float64, n)
		for _, r := range races {
			for t := 0; t < len(r)-1; t++ {
				w[r[t]]++
				sum := 0.0
				for _, i := range r[t:] {
					sum += g[i]
				}
				for _, i := range r[t:] {
					den[i] += 1 / sum
				}
			}
		}
		total := 0.0
		for i := range g {
			g[i] = w[i] / den[i]
			total += g[i]
		}
		for i := range g {
			g[i] /= total
		}
	}
	return g
}

func TestNewtonAgreesWithHuntersIteration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 5).Draw(t, "drivers")
		ids := make([]int, n)
		for i := range ids {
			ids[i] = i
		}
		var races [][]int
		var in []Order
		add := func(r []int) {
			races = append(races, r)
			o := Order{Weight: 1}
			for _, i := range r {
				o.Groups = append(o.Groups, []string{fmt.Sprint(i)})
			}
			in = append(in, o)
		}
		for range rapid.IntRange(1, 6).Draw(t, "races") {
			add(rapid.Permutation(ids).Draw(t, "order"))
		}
		back := slices.Clone(races[0]) // one race the other way round connects everybody
		slices.Reverse(back)
		add(back)
		s, err := PlackettLuce(in, 0)
		if err != nil {
			t.Fatal(err)
		}
		for i, want := range mm(n, races) {
			if got := worth(s, fmt.Sprint(i)).Worth; math.Abs(got-want) > 1e-8 {
				t.Fatalf("driver %d: %v, by iteration %v", i, got, want)
			}
		}
	})
}

func TestWeightsAndOrderOfRaces(t *testing.T) {
	// A weight of 2 is the same race twice; the order of races changes nothing.
	twice, err := PlackettLuce(orders("1 2 3", "1 2 3", "3 2 1", "2 3 1"), 0)
	if err != nil {
		t.Fatal(err)
	}
	weighted := orders("2 3 1", "3 2 1", "1 2 3")
	weighted[2].Weight = 2
	once, err := PlackettLuce(weighted, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range twice.Drivers {
		near(t, d.Driver, worth(once, d.Driver).Worth, d.Worth, 1e-11)
	}
	near(t, "half-life", Weight(5, 5), 0.5, 0)
	near(t, "two half-lives", Weight(10, 5), 0.25, 0)
	near(t, "nothing fades", Weight(10, 0), 1, 0)
}

func TestPlackettLuceRefuses(t *testing.T) {
	for name, c := range map[string][]Order{
		"one driver": orders("1"), "a driver twice": orders("1 2 1"), "no weight": {{Groups: [][]string{{"1"}, {"2"}}}}, "nothing": nil,
	} {
		if _, err := PlackettLuce(c, 0.5); !errors.Is(err, ErrBadInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := PlackettLuce(orders("1 2"), math.NaN()); !errors.Is(err, ErrBadInput) {
		t.Error(err)
	}
}

func BenchmarkPlackettLuceSeason(b *testing.B) {
	var in []Order
	for n := range 30 {
		o := Order{Weight: Weight(float64(n), 5)}
		for i := range 20 {
			o.Groups = append(o.Groups, []string{fmt.Sprint((i*7 + n*3) % 20)})
		}
		in = append(in, o)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := PlackettLuce(in, 0.5); err != nil {
			b.Fatal(err)
		}
	}
}
