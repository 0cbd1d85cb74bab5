package pace

import (
	"errors"
	"strings"
	"testing"
)

func TestCarsReadBackWhatTheyWrite(t *testing.T) {
	for _, c := range BuiltinCars() {
		got, err := ReadCar("car.toml", c.TOML())
		if err != nil || got != c {
			t.Errorf("%+v came back as %+v, %v", c, got, err)
		}
	}
}

func TestCarsThatCannotBeUsed(t *testing.T) {
	for name, w := range map[string]struct{ file, says string }{
		"no figure":      {"name = 'x'\ngrip = 0.9\ndrive = 6\nbrake = 6", "top is missing"},
		"negative":       {"grip = -1\ndrive = 6\nbrake = 6\ntop = 7", "grip is -1"},
		"unknown figure": {"grip = 1\ndrive = 6\nbrake = 6\ntop = 7\nwings = 2", "car.toml:5: \"wings\""},
		"not TOML":       {"grip = 1\n???", "car.toml:2:"},
		"nan":            {"grip = nan\ndrive = 6\nbrake = 6\ntop = 7", "grip is NaN"},
		"not a number":   {"grip = 'good'\ndrive = 6\nbrake = 6\ntop = 7", "car.toml:1:"},
		"endless":        {"grip = 1\ndrive = inf\nbrake = 6\ntop = 7", "drive is +Inf"},
	} {
		_, err := ReadCar("car.toml", []byte(w.file))
		if !errors.Is(err, ErrCar) || !strings.Contains(err.Error(), w.says) {
			t.Errorf("%s: error %v, want one that says %q", name, err, w.says)
		}
	}
}

func FuzzReadCar(f *testing.F) {
	for _, c := range builtin {
		f.Add(c.TOML())
	}
	f.Add([]byte("grip = nan"))
	f.Add([]byte("[[["))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ReadCar("car.toml", data)
		if err != nil {
			if !errors.Is(err, ErrCar) {
				t.Fatalf("error %v does not wrap ErrCar", err)
			}
			return
		}
		back, err := ReadCar("car.toml", c.TOML())
		if err != nil || back != c {
			t.Fatalf("%+v came back as %+v, %v", c, back, err)
		}
	})
}
