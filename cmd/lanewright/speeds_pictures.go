package main

import (
	"fmt"
	"os"
	"path/filepath"

	"lanewright/layout/pace"
	"lanewright/race/chart"
)

// nightPicture is a drawing for a report: the file name without ending, and the SVG. A page of HTML takes chart.Inline of it.
type nightPicture struct {
	name, title string
	svg         []byte
}

// nightPictures draws what a night's report shows: lane effects, pace through the evening, speed along the par lap. What a night cannot
// show is left out: a digital one has no lanes, one without its layout no par lap.
func nightPictures(n *paceNight, car pace.Car) ([]nightPicture, error) {
	var out []nightPicture
	layoutName := n.Info().Layout.Name
	if !n.Info().Digital {
		lanes, err := laneEffectsOf([]*paceNight{n}, car, lanesFlags{})
		if err != nil {
			return nil, err
		}
		if lanes.Stints > 0 {
			title := "What each lane costs on " + layoutName
			out = append(out, nightPicture{"lanes", title, chart.IntervalsSVG(title, "seconds a lap", lanes.intervals())})
			title = "Pace through the evening on " + layoutName
			out = append(out, nightPicture{"evening", title, chart.ThroughSVG(title, lanes.through())})
		}
	}
	if n.track != nil && n.track.Closes {
		par, err := parOf(n.id, *n.track, car, parFlags{scale: max(n.Info().Scale, 1)})
		if err != nil {
			return nil, err
		}
		title := fmt.Sprintf("Par laps on %s, car %s", layoutName, car.Name)
		out = append(out, nightPicture{"par", title, chart.AlongSVG(title, alongsOf(par.Lanes))})
	}
	return out, nil
}

func alongsOf(lanes []parLane) []chart.Along {
	lines := make([]chart.Along, len(lanes))
	for i, l := range lanes {
		lines[i] = alongOf(l)
	}
	return lines
}

// writePictures writes drawings into a folder, which is made if it is not there.
func writePictures(folder string, pictures []nightPicture) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("cannot make the folder for the pictures: %w", err)
	}
	for _, p := range pictures {
		if err := writeWhole(filepath.Join(folder, p.name+".svg"), p.svg); err != nil {
			return err
		}
	}
	return nil
}
