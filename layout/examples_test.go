package layout

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// resolveExample resolves an example plan that comes with the program.
func resolveExample(t testing.TB, name string) (Track, []Finding) {
	t.Helper()
	data, ok := Example(name)
	if !ok {
		t.Fatalf("no example %q", name)
	}
	return resolveText(t, name+".toml", string(data))
}

// resolveText reads and resolves a plan with a built-in kit.
func resolveText(t testing.TB, name, text string) (Track, []Finding) {
	t.Helper()
	p, err := ReadPlan(name, []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	k, ok := BuiltinKit(p.Kit)
	if !ok {
		t.Fatalf("no kit %q", p.Kit)
	}
	return Resolve(p, k)
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.9f, want %.9f", what, got, want)
	}
}

// TestExamples compares lane lengths with sums worked out piece by piece, straights and arcs: R|a| with R the lane's own radius.
//
// Millpond Oval: straights 180+720+900 = 1800; two half turns of ring 1 make a circle of 270-42 = 228 or 270+42 = 312:
// 1800 + 2 pi 228 = 3232.566250, 1800 + 2 pi 312 = 3760.353816.
//
// Heron Eight: one loop turns left, one right by 270 degrees on ring 2 with radii 408 and 492, each of 9 pieces climbing or falling
// 10 mm: 9 hypot(408 pi/6, 10) + 9 hypot(492 pi/6, 10) = 4244.999..., the straights 180+180+90+180+360+90 = 1080, and two
// crossings of (360²+84²)/84 atan(84/360) = 372.927608 each. Both lanes take each loop once inside and once outside.
//
// Level Heron Eight: 180+180+360+2x180 = 1080, arcs 1.5 pi (408+492), two crossings.
//
// Saltmarsh Four: straights 180+2880+180+90 + 2250 + 1260 + 720+90+1080 + 1260 + 2250 = 12240 and the two narrow pieces of
// 181.197610 each (shift 18 over 180). Turned left by 90+180+180+90 = 540, right by 180 degrees, so that a lane at offset e from the middle of
// its road has arcs of sum R|a| - e 2 pi. Road 1: R 450 over 90+90 left and 90+90 right, R 270 over 360 left.
//
// Kestrel Six: straights 2400, and (900-e) 420 degrees + (1500+e) 60 degrees, e = 250, 150, ... -250.
func TestExamples(t *testing.T) {
	const shift = 181.1976102289
	arcs := func(e, left, leftDeg, right, rightDeg float64) float64 {
		return ((left-e)*leftDeg + (right+e)*rightDeg) * math.Pi / 180
	}
	crossing := (360*360 + 84*84.0) / 84 * math.Atan(84/360.0)
	heron := 1080 + 9*math.Hypot(408*math.Pi/6, 10) + 9*math.Hypot(492*math.Pi/6, 10) + 2*crossing
	level := 1080 + 1.5*math.Pi*900 + 2*crossing
	saltA := func(e float64) float64 {
		return 12240 + 2*shift + arcs(e, 450, 180, 450, 180) + arcs(e, 270, 360, 0, 0)
	}
	saltB := func(e float64) float64 {
		return 12240 + 2*shift + arcs(e, 630, 180, 270, 180) + arcs(e, 450, 360, 0, 0)
	}
	kestrel := func(e float64) float64 { return 2400 + arcs(e, 900, 420, 1500, 60) }
	tests := []struct {
		name   string
		lanes  []float64 // to nine decimals, from a calculation of its own
		again  []float64 // the derivation above
		net    float64
		pieces []int
	}{
		{"millpond oval", []float64{3232.566250037, 3760.353815840}, []float64{1800 + 2*math.Pi*228, 1800 + 2*math.Pi*312}, 360, []int{12}},
		{"millpond digital", []float64{3232.566250037, 3760.353815840}, nil, 360, []int{12}},
		{"heron eight", []float64{6070.856773203, 6070.856773203}, []float64{heron, heron}, 0, []int{27}},
		{"heron eight level", []float64{level, level}, nil, 0, []int{25}},
		{"saltmarsh four", []float64{16862.394858726, 17390.182424529, 17993.368214018, 18521.155779821},
			[]float64{saltA(42), saltA(-42), saltB(42), saltB(-42)}, 360, []int{59, 63}},
		{"kestrel six", []float64{8997.344572539, 9625.663103257, 10253.981633974, 10882.300164692, 11510.618695410, 12138.937226128},
			[]float64{kestrel(250), kestrel(150), kestrel(50), kestrel(-50), kestrel(-150), kestrel(-250)}, 360, []int{6}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			track, findings := resolveExample(t, tt.name)
			if len(findings) != 0 {
				t.Errorf("findings: %v", findings)
			}
			if !track.Closes || len(track.Lanes) != len(tt.lanes) {
				t.Fatalf("closes %v with %d lanes", track.Closes, len(track.Lanes))
			}
			for i, l := range track.Lanes {
				near(t, "lane", l.LengthMM, tt.lanes[i], 6e-10)
				if tt.again != nil {
					near(t, "derived lane", tt.again[i], tt.lanes[i], 6e-9)
				}
				if l.Number != i+1 || l.EndsIn != i+1 {
					t.Errorf("lane %d is numbered %d and ends in %d", i+1, l.Number, l.EndsIn)
				}
			}
			for i, j := range track.Joins {
				if !j.Exact || !j.Provable || j.GapMM != 0 || j.NetTurnDeg != tt.net || j.Into != i+1 {
					t.Errorf("join %+v", j)
				}
				if n := len(track.Roads[i].Pieces); n != tt.pieces[i] {
					t.Errorf("road %d has %d pieces, want %d", i+1, n, tt.pieces[i])
				}
				// The ends meet in floating point too: sines of multiples of 15 degrees come from a table.
				last, first := track.Roads[i].Pieces[tt.pieces[i]-1].End, track.Roads[i].Pieces[0].Start
				near(t, "drift", math.Hypot(last.X-first.X, last.Y-first.Y), 0, 1e-9)
			}
		})
	}
}

// The examples in testdata, which other packages and the handbook use, are those that come with the program.
func TestExamplesAreTheSameEverywhere(t *testing.T) {
	for _, name := range Examples() {
		embedded, _ := Example(name)
		shared, err := os.ReadFile(filepath.Join("..", "testdata", "layouts", file(name)+".toml"))
		if err != nil || !bytes.Equal(embedded, shared) {
			t.Errorf("%s differs from the one in testdata: %v", name, err)
		}
	}
}
