package seeding

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// ErrNoMaximum reports that the results leave some driver's strength without an
// end: he, or a group, beat everybody else and lost to none (or the other way
// round). A phantom driver cures it.
var ErrNoMaximum = errors.New("the results have no best fit")

// Order is the result of one race or night.
type Order struct {
	Groups [][]string // best first; drivers in one group were level
	Weight float64    // 1 for a full count
}

// Strengths is a fitted Plackett-Luce model.
type Strengths struct {
	Drivers []Strength      // strongest first; equals by id
	Tie     map[int]float64 // nu of ties of two, three, ... that occurred
	LogLik  float64
	Rounds  int

	free []string
	cov  *mat.SymDense // of log worths, against the reference
}

// Strength is one driver's.
type Strength struct {
	Driver string
	Worth  float64 // positive, adding up to 1
	Log    float64 // ln of worth, adding up to 0
	SE     float64 // of Log
	Races  int
}

// PlackettLuce fits strengths g to finishing orders: P(1 > 2 > ... > k) is the
// product of g_m / (g_m + ... + g_k). With phantom > 0 every driver also beats, and
// loses to, a phantom driver that often (1/2 is usual), which keeps few races from
// giving nonsense; the phantom is left out of the result.
//
// Level drivers are taken as one set S of t drivers with strength
// nu_t (product of g)^(1/t), nu_1 = 1, out of all sets of the sizes that occurred
// (Davidson-Luce; D. Firth, I. Kosmidis, H. Turner 2019; for pairs R. R. Davidson,
// J. Amer. Statist. Assoc. 65 (1970)). Source of the model and the existence
// condition: D. R. Hunter, MM algorithms for generalized Bradley-Terry models,
// Annals of Statistics 32 (2004); phantom: H. Turner et al., Modelling rankings in
// R, Computational Statistics 35 (2020).
//
// The log likelihood is concave in ln g and ln nu; Newton's method with halved
// steps finds its top.
func PlackettLuce(orders []Order, phantom float64) (*Strengths, error) {
	m, err := newModel(orders, phantom)
	if err != nil {
		return nil, err
	}
	if !m.strong() {
		return nil, fmt.Errorf("seeding: %w: somebody, or a group, never lost to the rest or never beat them; fit with a phantom driver (1/2)", ErrNoMaximum)
	}
	x := make([]float64, m.params())
	for i := range m.sizes {
		x[m.n+i] = -1 // ties are rarer than wins
	}
	ll, grad, hess := m.evaluate(x)
	rounds := 0
	for ; rounds < 200; rounds++ {
		step, ok := m.newton(grad, hess)
		if !ok {
			return nil, fmt.Errorf("seeding: %w: the information matrix is singular; fit with a phantom driver (1/2)", ErrNoMaximum)
		}
		size := 0.0
		for _, s := range step {
			size = math.Max(size, math.Abs(s))
		}
		f := math.Min(1, 4/math.Max(size, 1e-300))
		var next []float64
		var nl float64
		for range 60 {
			next = slices.Clone(x)
			for i := range next {
				next[i] += f * step[i]
			}
			if nl, _, _ = m.evaluate(next); nl >= ll-1e-12*math.Abs(ll) {
				break
			}
			f /= 2
		}
		x = next
		ll, grad, hess = m.evaluate(x)
		if size*f < 1e-13 || rounds > 5 && size < 1e-9 && size*f < 1e-11 {
			break
		}
	}
	for i := range m.n {
		if math.Abs(x[i]) > runaway {
			return nil, fmt.Errorf("seeding: %w: the strength of %s runs away; fit with a phantom driver (1/2)", ErrNoMaximum, m.names[i])
		}
	}
	return m.result(x, ll, hess, rounds+1), nil
}

// runaway is a log strength that no club's results can mean: 12 against the
// reference is 160,000 wins to one.
const runaway = 12

