package speeds

import (
	"fmt"
	"math"
	"time"

	"lanewright/race/analysis"
)

// LaneCost is what a lane takes from a driver each lap, measured on pace, split
// into what its length explains, what its par lap explains beyond that, and the
// rest. All in seconds a lap against the mean lane; positive is slower.
type LaneCost struct {
	Lane    int
	Group   int          // lanes can be compared inside a group only
	Percent analysis.Est // effect in per cent of a lap
	Seconds analysis.Est // the same in seconds, at the night's typical lap
	Length  *float64     // nil unless the lengths of all lanes of the group are known
	Par     *float64     // beyond Length; nil unless all par laps are known too
	Rest    *float64     // what is left; nil without lengths and par laps
	// Notable says that Rest lies outside its 95 % interval: worth a look at the
	// braid.
	Notable bool
	Text    string // one plain sentence, empty where nothing is notable
}

// LaneCosts splits lane effects of a fit of pace. lengthMM and par may be nil or
// lack lanes. Parts are first order in ln: seconds = typical lap x ln ratio.
func LaneCosts(fit *analysis.LaneFit, lengthMM map[int]float64, par map[int]time.Duration) []LaneCost {
	typical := 0.0
	for _, o := range fit.Sorted {
		typical += o.Y / float64(len(fit.Sorted))
	}
	typical = math.Exp(typical)
	lnLength := inGroups(fit, func(lane int) float64 { return math.Log(lengthMM[lane]) })
	lnPar := inGroups(fit, func(lane int) float64 { return math.Log(par[lane].Seconds()) })
	out := make([]LaneCost, len(fit.Lanes))
	for i, l := range fit.Lanes {
		c := LaneCost{Lane: l.Lane, Group: l.Group, Percent: times(l.Est, 100), Seconds: times(l.Est, typical)}
		explained := math.NaN()
		by := ""
		if v := lnLength[i]; !math.IsNaN(v) {
			c.Length = known(v * typical)
			explained, by = v, "its length explains"
			if w := lnPar[i]; !math.IsNaN(w) {
				c.Par = known((w - v) * typical)
				explained, by = w, "its length and bends explain"
			}
		} else if w := lnPar[i]; !math.IsNaN(w) {
			c.Par = known(w * typical)
			explained, by = w, "its par lap explains"
		}
		if l.Value != nil && !math.IsNaN(explained) {
			c.Rest = known((*l.Value - explained) * typical)
			if l.Low != nil && (*l.Low > explained || *l.High < explained) {
				c.Notable = true
				if *c.Rest > 0 {
					c.Text = fmt.Sprintf("lane %d costs %.2f s a lap more than %s: look at its braid", l.Lane, *c.Rest, by)
				} else {
					c.Text = fmt.Sprintf("lane %d is %.2f s a lap quicker than %s", l.Lane, -*c.Rest, by)
				}
			}
		}
		out[i] = c
	}
	return out
}

// inGroups returns each lane's value about the mean of its group; NaN where the
// group lacks one.
func inGroups(fit *analysis.LaneFit, value func(lane int) float64) []float64 {
	sum, n := map[int]float64{}, map[int]float64{}
	for _, l := range fit.Lanes {
		v := value(l.Lane)
		if math.IsInf(v, 0) {
			v = math.NaN()
		}
		sum[l.Group] += v // one NaN makes the group NaN, as it should
		n[l.Group]++
	}
	out := make([]float64, len(fit.Lanes))
	for i, l := range fit.Lanes {
		out[i] = value(l.Lane) - sum[l.Group]/n[l.Group]
	}
	return out
}

func times(e analysis.Est, f float64) analysis.Est {
	mul := func(x *float64) *float64 {
		if x == nil {
			return nil
		}
		return known(*x * f)
	}
	return analysis.Est{Value: mul(e.Value), SE: mul(e.SE), Low: mul(e.Low), High: mul(e.High)}
}
