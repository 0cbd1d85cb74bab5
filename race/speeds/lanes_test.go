package speeds

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"lanewright/race/analysis"
)

// exactLanes is a complete night whose lane paces are given and whose errors are
// small and at right angles to drivers and lanes.
func exactLanes(t *testing.T, pace []float64) *analysis.LaneFit {
	t.Helper()
	var obs []analysis.Obs
	n := len(pace)
	for d := range n {
		for l := range n {
			e := 1e-4 * float64((d+l)%2*2-1)
			obs = append(obs, analysis.Obs{Driver: fmt.Sprint(d), Lane: l + 1, Heat: (d + l) % n, Y: math.Log(6) + 0.01*float64(d) + pace[l] + e})
		}
	}
	f, err := analysis.FitLanes(obs, analysis.LaneOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestLaneCostsAreSplit(t *testing.T) {
	// Lane 3 costs 0.015 beyond what length and bends say.
	length := map[int]float64{1: 14700, 2: 14900, 3: 15100, 4: 15300}
	par := map[int]time.Duration{1: 5900 * time.Millisecond, 2: 5950 * time.Millisecond, 3: 6050 * time.Millisecond, 4: 6100 * time.Millisecond}
	var pace []float64
	for l := 1; l <= 4; l++ {
		pace = append(pace, math.Log(par[l].Seconds()/6))
	}
	pace[2] += 0.015
	fit := exactLanes(t, pace)
	costs := LaneCosts(fit, length, par)
	typical := 0.0
	for _, o := range fit.Sorted {
		typical += o.Y / float64(len(fit.Sorted))
	}
	typical = math.Exp(typical)
	for i, c := range costs {
		near(t, fmt.Sprint("parts add up, lane ", i+1), *c.Length+*c.Par+*c.Rest, *c.Seconds.Value, 1e-12)
		want := -0.015 / 4
		if i == 2 {
			want = 0.015 * 3 / 4
		}
		near(t, fmt.Sprint("rest, lane ", i+1), *c.Rest, want*typical, 1e-9)
	}
	if c := costs[2]; !c.Notable || !strings.HasPrefix(c.Text, "lane 3 costs 0.07 s a lap more than its length and bends explain") {
		t.Errorf("%+v", c)
	}
	// Without par only the length, without length nothing is explained.
	if c := LaneCosts(fit, length, nil)[0]; c.Length == nil || c.Par != nil || c.Rest == nil {
		t.Errorf("%+v", c)
	}
	if c := LaneCosts(fit, nil, nil)[0]; c.Length != nil || c.Rest != nil || c.Notable {
		t.Errorf("%+v", c)
	}
	delete(length, 2)
	if c := LaneCosts(fit, length, nil)[0]; c.Length != nil {
		t.Error("a mean over lanes of which one length is unknown")
	}
	if c := LaneCosts(fit, nil, par)[2]; c.Par == nil || !strings.Contains(c.Text, "its par lap explains") {
		t.Errorf("%+v", c)
	}
}
