package control

import (
	"regexp"
	"strconv"
	"strings"

	"lanewright/race"
)

// numbered finds drivers by number in what a draw says: "driver 5", "Drivers 1, 3 and 4".
var numbered = regexp.MustCompile(`\b[Dd]rivers? (\d+(?:(?:, | and )\d+)*)`)

var number = regexp.MustCompile(`\d+`)

// withNames puts names in place of numbers: a draw knows drivers by position, people do not.
func withNames(lines []string, drivers []race.Driver) []string {
	out := make([]string, len(lines))
	for i, line := range lines {
		out[i] = numbered.ReplaceAllStringFunc(line, func(found string) string {
			list := strings.SplitN(found, " ", 2)[1]
			return number.ReplaceAllStringFunc(list, func(n string) string {
				k, err := strconv.Atoi(n)
				if err != nil || k < 1 || k > len(drivers) || drivers[k-1].Name == "" {
					return "driver " + n
				}
				return drivers[k-1].Name
			})
		})
	}
	return out
}
