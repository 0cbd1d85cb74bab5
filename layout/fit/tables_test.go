package fit

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// strip makes a piece of one straight or arc with a band of its own width on either side.
func stripBand(x, y, heading, length, turn, radius, left, right float64) band {
	return newBand(curve.Pose{X: x, Y: y, Heading: curve.Radians(heading)}, length, curve.Radians(turn), radius, left, right)
}

// The verdicts come from a general-purpose geometry library: shapely 1.8.5 with GEOS 3.11.1 from Debian 12, by
// testdata/union_cases.py. There bends are polygons of 8,000 corners and overhangs are looked for on a raster of a few
// mm, so margins agree to 0.01 mm and overhangs are at least what that raster saw, and at most a little more.
func TestStripsOnTablesAgreeWithAGeometryLibrary(t *testing.T) {
	data, err := os.ReadFile("testdata/union_cases.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Tables [][5]float64
		Strip  [8]float64
		Margin float64
	}
	if err := json.Unmarshal(data, &cases); err != nil {
		t.Fatal(err)
	}
	fits := 0
	for i, c := range cases {
		var tables []layout.Table
		for _, x := range c.Tables {
			tables = append(tables, layout.Table{XMM: x[0], YMM: x[1], WidthMM: x[2], DepthMM: x[3], TurnedDeg: x[4]})
		}
		g := newGround(tables, 0)
		s := c.Strip
		b := stripBand(s[0], s[1], s[2], s[3], s[4], s[5], s[6], s[7])
		got, at := g.bandMargin(&b, math.Inf(1))
		if c.Margin >= 0 {
			fits++
			if math.Abs(got-c.Margin) > 0.01 {
				t.Errorf("case %d: margin %.4f, the library says %.4f", i, got, c.Margin)
			}
			continue
		}
		if over := -got; over < -c.Margin-0.01 || over > -c.Margin+3 {
			t.Errorf("case %d: overhang %.4f, the library saw %.4f", i, over, -c.Margin)
		} else if !b.holds(at, -1e-6) || math.Abs(g.to(at)-over) > 1e-6 {
			t.Errorf("case %d: the place (%.1f, %.1f) of the overhang of %.4f is wrong", i, at.x, at.y, over)
		}
	}
	if fits < 40 || fits > 80 {
		t.Errorf("%d of %d cases fit, want a fair share of both", fits, len(cases))
	}
}

// The inside of a bend at a notch of a table: edge radius r, the notch's corner p, p away from the centre towards the
// road. It fits when p sqrt(2) <= r, with a margin of r - p sqrt(2); else the road's point half way round hangs
// p - r/sqrt(2) over either edge.
func TestBendAtANotch(t *testing.T) {
	for _, w := range []struct{ p, want float64 }{
		{120, 10.2943725152}, // 180 - 169.7056274848
		{150, -22.7207793864},
	} {
		// Everything but the quarter plane left of and below (p, p), seen from the centre of the bend.
		g := newGround([]layout.Table{
			{XMM: w.p, YMM: -5000, WidthMM: 5000, DepthMM: 10000},
			{XMM: -5000, YMM: w.p, WidthMM: 10000, DepthMM: 5000},
		}, 0)
		// The middle at 270, 90 to each edge, round from 10 to 80 degrees: the ends must not reach the notch's sides first.
		b := stripBand(270*math.Cos(curve.Radians(10)), 270*math.Sin(curve.Radians(10)), 100, 270*curve.Radians(70), 70, 270, 90, 90)
		got, _ := g.bandMargin(&b, math.Inf(1))
		if want := w.want; want < 0 && math.Abs(got-want) > 1e-6 {
			t.Errorf("corner at %v: %.10f, want %.10f", w.p, got, want)
		} else if want > 0 && got > want+1e-9 {
			t.Errorf("corner at %v: %.10f, more than %.10f", w.p, got, want)
		}
		if w.want > 0 {
			// The corner itself is that far from the edge of the road; the ends of this stretch come nearer to the sides.
			if d := b.toSeg(seg{vec{w.p, w.p}, vec{w.p, w.p}}); math.Abs(d-w.want) > 1e-9 {
				t.Errorf("the corner is %.10f from the road, want %.10f", d, w.want)
			}
		}
	}
}

// A hole between four tables, wholly inside the road: the road's edges lie on tables all along.
func TestHoleInsideTheRoad(t *testing.T) {
	var tables []layout.Table
	for _, c := range [4][4]float64{{0, 0, 1000, 480}, {0, 520, 1000, 480}, {0, 480, 480, 40}, {520, 480, 480, 40}} {
		tables = append(tables, layout.Table{XMM: c[0], YMM: c[1], WidthMM: c[2], DepthMM: c[3]})
	}
	g := newGround(tables, 0)
	b := stripBand(200, 500, 0, 600, 0, 0, 90, 90)
	got, at := g.bandMargin(&b, math.Inf(1))
	if math.Abs(got+20) > 0.01 {
		t.Errorf("margin %.4f, want an overhang of 20 in the middle of a hole of 40 by 40", got)
	}
	if math.Hypot(at.x-500, at.y-500) > 0.5 {
		t.Errorf("the hole is at (%.1f, %.1f), want (500, 500)", at.x, at.y)
	}
}

