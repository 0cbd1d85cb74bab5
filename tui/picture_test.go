package tui

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"lanewright/race"
)

// The pictures of the README: the screens themselves, drawn cell by cell.
func TestPicturesShowTheScreens(t *testing.T) {
	for _, p := range []struct {
		name, title string
		w, h, lanes int
		keys        []string
	}{
		{"desk", "The Desk: a heat of the Harbour Lane Club, two questions waiting", 120, 38, 4, nil},
		{"board", "The Board: the same heat for the other side of the hall", 120, 34, 4, []string{"g", "b"}},
		{"board-8", "The Board with eight lanes", 120, 34, 8, []string{"g", "b"}},
	} {
		g := newRig(clubNight(p.lanes, race.Green)).size(p.w, p.h)
		g.press(p.keys...)
		g.clock = evening
		g.draw()
		svg := g.grid.SVG(g.pal, p.title)
		for d := xml.NewDecoder(strings.NewReader(svg)); ; {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("%s is no XML: %v", p.name, err)
			}
		}
		if p.lanes == 4 {
			for _, name := range []string{"Zoë Winter", "Ömer Aydın", "Noa Ferrand"} {
				if !strings.Contains(svg, name) {
					t.Errorf("%s does not show %s", p.name, name)
				}
			}
		}
		golden(t, "pictures/"+p.name+".svg", svg)
	}
}