// Ahead returns the probability that a finishes before b when they are not level,
// and the standard error of the log strength between them. ok is false for
// drivers that were not in the fit.
func (s *Strengths) Ahead(a, b string) (p, se float64, ok bool) {
	var la, lb float64
	ia, ib := slices.Index(s.free, a), slices.Index(s.free, b)
	if ia < 0 || ib < 0 {
		return 0, 0, false
	}
	for _, d := range s.Drivers {
		if d.Driver == a {
			la = d.Log
		}
		if d.Driver == b {
			lb = d.Log
		}
	}
	v := s.cov.At(ia, ia) + s.cov.At(ib, ib) - 2*s.cov.At(ia, ib)
	return 1 / (1 + math.Exp(lb-la)), math.Sqrt(math.Max(0, v)), true
}

// model is the data in numbers. Driver 0..n-1, the phantom last if there is one.
type model struct {
	names   []string
	n       int   // drivers with the phantom
	sizes   []int // tie sizes above 1 that occurred
	races   []int
	stages  []stage
	phantom bool
	wins    map[[2]int]bool
}

// stage is one choice: who was taken, who was still in.
type stage struct {
	taken  []int
	in     []int // taken included
	weight float64
}

func (m *model) params() int { return m.n + len(m.sizes) }

func newModel(orders []Order, phantom float64) (*model, error) {
	m := &model{wins: map[[2]int]bool{}}
	if !(phantom >= 0) || math.IsInf(phantom, 0) {
		return nil, fmt.Errorf("seeding: phantom weight %v %w: expected 0 for none, or 1/2", phantom, ErrBadInput)
	}
	for r, o := range orders {
		if !(o.Weight > 0) || math.IsInf(o.Weight, 0) {
			return nil, fmt.Errorf("seeding: order %d has weight %v %w: expected more than 0", r+1, o.Weight, ErrBadInput)
		}
		seen := map[string]bool{}
		for _, g := range o.Groups {
			for _, d := range g {
				if seen[d] {
					return nil, fmt.Errorf("seeding: order %d has %s twice %w: expected each driver once", r+1, d, ErrBadInput)
				}
				seen[d] = true
				m.names = append(m.names, d)
			}
		}
	}
	slices.Sort(m.names)
	m.names = slices.Compact(m.names)
	if len(m.names) < 2 {
		return nil, fmt.Errorf("seeding: %d drivers %w: expected at least two", len(m.names), ErrBadInput)
	}
	m.n = len(m.names)
	m.races = make([]int, m.n)
	for _, o := range orders {
		var groups [][]int
		for _, g := range o.Groups {
			if len(g) == 0 {
				continue
			}
			var ids []int
			for _, d := range g {
				i, _ := slices.BinarySearch(m.names, d)
				ids = append(ids, i)
				m.races[i]++
			}
			slices.Sort(ids)
			groups = append(groups, ids)
		}
		m.add(groups, o.Weight)
	}
	if phantom > 0 {
		m.phantom = true
		for i := range m.n {
			m.add([][]int{{i}, {m.n}}, phantom)
			m.add([][]int{{m.n}, {i}}, phantom)
		}
		m.n++
	}
	slices.Sort(m.sizes)
	m.sizes = slices.Compact(m.sizes)
	const tieMax = 8
	if len(m.sizes) > 0 && m.sizes[len(m.sizes)-1] > tieMax {
		return nil, fmt.Errorf("seeding: %d drivers level %w: expected at most %d in one group", m.sizes[len(m.sizes)-1], ErrBadInput, tieMax)
	}
	// The sum over stages must not depend on the order in which nights came.
	slices.SortFunc(m.stages, func(a, b stage) int {
		return cmp.Or(slices.Compare(a.in, b.in), slices.Compare(a.taken, b.taken), cmp.Compare(a.weight, b.weight))
	})
	return m, nil
}