// What the example layouts take up and how much is left beside them, worked out from their courses: for Millpond Oval a
// start at (769.2, 339.6), bends of radius 270 and a strip of 180 give x from 769.2 - 360 to 769.2 + 900 + 360 and y from
// 339.6 - 90 to 339.6 + 540 + 90 on a table of 2438.4 by 1219.2.
func TestExamplesLieOnTheirTables(t *testing.T) {
	for _, w := range []struct {
		name                   string
		x0, x1, y0, y1, margin float64
	}{
		{"millpond oval", 409.2, 2029.2, 249.6, 969.6, 249.6},
		{"heron eight", 229.2, 2209.2, 229.2, 2209.2, 229.2},
		{"heron eight level", 229.2, 2209.2, 229.2, 2209.2, 229.2},
		{"saltmarsh four", 53.4, 4823.4, 60, 3570, 53.4},
		{"kestrel six", 28.4, 4848.4, 9.2, 2429.2, 9.2},
	} {
		r := OnTables(example(t, w.name))
		if !r.Fits || math.Abs(r.MarginMM-w.margin) > 1e-6 {
			t.Errorf("%s: fits %v with %.6f, want %.1f", w.name, r.Fits, r.MarginMM, w.margin)
		}
		for i, c := range [4][2]float64{{r.MinXMM, w.x0}, {r.MaxXMM, w.x1}, {r.MinYMM, w.y0}, {r.MaxYMM, w.y1}} {
			if math.Abs(c[0]-c[1]) > 1e-6 {
				t.Errorf("%s: side %d at %.6f, want %.1f", w.name, i, c[0], c[1])
			}
		}
	}
}

func TestOverhangIsToldAtItsCall(t *testing.T) {
	track := example(t, "millpond oval")
	track.Plan.Tables[0].WidthMM = 1990 // the right half turn reaches 2029.2
	r := OnTables(track)
	fs := r.Findings()
	if r.Fits || math.Abs(r.MarginMM+39.2) > 1e-6 || len(fs) == 0 {
		t.Fatalf("fits %v, margin %.6f, %d findings", r.Fits, r.MarginMM, len(fs))
	}
	f := fs[0]
	if f.Code != CodeOverhang || f.Call != 3 || math.Abs(f.Amount-39.2) > 1e-6 || f.Unit != "mm" || !strings.Contains(f.Text, "39.2 mm") {
		t.Errorf("finding %+v", f)
	}
	// A border of 30 outside bends is short by 10 on a table that ends 20 beyond the road.
	track.Plan.Tables[0].WidthMM = 2049.2
	r = OnTables(track)
	if !r.Fits || len(r.Borders) == 0 || math.Abs(r.Borders[0].MM-10) > 1e-6 {
		t.Errorf("fits %v, borders %+v", r.Fits, r.Borders)
	}
}

func TestSeamsUnderChangers(t *testing.T) {
	track := example(t, "millpond digital")
	// The first changer lies from 180 to 540 behind the start's place at 769.2: cut the table under it.
	track.Plan.Tables = []layout.Table{{WidthMM: 1100, DepthMM: 1219.2}, {XMM: 1100, WidthMM: 1338.4, DepthMM: 1219.2}}
	r := OnTables(track)
	if !r.Fits || len(r.Seams) != 2 { // the changer on the way out, and the one above it on the way back
		t.Fatalf("fits %v, seams %+v", r.Fits, r.Seams)
	}
	if r.Seams[0].Call != 2 {
		t.Errorf("seam %+v, want call 2", r.Seams[0])
	}
	// Half a millimetre between the tables is bridged unless the builder says otherwise.
	track.Plan.Tables[1].XMM = 1100.5
	if r = OnTables(track); !r.Fits {
		t.Error("a gap of half a millimetre is not bridged")
	}
	if r = OnTablesWith(track, TableOptions{GapMM: -1}); r.Fits {
		t.Error("a gap of half a millimetre is bridged against the builder's wish")
	}
}

// Turning tables and road together changes nothing.
func TestTurningTheRoomChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		deg := rapid.Float64Range(-180, 180).Draw(t, "degrees")
		sin, cos := curve.SinCos(deg)
		turn := func(p vec) vec { return p.turned(sin, cos) }
		draw := func(name string) float64 { return rapid.Float64Range(-300, 900).Draw(t, name) }
		tables := []layout.Table{{WidthMM: 1219.2, DepthMM: 609.6}, {XMM: draw("x"), YMM: draw("y"), WidthMM: 609.6, DepthMM: 1219.2, TurnedDeg: 20}}
		h := rapid.Float64Range(-180, 180).Draw(t, "heading")
		at := vec{draw("sx"), draw("sy")}
		bend := rapid.SampledFrom([]float64{0, 60, -90, 180}).Draw(t, "turn")
		length := 400.0
		if bend != 0 {
			length = 270 * curve.Radians(math.Abs(bend))
		}
		a := stripBand(at.x, at.y, h, length, bend, 270, 90, 90)
		g := newGround(tables, 0)
		there := turn(at)
		b := stripBand(there.x, there.y, h+deg, length, bend, 270, 90, 90)
		for i := range tables {
			c := turn(vec{tables[i].XMM, tables[i].YMM})
			tables[i].XMM, tables[i].YMM, tables[i].TurnedDeg = c.x, c.y, tables[i].TurnedDeg+deg
		}
		g2 := newGround(tables, 0)
		m1, _ := g.bandMargin(&a, math.Inf(1))
		m2, _ := g2.bandMargin(&b, math.Inf(1))
		// Overhangs are found by closing in on the best point of a raster, which may settle on another hill of like height.
		if tol := 1e-6; math.Abs(m1-m2) > tol && !(m1 < 0 && m2 < 0 && math.Abs(m1-m2) < 2) {
			t.Fatalf("%.8f before, %.8f after", m1, m2)
		}
	})
}

func BenchmarkTables(b *testing.B) {
	fits := example(b, "saltmarsh four")
	over := winding(b, 2)
	over.Plan.Tables = fits.Plan.Tables
	for name, track := range map[string]layout.Track{"122 pieces that fit": fits, "240 pieces that mostly do not": over} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				OnTables(track)
			}
		})
	}
}
