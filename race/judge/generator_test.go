package judge

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"
)

// field is the published generator: how the laps that the judge is measured on are made. The figures stand in testdata/generator.json.
type field struct {
	Seeds      []uint64
	Stints     int
	Laps       int     // of a stint
	LapFrom    float64 // seconds, clean lap of a stint, uniform
	LapTo      float64
	Noise      float64 // standard deviation of a lap, as a part of it
	Off        float64 // chance that a lap has an excursion
	OffFrom    float64 // seconds it costs, uniform
	OffTo      float64
	Miss       float64 // chance that a pass is not seen
	Phantom    float64 // chance that the sensor sees something during a lap
	PhantomGap float64 // part of the lap at either end in which the car itself, or the sensor's own recovery, hides it
	FoundLeast struct{ Phantoms, Misses float64 }
	FalseMost  struct{ Phantoms, Misses float64 } // per 1000 laps
}

type stint struct {
	at      []time.Duration
	phantom []bool
	missed  []int // passes not seen before this one
}

func (f field) make(rnd *rand.Rand) stint {
	var s stint
	lap := f.LapFrom + (f.LapTo-f.LapFrom)*rnd.Float64()
	now, missed := 0.0, 0
	add := func(t float64, phantom bool) {
		s.at = append(s.at, time.Duration(t*float64(time.Second)))
		s.phantom = append(s.phantom, phantom)
		if phantom {
			s.missed = append(s.missed, 0)
			return
		}
		s.missed = append(s.missed, missed)
		missed = 0
	}
	add(0, false)
	for range f.Laps {
		d := lap * (1 + f.Noise*rnd.NormFloat64())
		if rnd.Float64() < f.Off {
			d += f.OffFrom + (f.OffTo-f.OffFrom)*rnd.Float64()
		}
		if rnd.Float64() < f.Phantom {
			add(now+d*(f.PhantomGap+(1-2*f.PhantomGap)*rnd.Float64()), true)
		}
		now += d
		if rnd.Float64() < f.Miss {
			missed++
			continue
		}
		add(now, false)
	}
	return s
}

// The figures below are measured with the fixed seed of testdata/generator.json; the bounds there are what the judge promises.
func TestJudgeOnThePublishedGenerator(t *testing.T) {
	data, err := os.ReadFile("testdata/generator.json")
	if err != nil {
		t.Fatal(err)
	}
	var f field
	if err := json.Unmarshal(data, &f); err != nil {
		t.Fatal(err)
	}
	if len(f.Seeds) == 0 {
		t.Fatal("no seeds")
	}
	for _, seed := range f.Seeds {
		measure(t, f, seed)
	}
}

func measure(t *testing.T, f field, seed uint64) {
	rnd := rand.New(rand.NewPCG(seed, 0))
	var laps, phantoms, found, falsePhantoms, misses, foundMisses, falseMisses int
	for range f.Stints {
		s := f.make(rnd)
		var d []time.Duration
		for i := 1; i < len(s.at); i++ {
			d = append(d, s.at[i]-s.at[i-1])
		}
		labels := Judge(s.at, CleanLap(d), nil, nil)
		laps += f.Laps
		for i, l := range labels {
			switch {
			case s.phantom[i] && l.Mark != Good:
				phantoms++
				found++
			case s.phantom[i]:
				phantoms++
			case l.Mark != Good:
				falsePhantoms++
			}
			misses += s.missed[i]
			foundMisses += min(s.missed[i], l.Missed)
			falseMisses += max(l.Missed-s.missed[i], 0)
		}
	}
	perMille := func(n int) float64 { return 1000 * float64(n) / float64(laps) }
	part := func(a, b int) float64 { return float64(a) / math.Max(float64(b), 1) }
	t.Logf("seed %d, %d laps: phantoms %d, found %.1f %%, false %.2f per 1000; misses %d, found %.1f %%, false %.2f per 1000", seed, laps,
		phantoms, 100*part(found, phantoms), perMille(falsePhantoms), misses, 100*part(foundMisses, misses), perMille(falseMisses))
	if laps < 16000 {
		t.Errorf("%d laps, 16000 are promised", laps)
	}
	if part(found, phantoms) < f.FoundLeast.Phantoms || perMille(falsePhantoms) > f.FalseMost.Phantoms {
		t.Errorf("phantoms found %.4f (at least %v), false per 1000 %.2f (at most %v)", part(found, phantoms), f.FoundLeast.Phantoms, perMille(falsePhantoms), f.FalseMost.Phantoms)
	}
	if part(foundMisses, misses) < f.FoundLeast.Misses || perMille(falseMisses) > f.FalseMost.Misses {
		t.Errorf("misses found %.4f (at least %v), false per 1000 %.2f (at most %v)", part(foundMisses, misses), f.FoundLeast.Misses, perMille(falseMisses), f.FalseMost.Misses)
	}
}