func (m *model) add(groups [][]int, weight float64) {
	for g, taken := range groups {
		var in []int
		for _, rest := range groups[g:] {
			in = append(in, rest...)
		}
		if len(in) < 2 {
			return
		}
		slices.Sort(in)
		if len(taken) > 1 {
			m.sizes = append(m.sizes, len(taken))
		}
		m.stages = append(m.stages, stage{taken, in, weight})
		for _, rest := range groups[g+1:] {
			for _, a := range taken {
				for _, b := range rest {
					m.wins[[2]int{a, b}] = true
				}
			}
		}
		for _, a := range taken { // a tie counts as beating and losing
			for _, b := range taken {
				if a != b {
					m.wins[[2]int{a, b}] = true
				}
			}
		}
	}
}

// strong reports whether everybody is linked to everybody by chains of wins in
// both directions.
func (m *model) strong() bool {
	reach := func(forward bool) int {
		seen := make([]bool, m.n)
		seen[0] = true
		todo, count := []int{0}, 1
		for len(todo) > 0 {
			a := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			for b := range m.n {
				won := m.wins[[2]int{a, b}]
				if !forward {
					won = m.wins[[2]int{b, a}]
				}
				if won && !seen[b] {
					seen[b] = true
					count++
					todo = append(todo, b)
				}
			}
		}
		return count
	}
	return reach(true) == m.n && reach(false) == m.n
}

// evaluate returns the log likelihood, its gradient and the information matrix
// (the negative Hessian, a sum of covariances) at log strengths x[:n] and log tie
// parameters x[n:].
func (m *model) evaluate(x []float64) (ll float64, grad []float64, info *mat.SymDense) {
	p := m.params()
	grad = make([]float64, p)
	info = mat.NewSymDense(p, nil)
	for _, s := range m.stages {
		k := len(s.in)
		// Sets of size t have weight exp(theta_t + sum of x/t); shifting x by its
		// greatest value keeps exp in range and cancels in every ratio.
		top := math.Inf(-1)
		for _, i := range s.in {
			top = math.Max(top, x[i])
		}
		z := 0.0
		single := make([]float64, p) // E of the statistic of each parameter
		type pairTerm struct{ t, size int }
		var terms []pairTerm
		terms = append(terms, pairTerm{1, -1})
		for si, t := range m.sizes {
			if t <= k {
				terms = append(terms, pairTerm{t, si})
			}
		}
		second := make([]float64, k*k)
		cross := map[int][]float64{}
		total := make([]float64, len(terms))
		for ti, term := range terms {
			t := float64(term.t)
			theta := 0.0
			if term.size >= 0 {
				theta = x[m.n+term.size]
			}
			f := math.Exp(theta)
			g := make([]float64, k)
			for a, i := range s.in {
				g[a] = math.Exp((x[i] - top) / t)
			}
			e := symmetric(g, term.t)
			total[ti] = f * e[term.t]
			z += total[ti]
			w := make([]float64, k)
			for a := range g {
				ea := without(e, g[a], term.t-1)
				w[a] = f * g[a] * ea[term.t-1] / t
				if term.t < 2 {
					second[a*k+a] += w[a]
					continue
				}
				second[a*k+a] += w[a] / t
				for b := range a {
					v := f * g[a] * g[b] * without(ea, g[b], term.t-2)[term.t-2] / (t * t)
					second[a*k+b] += v
					second[b*k+a] += v
				}
			}
			for a, i := range s.in {
				single[i] += w[a]
			}
			if term.size >= 0 {
				single[m.n+term.size] += total[ti]
				cross[term.size] = w
			}
		}
		for i := range single {
			single[i] /= z
		}
		obs := make([]float64, p)
		t := float64(len(s.taken))
		num := 0.0
		for _, i := range s.taken {
			obs[i] += 1 / t
			num += (x[i] - top) / t
		}
		if len(s.taken) > 1 {
			at := m.n + slices.Index(m.sizes, len(s.taken))
			obs[at]++
			num += x[at]
		}
		ll += s.weight * (num - math.Log(z))
		for i := range p {
			grad[i] += s.weight * (obs[i] - single[i])
		}
		plus := func(i, j int, v float64) {
			if i <= j {
				info.SetSym(i, j, info.At(i, j)+s.weight*v)
			}
		}
		for a, i := range s.in {
			for b, j := range s.in {
				plus(i, j, second[a*k+b]/z-single[i]*single[j])
			}
			for _, term := range terms[1:] {
				at := m.n + term.size
				plus(i, at, cross[term.size][a]/z-single[i]*single[at])
			}
		}
		for ti, term := range terms[1:] {
			at := m.n + term.size
			for _, other := range terms[1:] {
				bt := m.n + other.size
				v := -single[at] * single[bt]
				if at == bt {
					v += total[ti+1] / z
				}
				plus(at, bt, v)
			}
		}
	}
	return ll, grad, info
}

