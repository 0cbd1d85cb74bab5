package pace

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// Driven is the laps that were really driven over one lane of one layout.
type Driven struct {
	Name   string // "Millpond Oval lane 1", for messages
	Ribbon Ribbon
	LapsS  []float64 // lap times in seconds; of a joined slot, laps of all its kinds in equal number
}

// Fitted is a car model fitted to laps.
type Fitted struct {
	Car     Car       `json:"car"`
	Figures []Figure  `json:"figures"` // those that were free, in the order asked for
	Lanes   []FitLane `json:"lanes"`
	Laps    int       `json:"laps"`
	// SD is the relative standard deviation of one lap about the model.
	SD float64 `json:"sd"`
	// Evaluations counts how often all lanes were driven.
	Evaluations int `json:"evaluations"`
}

// Figure is one fitted figure of a car.
type Figure struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	// SD is its standard uncertainty; meaningless unless Determined.
	SD float64 `json:"sd"`
	// Determined is false where the laps say nothing of the figure: other values fit as well.
	Determined bool `json:"determined"`
}

// FitLane compares one lane's laps with the model.
type FitLane struct {
	Name    string  `json:"name"`
	Laps    int     `json:"laps"`
	MedianS float64 `json:"median_s"`
	ParS    float64 `json:"par_s"`
}

// ErrUndetermined reports laps that cannot settle what was asked of them.
var ErrUndetermined = errors.New("the laps do not determine the car")

// CarFigures names the figures that [Fit] can set free.
func CarFigures() []string { return []string{"grip", "drive", "top", "brake", "magnet"} }

// figure gives the place of a figure in a car.
func (c *Car) figure(name string) *float64 {
	switch name {
	case "grip":
		return &c.Grip
	case "drive":
		return &c.Drive
	case "top":
		return &c.Top
	case "brake":
		return &c.Brake
	case "magnet":
		return &c.Magnet
	}
	return nil
}

// lapsFew is how many laps a lane needs to count: fewer have no median to speak of.
const lapsFew = 3

// Fit sets the named figures of a car so that its par laps come as close as possible to the laps driven, starting from
// the given car; the others stay as they are. What is compared is the logarithm of each lane's median lap, weighted by
// its number of laps: a driver who is always 3 % slower than the car could be is fitted by a car that is, and a spin or
// two do not matter. Nelder and Mead's simplex search minimises the sum of squares over the logarithms of the figures.
//
// Uncertainties are those of weighted least squares, s2 (J' W J)^-1 with the Jacobian from central differences; s2 is the
// larger of what the lanes' misfit and what the laps' own scatter say, the latter times pi/2 as a median is that much
// less certain than a mean of normal laps. A figure whose relative uncertainty exceeds one half is not determined.
//
// As many lanes as free figures are needed at least; lanes of one layout say much the same, different layouts more. The
// error wraps [ErrUndetermined] or [ErrCar].
func Fit(data []Driven, from Car, free []string) (Fitted, error) {
	f, err := newFitting(data, from, free)
	if err != nil {
		return Fitted{}, err
	}
	x, err := f.search()
	if err != nil {
		return Fitted{}, err
	}
	return f.report(x), nil
}

// fitting is a fit under way. x holds the logarithms of the free figures.
type fitting struct {
	from    Car
	free    []string
	lanes   []FitLane
	ribbons []Ribbon
	logs    []float64 // of the medians
	scatter float64   // of one lap about its median, relative
	laps    int
	count   int
	drive   driver
}

func newFitting(data []Driven, from Car, free []string) (*fitting, error) {
	f := &fitting{from: from, free: free}
	if len(free) == 0 {
		return nil, fmt.Errorf("pace: no figure is free to fit; choose among %v: %w", CarFigures(), ErrUndetermined)
	}
	for i, name := range free {
		p := f.from.figure(name)
		if p == nil || slices.Contains(free[:i], name) {
			return nil, fmt.Errorf("pace: %q is no figure of a car, or stands twice; there are %v: %w", name, CarFigures(), ErrCar)
		}
		if name == "magnet" && *p < carLeast {
			*p = 1 // a logarithm needs somewhere to start
		}
	}
	if slices.Contains(free, "grip") && slices.Contains(free, "magnet") {
		return nil, fmt.Errorf("pace: grip and magnet cannot both be fitted: on level track only grip times the sum of gravity and magnet counts; state one of them: %w", ErrUndetermined)
	}
	if err := f.from.Check(); err != nil {
		return nil, err
	}
	var spread []float64
	for _, d := range data {
		var good []float64
		for _, l := range d.LapsS {
			if l > 0 && !math.IsInf(l, 0) {
				good = append(good, math.Log(l))
			}
		}
		if len(good) < lapsFew {
			continue
		}
		m := median(good)
		for _, g := range good {
			spread = append(spread, math.Abs(g-m))
		}
		f.lanes = append(f.lanes, FitLane{Name: d.Name, Laps: len(good), MedianS: math.Exp(m)})
		f.ribbons = append(f.ribbons, d.Ribbon)
		f.logs = append(f.logs, m)
		f.laps += len(good)
	}
	if len(f.lanes) < len(free) {
		return nil, fmt.Errorf("pace: %d lanes with %d laps or more cannot settle %d figures; add laps of other lanes or layouts, or set fewer figures free: %w",
			len(f.lanes), lapsFew, len(free), ErrUndetermined)
	}
	f.scatter = 1.4826 * median(spread) // the median absolute deviation of a normal distribution is 0.6745 of its sd
	return f, nil
}

