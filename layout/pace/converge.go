package pace

import (
	"lanewright/layout"
	"lanewright/layout/route"
)

// Refined is the lap of one lane, worked out with steps of one length.
type Refined struct {
	StepMM float64 `json:"step_mm"` // longest step in bends; twice that on straights
	LapS   float64 `json:"lap_s"`
}

// Converge works the par lap of one lane out with shorter and shorter steps, halving them each time. The third one, of 10 mm,
// is what [Lanes] uses: how much the ones after it differ shows what its laps are good for. The error is as that of [Lanes].
func Converge(t layout.Track, lane int, c Car) ([]Refined, error) {
	g, err := route.New(t)
	if err != nil {
		return nil, err
	}
	var out []Refined
	for _, step := range []float64{4 * stepMM, 2 * stepMM, stepMM, stepMM / 2, stepMM / 4} {
		r, err := laneRibbon(g, lane, len(t.Lanes), step)
		if err != nil {
			return nil, err
		}
		p, err := DrivePar(r, c, false)
		if err != nil {
			return nil, err
		}
		out = append(out, Refined{step, p.LapsS[0]})
	}
	return out, nil
}
