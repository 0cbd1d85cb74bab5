package draw

import (
	"strings"
	"testing"

	"lanewright/layout"
)

func exampleTrack(t testing.TB, name string) layout.Track {
	t.Helper()
	data, ok := layout.Example(name)
	if !ok {
		t.Fatalf("no example %q", name)
	}
	p, err := layout.ReadPlan(name, data)
	if err != nil {
		t.Fatal(err)
	}
	k, _ := layout.BuiltinKit(p.Kit)
	track, _ := layout.Resolve(p, k)
	return track
}

// inside counts how often a ray to the right crosses a polygon (the even-odd rule).
func inside(p point, poly []point) bool {
	odd := false
	for i, a := range poly {
		b := poly[(i+1)%len(poly)]
		if (a.y > p.y) != (b.y > p.y) && p.x < a.x+(p.y-a.y)/(b.y-a.y)*(b.x-a.x) {
			odd = !odd
		}
	}
	return odd
}

// A caption is painted after the roads, on its own table, and no road runs through its letters unless a plate lies between.
func TestCaptionsCanBeRead(t *testing.T) {
	tracks := map[string]layout.Track{}
	for _, name := range layout.Examples() {
		tracks[name] = exampleTrack(t, name)
	}
	crowded := exampleTrack(t, "millpond oval")
	crowded.Plan.Tables = append(crowded.Plan.Tables[:0:0], layout.Table{Name: "hidden altogether", XMM: 700, YMM: 280, WidthMM: 300, DepthMM: 60},
		layout.Table{Name: "turned", XMM: 1000, YMM: 600, WidthMM: 900, DepthMM: 300, TurnedDeg: 30}, layout.Table{Name: "turned and small", XMM: 2500, YMM: 600, WidthMM: 90, DepthMM: 30, TurnedDeg: 45})
	tracks["crowded"] = crowded
	for name, track := range tracks {
		s := compose(track, Options{})
		var roads, plates [][]point
		captions := 0
		for i, sh := range s.shapes {
			switch {
			case sh.fill == road:
				roads = append(roads, sh.points)
				if captions > 0 {
					t.Errorf("%s: shape %d is road painted over a caption", name, i)
				}
			case sh.fill == wood && len(roads) > 0:
				plates = append(plates, sh.points)
			case sh.text != "" && strings.Contains(sh.text, " x ") && strings.HasSuffix(sh.text, " mm"):
				captions++
				at := sh.points[0]
				width := 0.5 * sh.size * float64(len([]rune(sh.text)))
				plated := false
				for _, p := range plates {
					plated = plated || inside(point{at.x + 0.1, at.y - 0.1}, p)
				}
				for k := range 20 {
					q := point{at.x + width*float64(k)/19, at.y - sh.size/3}
					for _, r := range roads {
						if inside(q, r) && !plated {
							t.Errorf("%s: %q runs over a road", name, sh.text)
							break
						}
					}
				}
				if at.x < 0 || at.x+width > s.width+20 || at.y < 0 || at.y > s.height {
					t.Errorf("%s: %q lies off the sheet", name, sh.text)
				}
			}
		}
		if captions != len(track.Plan.Tables) {
			t.Errorf("%s: %d captions for %d tables", name, captions, len(track.Plan.Tables))
		}
		if name == "crowded" && len(plates) == 0 {
			t.Error("a table under the road altogether has a caption without a plate")
		}
	}
}
