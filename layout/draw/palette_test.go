package draw

import "testing"

// okabeIto is what R 4.2.2 (Debian package r-base-core, package grDevices) prints for palette.colors(9, "Okabe-Ito"), the palette of M. Okabe
// and K. Ito, Color Universal Design; black and gray are not used for lanes.
var okabeIto = map[string]string{
	"orange": "#E69F00", "skyblue": "#56B4E9", "bluishgreen": "#009E73", "yellow": "#F0E442",
	"blue": "#0072B2", "vermillion": "#D55E00", "reddishpurple": "#CC79A7",
}

func TestLaneColoursAreThoseOfOkabeAndIto(t *testing.T) {
	theirs := map[string]string{"vermillion": "vermillion", "sky": "skyblue", "yellow": "yellow", "blue": "blue", "purple": "reddishpurple", "green": "bluishgreen", "orange": "orange"}
	used := map[string]bool{}
	for n := 1; n <= 8; n++ {
		look := LaneLook(n)
		if look.Name == "white" { // the paper, in the place of black
			if look.Hex != "#FFFFFF" {
				t.Errorf("white is %s", look.Hex)
			}
			continue
		}
		name := theirs[look.Name]
		if want := okabeIto[name]; want == "" || look.Hex != want || used[name] {
			t.Errorf("lane %d: %s is %s, want %s, once", n, look.Name, look.Hex, want)
		}
		used[name] = true
	}
	if len(used) != len(okabeIto) {
		t.Errorf("%d of the %d colours are used", len(used), len(okabeIto))
	}
}
