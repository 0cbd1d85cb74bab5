package score

import (
	"fmt"
	"math/bits"
	"strconv"
)

// Parts is a distance driven, counted in parts of a lap. How many parts make a
// lap is the rule card's resolution.
type Parts int64

// resolutionMax is a millionth of a lap, finer than any lane is measured.
const resolutionMax = 1_000_000

// PartLap returns how many whole parts of a lap lie behind a car that stands
// past units beyond the timing line on a lane of the given length. Both are in
// the same unit (millimetres, micrometres, pieces, tenths). What is left over
// is cut: 8123 mm on a lane of 15543 mm at resolution 100 are 52 parts.
//
// A car exactly on the line has made 0 parts of the next lap. A whole lane
// length is refused: it would be a lap, and laps are counted by passes.
func PartLap(past, lane int64, resolution int) (int, error) {
	if resolution < 1 || resolution > resolutionMax {
		return 0, fmt.Errorf("score: resolution of part laps %d %w: expected 1 to %d parts a lap", resolution, ErrBadInput, resolutionMax)
	}
	if lane <= 0 {
		return 0, fmt.Errorf("score: lane length %d %w: expected more than 0; measure or resolve the lane first", lane, ErrBadInput)
	}
	if past < 0 || past >= lane {
		return 0, fmt.Errorf("score: car %d past the line on a lane of %d %w: expected 0 to %d; a whole lap is counted by its pass", past, lane, ErrBadInput, lane-1)
	}
	hi, lo := bits.Mul64(uint64(past), uint64(resolution))
	q, _ := bits.Div64(hi, lo, uint64(lane)) // past < lane, so hi < lane and q < resolution
	return int(q), nil
}

// Format writes a distance in laps: "24.52" where the resolution is a power of
// ten, "24 5/8" otherwise, "24" for whole laps. Nothing is rounded.
func (p Parts) Format(resolution int) string {
	if resolution < 1 {
		resolution = 1
	}
	sign := ""
	if p < 0 {
		sign, p = "-", -p
	}
	whole := strconv.FormatInt(int64(p)/int64(resolution), 10)
	rest := int64(p) % int64(resolution)
	if resolution == 1 {
		return sign + whole
	}
	digits, ten := 0, 1
	for ten < resolution {
		ten *= 10
		digits++
	}
	if ten == resolution {
		return fmt.Sprintf("%s%s.%0*d", sign, whole, digits, rest)
	}
	if rest == 0 {
		return sign + whole
	}
	return fmt.Sprintf("%s%s %d/%d", sign, whole, rest, resolution)
}
