package lane

import (
	"math"
	"testing"
)

// okabeIto is the palette as R 4.2.2 gives it: palette.colors(9, "Okabe-Ito"), black and gray left out, white added.
var okabeIto = map[string]uint32{"orange": 0xE69F00, "sky": 0x56B4E9, "green": 0x009E73, "yellow": 0xF0E442, "blue": 0x0072B2, "vermillion": 0xD55E00, "purple": 0xCC79A7, "white": 0xFFFFFF}

func TestTheColoursAreThoseOfOkabeAndIto(t *testing.T) {
	seen := map[string]bool{}
	for n := 1; n <= Most; n++ {
		m := Of(n)
		if want, ok := okabeIto[m.Colour]; !ok || m.RGB != want {
			t.Errorf("lane %d: %s is %06X, want %06X", n, m.Colour, m.RGB, want)
		}
		for _, s := range []string{m.Shape, m.ASCII, m.Colour} {
			if seen[s] {
				t.Errorf("lane %d: %s is another lane's too", n, s)
			}
			seen[s] = true
		}
	}
}

// linear returns the linear light of a colour. Source: IEC 61966-2-1 (sRGB).
func linear(rgb uint32) (out [3]float64) {
	for i := range out {
		v := float64(rgb>>(16-8*i)&0xff) / 255
		if v <= 0.04045 {
			out[i] = v / 12.92
		} else {
			out[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return out
}

// contrast is the ratio of WCAG 2.1, success criterion 1.4.3.
func contrast(a, b uint32) float64 {
	lum := func(c uint32) float64 { l := linear(c); return 0.2126*l[0] + 0.7152*l[1] + 0.0722*l[2] }
	la, lb := lum(a)+0.05, lum(b)+0.05
	return max(la/lb, lb/la)
}

// xterm returns a colour of the 256 colour table: the 6x6x6 cube with the steps 0 95 135 175 215 255.
func xterm(n uint8) uint32 {
	steps := [6]uint32{0, 95, 135, 175, 215, 255}
	i := uint32(n) - 16
	return steps[i/36]<<16 | steps[i/6%6]<<8 | steps[i%6]
}

func ink(dark bool) uint32 {
	if dark {
		return 0
	}
	return 0xFFFFFF
}

func TestTheInkReadsOnEveryChip(t *testing.T) {
	for n := 1; n <= Most; n++ {
		m := Of(n)
		if c := contrast(m.RGB, ink(m.Dark)); c < 4.5 {
			t.Errorf("lane %d: contrast %.2f in true colour", n, c)
		}
		if c := contrast(xterm(m.ANSI), ink(m.Dark8)); c < 4.5 {
			t.Errorf("lane %d: contrast %.2f in the 256 colour table", n, c)
		}
	}
}

// kinds are the matrices of G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, "A Physiologically-based Model for Simulation of
// Color Vision Deficiency" (2009), severity 1.0, checked against the table in colorspacious 1.1.2 (Debian), file cvd.py. They apply
// to linear light. The first is normal vision.
var kinds = [4][9]float64{
	{1, 0, 0, 0, 1, 0, 0, 0, 1},
	{0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998},
	{0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.011820, 0.042940, 0.968881},
	{1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.303900},
}

// lab turns linear sRGB light into CIE L*a*b* for D65. Source: IEC 61966-2-1 for the matrix, CIE 15 for the rest.
func lab(l [3]float64) [3]float64 {
	x := (0.4124*l[0] + 0.3576*l[1] + 0.1805*l[2]) / 0.9505
	y := 0.2126*l[0] + 0.7152*l[1] + 0.0722*l[2]
	z := (0.0193*l[0] + 0.1192*l[1] + 0.9505*l[2]) / 1.0890
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	return [3]float64{116*f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))}
}

// least returns the smallest CIE76 distance between two of the colours as any of the four kinds of eyes sees them.
func least(colours []uint32) float64 {
	best := math.Inf(1)
	for _, k := range kinds {
		var seen [][3]float64
		for _, c := range colours {
			l := linear(c)
			var s [3]float64
			for i := range s {
				s[i] = min(max(k[3*i]*l[0]+k[3*i+1]*l[1]+k[3*i+2]*l[2], 0), 1)
			}
			seen = append(seen, lab(s))
		}
		for i := range seen {
			for j := range i {
				best = min(best, math.Hypot(math.Hypot(seen[i][0]-seen[j][0], seen[i][1]-seen[j][1]), seen[i][2]-seen[j][2]))
			}
		}
	}
	return best
}

// The first lanes are those that differ most. 15 is where two painted colours are hard to tell apart across a hall (common
// practice, no source).
func TestLanesCanBeToldApartByEveryEye(t *testing.T) {
	for _, n := range []int{2, 4, 6, 8} {
		var rgb, table []uint32
		for i := 1; i <= n; i++ {
			rgb, table = append(rgb, Of(i).RGB), append(table, xterm(Of(i).ANSI))
		}
		a, b := least(rgb), least(table)
		t.Logf("%d lanes: least distance %.1f in true colour, %.1f in the 256 colour table", n, a, b)
		if a < 15 || b < 15 {
			t.Errorf("%d lanes: %.1f and %.1f", n, a, b)
		}
	}
}
