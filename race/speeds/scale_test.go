package speeds

import (
	"errors"
	"math"
	"testing"
	"time"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: got %.15g, want %.15g (off by %.3g, allowed %.3g)", what, got, want, got-want, tol)
	}
}

func TestScaleSpeed(t *testing.T) {
	// By hand: 15 m in 6 s are 2.5 m/s; times 3.6 times 32 are 288 km/h;
	// sqrt((5/15000)^2 + (1/6000)^2) = 3.727e-4 of it are 0.107.
	s, err := ScaleSpeed(15000, 5, 6*time.Second, time.Millisecond, 32)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "m/s", s.MS.Value, 2.5, 1e-15)
	near(t, "km/h", s.KMH.Value, 288, 1e-14)
	near(t, "+-", s.KMH.U, 288*math.Sqrt(1.0/9e6+1.0/36e6), 1e-12)
	near(t, "+- in print", s.KMH.U, 0.11, 0.005)
	near(t, "mph", s.MPH.Value, 178.954903364352, 1e-13) // 288/1.609344
	trap, _ := TrapSpeed(100, 0.5, 20*time.Millisecond, 0, 32)
	near(t, "trap", trap.MS.Value, 5, 1e-15)
	for _, c := range []func() error{
		func() error { _, err := ScaleSpeed(0, 0, time.Second, 0, 32); return err },
		func() error { _, err := ScaleSpeed(math.NaN(), 0, time.Second, 0, 32); return err },
		func() error { _, err := ScaleSpeed(15000, 5, 0, 0, 32); return err },
		func() error { _, err := ScaleSpeed(15000, 5, time.Second, 0, 0); return err },
		func() error { _, err := ParRatio(0, time.Second); return err },
	} {
		if err := c(); !errors.Is(err, ErrBadInput) {
			t.Errorf("got %v", err)
		}
	}
	if r, _ := ParRatio(6*time.Second, 5*time.Second); r != 1.2 {
		t.Errorf("par ratio %v", r)
	}
}

func TestRecordClaims(t *testing.T) {
	speed := func(lap time.Duration, length float64) Speed {
		s, err := ScaleSpeed(length, 5, lap, time.Millisecond, 32)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	// Relative uncertainty of each is about 3.7e-4; twice their sum in squares is 1.05e-3, 6.3 ms on
	// a lap of 6 s.
	record := speed(6*time.Second, 15000)
	for _, c := range []struct {
		name string
		lap  Speed
		want Claim
	}{
		{"5 ms quicker is within measurement", speed(5995*time.Millisecond, 15000), Equal},
		{"8 ms quicker is new", speed(5992*time.Millisecond, 15000), New},
		{"5 ms slower is within measurement too", speed(6005*time.Millisecond, 15000), Equal},
		{"8 ms slower is none", speed(6008*time.Millisecond, 15000), NoRecord},
		{"quicker only because the lane is shorter", speed(5880*time.Millisecond, 14700), Equal},
	} {
		if got, err := RecordClaim(record, c.lap); err != nil || got != c.want {
			t.Errorf("%s: got %v, %v", c.name, got, err)
		}
	}
	if _, err := RecordClaim(Speed{}, record); !errors.Is(err, ErrBadInput) {
		t.Error(err)
	}
	if NoRecord.String() == "" || New.String() != "new" || Equal.String() != "equal within measurement" {
		t.Error("claims need their words")
	}
}
