package pace

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Car is the point mass that par laps are driven with.
//
// The built-in figures are round and invented: a par lap is a yardstick between lanes and layouts, not a prediction for
// one car. Fit a car to recorded laps with [Fit] to get closer to one.
type Car struct {
	Name   string  `toml:"name" json:"name"`
	Grip   float64 `toml:"grip" json:"grip"`     // friction between tyre and track, no unit; above 0
	Drive  float64 `toml:"drive" json:"drive"`   // m/s2 from standstill; falls linearly to 0 at the top speed; above 0
	Top    float64 `toml:"top" json:"top"`       // m/s, where drive and drag balance on the flat; above 0
	Brake  float64 `toml:"brake" json:"brake"`   // m/s2 at most; above 0
	Magnet float64 `toml:"magnet" json:"magnet"` // m/s2 of pull towards the track beside gravity; 0 without magnet
}

// ErrCar reports a car model that cannot be used.
var ErrCar = errors.New("not a usable car model")

// Common practice, no source: the figures of both built-in cars.
var builtin = []Car{
	{Name: "plain", Grip: 0.9, Drive: 6.5, Top: 7.5, Brake: 6},
	{Name: "magnet", Grip: 0.85, Drive: 9, Top: 8, Brake: 9, Magnet: 12},
}

// BuiltinCars lists the cars that come with the program; the first is the one to take when nobody names one.
func BuiltinCars() []Car { return slices.Clone(builtin) }

// BuiltinCar finds one of them by name.
func BuiltinCar(name string) (Car, bool) {
	for _, c := range builtin {
		if strings.EqualFold(c.Name, name) {
			return c, true
		}
	}
	return Car{}, false
}

// carMost bounds every figure of a car from above. Real ones stay below 100; the bound keeps arithmetic finite.
const carMost = 1e4

// carLeast bounds from below what must be above 0.
const carLeast = 1e-3

// Check returns an error that wraps [ErrCar] and names the figure, when one is no number or out of range.
func (c Car) Check() error {
	for _, f := range []struct {
		name  string
		value float64
		least float64
	}{{"grip", c.Grip, carLeast}, {"drive", c.Drive, carLeast}, {"top", c.Top, carLeast}, {"brake", c.Brake, carLeast}, {"magnet", c.Magnet, 0}} {
		if math.IsNaN(f.value) || f.value < f.least || f.value > carMost {
			return fmt.Errorf("car %q: %s is %v, want %v to %v: %w", c.Name, f.name, f.value, f.least, float64(carMost), ErrCar)
		}
	}
	return nil
}

// ReadCar reads a car model in TOML: name, grip, drive, top, brake and, where there is one, magnet. file is for the
// error, which wraps [ErrCar] and tells the line where it can.
func ReadCar(file string, data []byte) (Car, error) {
	var c struct {
		Name                    string
		Grip, Drive, Top, Brake *float64
		Magnet                  float64
	}
	d := toml.NewDecoder(strings.NewReader(string(data))).DisallowUnknownFields()
	if err := d.Decode(&c); err != nil {
		return Car{}, carError(file, err)
	}
	for _, f := range []struct {
		name  string
		value *float64
	}{{"grip", c.Grip}, {"drive", c.Drive}, {"top", c.Top}, {"brake", c.Brake}} {
		if f.value == nil {
			return Car{}, fmt.Errorf("%s: %s is missing; a car needs grip, drive, top and brake: %w", file, f.name, ErrCar)
		}
	}
	car := Car{c.Name, *c.Grip, *c.Drive, *c.Top, *c.Brake, c.Magnet}
	if car.Name == "" {
		car.Name = file
	}
	if err := car.Check(); err != nil {
		return Car{}, fmt.Errorf("%s: %w", file, err)
	}
	return car, nil
}

func carError(file string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		row, _ := strict.Errors[0].Position()
		return fmt.Errorf("%s:%d: %q is no figure of a car; it has name, grip, drive, top, brake, magnet: %w",
			file, row, strings.Join(strict.Errors[0].Key(), "."), ErrCar)
	}
	var at *toml.DecodeError
	if errors.As(err, &at) {
		row, _ := at.Position()
		return fmt.Errorf("%s:%d: %s: %w", file, row, strings.TrimPrefix(at.Error(), "toml: "), ErrCar)
	}
	return fmt.Errorf("%s: %v: %w", file, err, ErrCar)
}

// TOML writes the car as a file that [ReadCar] reads back to the same car.
func (c Car) TOML() []byte {
	var b strings.Builder
	fmt.Fprintf(&b, "name = %q\n", c.Name)
	fmt.Fprintf(&b, "grip = %v    # friction between tyre and track\n", float(c.Grip))
	fmt.Fprintf(&b, "drive = %v   # m/s2 from standstill\n", float(c.Drive))
	fmt.Fprintf(&b, "top = %v     # m/s\n", float(c.Top))
	fmt.Fprintf(&b, "brake = %v   # m/s2\n", float(c.Brake))
	fmt.Fprintf(&b, "magnet = %v  # m/s2 of pull beside gravity, 0 without magnet\n", float(c.Magnet))
	return []byte(b.String())
}

// float prints with a point, so that TOML takes it for a float.
func float(v float64) string {
	s := fmt.Sprintf("%v", v)
	if !strings.ContainsAny(s, ".eIN") {
		s += ".0"
	}
	return s
}