func median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	n := len(s)
	if n == 0 {
		return 0
	}
	if n%2 == 1 {
		return s[n/2]
	}
	return (s[n/2-1] + s[n/2]) / 2
}

func (f *fitting) car(x []float64) Car {
	c := f.from
	for i, name := range f.free {
		*c.figure(name) = clampFloat(math.Exp(x[i]), carLeast, carMost)
	}
	return c
}

// misfits fills y with the weighted differences of log par and log median.
func (f *fitting) misfits(y, x []float64) {
	f.count++
	c := f.car(x)
	for i := range f.ribbons {
		p, err := f.drive.drive(f.ribbons[i], c, false)
		if err != nil { // a car that cannot climb fits nothing
			y[i] = 1e3
			continue
		}
		y[i] = math.Sqrt(float64(f.lanes[i].Laps)) * (math.Log(p.MeanS) - f.logs[i])
	}
}

// evaluationsMost bounds the search. Four figures settle within some hundred.
const evaluationsMost = 3000

func (f *fitting) search() ([]float64, error) {
	x := make([]float64, len(f.free))
	for i, name := range f.free {
		x[i] = math.Log(*f.from.figure(name))
	}
	y := make([]float64, len(f.lanes))
	problem := optimize.Problem{Func: func(x []float64) float64 {
		for _, v := range x {
			// Figures a thousand times the usual are of no interest; a wall keeps the simplex from wandering off.
			if math.Abs(v) > 10 {
				return 1e9
			}
		}
		f.misfits(y, x)
		sum := 0.0
		for _, v := range y {
			sum += v * v
		}
		return sum
	}}
	// From where the search stops a fresh simplex starts once more: the first may have gone flat on the way.
	for range 2 {
		res, err := optimize.Minimize(problem, x, &optimize.Settings{
			FuncEvaluations: evaluationsMost,
			Converger:       &optimize.FunctionConverge{Absolute: 1e-16, Relative: 1e-9, Iterations: 25},
		}, &optimize.NelderMead{SimplexSize: 0.05})
		if err != nil && res == nil {
			return nil, fmt.Errorf("pace: fitting the car: %w", err)
		}
		x = res.X
	}
	return x, nil
}

func (f *fitting) report(x []float64) Fitted {
	n, p := len(f.lanes), len(f.free)
	y := make([]float64, n)
	f.misfits(y, x)
	c := f.car(x)
	c.Name = f.from.Name + " fitted"
	out := Fitted{Car: c, Lanes: f.lanes, Laps: f.laps, SD: f.scatter}
	misfit := 0.0
	for i := range out.Lanes {
		misfit += y[i] * y[i]
		out.Lanes[i].ParS = out.Lanes[i].MedianS * math.Exp(y[i]/math.Sqrt(float64(out.Lanes[i].Laps)))
	}
	variance := f.scatter * f.scatter * math.Pi / 2
	if n > p {
		variance = max(variance, misfit/float64(n-p))
	}
	jacobian := mat.NewDense(n, p, nil)
	fd.Jacobian(jacobian, f.misfits, x, &fd.JacobianSettings{Formula: fd.Central, Step: 1e-4})
	sds, determined := uncertainty(jacobian, variance)
	for i, name := range f.free {
		v := *c.figure(name)
		out.Figures = append(out.Figures, Figure{Name: name, Value: v, SD: v * sds[i], Determined: determined[i]})
	}
	out.Evaluations = f.count
	return out
}

// looseMost is the relative uncertainty above which a figure counts as not determined.
const looseMost = 0.5

// uncertainty gives the standard deviations s sqrt(diag (J'J)^-1) by the singular values of J. A direction in which J
// does not move at all leaves the figures that it moves undetermined.
func uncertainty(j *mat.Dense, variance float64) (sds []float64, determined []bool) {
	_, p := j.Dims()
	sds, determined = make([]float64, p), make([]bool, p)
	var svd mat.SVD
	if !svd.Factorize(j, mat.SVDThin) {
		return sds, determined
	}
	var v mat.Dense
	svd.VTo(&v)
	values := svd.Values(nil)
	for i := range p {
		determined[i] = true
		for k, s := range values {
			w := v.At(i, k)
			if s <= 1e-9*values[0] {
				if math.Abs(w) > 1e-6 {
					determined[i] = false
				}
				continue
			}
			sds[i] += w * w / (s * s) * variance
		}
		sds[i] = math.Sqrt(sds[i])
		determined[i] = determined[i] && sds[i] <= looseMost
	}
	return sds, determined
}
