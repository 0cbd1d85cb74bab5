package judge

import "time"

// Late tells whether a car was late at a moment: the interval between passes that holds the moment, or the wait since the last pass, is
// longer than one and a half clean laps. When all cars were late at once it was the power, not a missed pass.
func Late(at []time.Duration, clean Clean, moment, now time.Duration) bool {
	if !clean.Known() || len(at) == 0 || moment < at[0] {
		return false
	}
	for i := 1; i < len(at); i++ {
		if at[i] >= moment {
			return at[i]-at[i-1] > clean.Lap+clean.Lap/2
		}
	}
	return now-at[len(at)-1] > clean.Lap+clean.Lap/2
}
