package pace

import (
	"math"
	"testing"
)

func TestConvergeEndsAtTheLapThatIsUsed(t *testing.T) {
	track := oneLane(shape{straight: 1.7}, shape{radius: 0.3, turn: 120}, shape{straight: 0.4}, shape{radius: 0.6, turn: 150},
		shape{straight: 2}, shape{radius: 0.45, turn: 90})
	laps, err := Converge(track, 1, builtin[0])
	if err != nil {
		t.Fatal(err)
	}
	used := par(t, track, builtin[0]).LapsS[0]
	if len(laps) != 5 || laps[2].StepMM != stepMM || laps[2].LapS != used {
		t.Fatalf("%+v, the lap used is %v", laps, used)
	}
	if d := math.Abs(laps[4].LapS - used); d > 2e-6 || d > math.Abs(laps[0].LapS-used)+1e-9 {
		t.Errorf("%+v do not converge", laps)
	}
	if _, err := Converge(track, 9, builtin[0]); err == nil {
		t.Error("lane 9 of one")
	}
}
