package speeds

import (
	"fmt"
	"math"
	"time"
)

// Measured is a figure with its standard uncertainty, in the same unit.
type Measured struct{ Value, U float64 }

// Speed is how fast a lap was.
type Speed struct {
	MS    Measured // metres per second on the track
	KMH   Measured // scale speed
	MPH   Measured // scale speed
	Scale float64
}

const kmPerMile = 1.609344 // exact, international mile

// ScaleSpeed returns the speed of a lap: length and time with their standard
// uncertainties, scale the denominator (32 for 1:32).
//
// Scale speed is real speed times the denominator. Relative uncertainties of
// length and time add as squares (JCGM 100:2008, the Guide to the Expression of
// Uncertainty in Measurement, 5.1.2, for a quotient).
func ScaleSpeed(lengthMM, lengthUMM float64, lap, lapU time.Duration, scale float64) (Speed, error) {
	switch {
	case !(lengthMM > 0) || math.IsInf(lengthMM, 0) || !(lengthUMM >= 0) || math.IsInf(lengthUMM, 0):
		return Speed{}, fmt.Errorf("speeds: lane length %v mm, uncertainty %v mm %w: expected a length above 0", lengthMM, lengthUMM, ErrBadInput)
	case lap <= 0 || lapU < 0:
		return Speed{}, fmt.Errorf("speeds: lap time %v, uncertainty %v %w: expected a time above 0", lap, lapU, ErrBadInput)
	case !(scale >= 1) || math.IsInf(scale, 0):
		return Speed{}, fmt.Errorf("speeds: scale 1:%v %w: expected 1 or more; 1:32 is 32", scale, ErrBadInput)
	}
	v := lengthMM / 1000 / lap.Seconds()
	rel := math.Hypot(lengthUMM/lengthMM, float64(lapU)/float64(lap))
	of := func(f float64) Measured { return Measured{v * f, v * f * rel} }
	return Speed{MS: of(1), KMH: of(3.6 * scale), MPH: of(3.6 * scale / kmPerMile), Scale: scale}, nil
}

// TrapSpeed is the speed between two sensors a distance apart.
func TrapSpeed(distanceMM, distanceUMM float64, between, betweenU time.Duration, scale float64) (Speed, error) {
	return ScaleSpeed(distanceMM, distanceUMM, between, betweenU, scale)
}

// ParRatio is the par lap divided by the lap driven: above 1 beats par.
func ParRatio(par, lap time.Duration) (float64, error) {
	if par <= 0 || lap <= 0 {
		return 0, fmt.Errorf("speeds: par %v, lap %v %w: expected times above 0", par, lap, ErrBadInput)
	}
	return float64(par) / float64(lap), nil
}

// Claim compares a best lap with the record so far.
type Claim int

const (
	NoRecord Claim = iota // slower, beyond doubt or not
	New                   // quicker by more than measurement explains
	Equal                 // within measurement of the record, either way
)

// String returns the words that are printed.
func (c Claim) String() string {
	switch c {
	case New:
		return "new"
	case Equal:
		return "equal within measurement"
	}
	return "no record"
}

// RecordClaim judges a lap against a record by ln ratio: the difference counts
// when it is more than twice the two relative uncertainties taken together (a
// coverage factor of 2, JCGM 100:2008, 6.2.2). Speeds rather than times are compared,
// so that laps on lanes of different length can be.
func RecordClaim(record, lap Speed) (Claim, error) {
	if !(record.MS.Value > 0) || !(lap.MS.Value > 0) {
		return NoRecord, fmt.Errorf("speeds: speeds %v and %v m/s %w: expected both above 0", record.MS.Value, lap.MS.Value, ErrBadInput)
	}
	d := math.Log(lap.MS.Value / record.MS.Value)
	limit := 2 * math.Hypot(record.MS.U/record.MS.Value, lap.MS.U/lap.MS.Value)
	switch {
	case math.Abs(d) <= limit:
		return Equal, nil
	case d > 0:
		return New, nil
	}
	return NoRecord, nil
}
