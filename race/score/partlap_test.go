package score

import (
	"errors"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

func TestPartLapIsCutNotRounded(t *testing.T) {
	cases := []struct {
		name       string
		past, lane int64
		resolution int
		want       int
	}{
		{"worked by hand: 812300 / 15543 = 52.26", 8123, 15543, 100, 52},
		{"on the line", 0, 15543, 100, 0},
		{"a millimetre short of the line", 15542, 15543, 100, 99},
		{"tenths", 8123, 15543, 10, 5},
		{"whole laps only", 15542, 15543, 1, 0},
		{"thirteenth piece of twenty-six", 13, 26, 100, 50},
		{"a third", 1, 3, 1000, 333},
		{"micrometres on a long lane", 1 << 61, 1<<61 + 1, 1_000_000, 999_999},
	}
	for _, c := range cases {
		if got, err := PartLap(c.past, c.lane, c.resolution); err != nil || got != c.want {
			t.Errorf("%s: got %d, %v, want %d", c.name, got, err, c.want)
		}
	}
	for _, c := range []struct {
		name       string
		past, lane int64
		resolution int
	}{
		{"a whole lane", 15543, 15543, 100}, {"before the line", -1, 15543, 100},
		{"no length", 0, 0, 100}, {"no resolution", 1, 2, 0}, {"too fine", 1, 2, 2_000_000},
	} {
		if _, err := PartLap(c.past, c.lane, c.resolution); !errors.Is(err, ErrBadInput) {
			t.Errorf("%s: got error %v, want ErrBadInput", c.name, err)
		}
	}
}

func TestPartLapAgreesWithBigIntegers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lane := rapid.Int64Range(1, 1<<62).Draw(t, "lane")
		past := rapid.Int64Range(0, lane-1).Draw(t, "past")
		res := rapid.IntRange(1, resolutionMax).Draw(t, "resolution")
		got, err := PartLap(past, lane, res)
		want := new(big.Int).Mul(big.NewInt(past), big.NewInt(int64(res)))
		want.Quo(want, big.NewInt(lane))
		if err != nil || want.Cmp(big.NewInt(int64(got))) != 0 {
			t.Fatalf("got %d, %v, want %v", got, err, want)
		}
	})
}

func TestPartsFormat(t *testing.T) {
	for _, c := range []struct {
		p    Parts
		res  int
		want string
	}{
		{2452, 100, "24.52"}, {2405, 100, "24.05"}, {-48, 100, "-0.48"}, {24, 1, "24"},
		{197, 8, "24 5/8"}, {192, 8, "24"}, {0, 100, "0.00"}, {245, 10, "24.5"},
	} {
		if got := c.p.Format(c.res); got != c.want {
			t.Errorf("%d of %d: got %q, want %q", c.p, c.res, got, c.want)
		}
	}
}