// symmetric returns the elementary symmetric sums e_0..e_t of g.
func symmetric(g []float64, t int) []float64 {
	e := make([]float64, t+1)
	e[0] = 1
	for _, v := range g {
		for j := t; j > 0; j-- {
			e[j] += v * e[j-1]
		}
	}
	return e
}

// without returns the sums e_0..e_t with one value v taken out.
func without(e []float64, v float64, t int) []float64 {
	out := make([]float64, t+1)
	out[0] = 1
	for j := 1; j <= t; j++ {
		out[j] = math.Max(0, e[j]-v*out[j-1])
	}
	return out
}

// reference is the driver whose log strength is held at 0 while fitting.
func (m *model) reference() int { return m.n - 1 }

func (m *model) newton(grad []float64, info *mat.SymDense) ([]float64, bool) {
	c, ok := m.inverse(info)
	if !ok {
		return nil, false
	}
	p := m.params()
	step := make([]float64, p)
	for i := range p {
		for j := range p {
			step[i] += c.At(i, j) * grad[j]
		}
	}
	return step, true
}

// inverse inverts the information without the reference, whose row and column
// become 0.
func (m *model) inverse(info *mat.SymDense) (*mat.SymDense, bool) {
	p, r := m.params(), m.reference()
	small := mat.NewSymDense(p-1, nil)
	at := func(i int) int {
		if i > r {
			return i - 1
		}
		return i
	}
	for i := range p {
		for j := i; j < p; j++ {
			if i != r && j != r {
				small.SetSym(at(i), at(j), info.At(i, j))
			}
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(small) {
		return nil, false
	}
	var inv mat.SymDense
	if chol.InverseTo(&inv) != nil {
		return nil, false
	}
	out := mat.NewSymDense(p, nil)
	for i := range p {
		for j := i; j < p; j++ {
			if i != r && j != r {
				out.SetSym(i, j, inv.At(at(i), at(j)))
			}
		}
	}
	return out, true
}

func (m *model) result(x []float64, ll float64, info *mat.SymDense, rounds int) *Strengths {
	real := len(m.names)
	s := &Strengths{LogLik: ll, Rounds: rounds, free: m.names, Tie: map[int]float64{}}
	centre, sum := 0.0, 0.0
	for _, v := range x[:real] {
		centre += v / float64(real)
	}
	for _, v := range x[:real] {
		sum += math.Exp(v - centre)
	}
	inv, ok := m.inverse(info)
	s.cov = mat.NewSymDense(real, nil)
	if ok {
		// Covariance of log strengths about their mean.
		row := make([]float64, real)
		all := 0.0
		for i := range real {
			for j := range real {
				row[i] += inv.At(i, j) / float64(real)
			}
			all += row[i] / float64(real)
		}
		for i := range real {
			for j := i; j < real; j++ {
				s.cov.SetSym(i, j, inv.At(i, j)-row[i]-row[j]+all)
			}
		}
	}
	for i, d := range m.names {
		s.Drivers = append(s.Drivers, Strength{Driver: d, Worth: math.Exp(x[i]-centre) / sum, Log: x[i] - centre,
			SE: math.Sqrt(math.Max(0, s.cov.At(i, i))), Races: m.races[i]})
	}
	slices.SortStableFunc(s.Drivers, func(a, b Strength) int { return cmp.Compare(b.Log, a.Log) })
	for i, t := range m.sizes {
		s.Tie[t] = math.Exp(x[m.n+i])
	}
	return s
}
