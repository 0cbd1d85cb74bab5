package control

import (
	"flag"
	"fmt"
	"testing"
)

var (
	nights    = flag.Int("nights", 0, "how many simulated nights are raced; 0 is 50, or 8 under -short")
	nightSeed = flag.Uint64("seed", 1, "seed of the first simulated night; the others follow")
)

// TestSeededNights races whole nights with everything that can go wrong, in fake time and on a real journal, and compares them with what
// really happened. For more of them:
//
//	go test ./race/control -run SeededNights -nights 1000 -seed 1 -timeout 0 -v
func TestSeededNights(t *testing.T) {
	many := *nights
	switch {
	case many > 0:
	case testing.Short():
		many = 8
	default:
		many = 50
	}
	var stats simStats
	t.Run("nights", func(t *testing.T) {
		for i := range uint64(many) {
			seed := *nightSeed + i
			t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
				t.Parallel()
				raceNight(t, seed, &stats)
			})
		}
	})
	t.Logf("%d nights\n%s", many, stats.String())
}
