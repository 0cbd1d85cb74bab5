package draw

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"lanewright/layout/pace"
)

func ovalPars(t testing.TB, lanes int) []pace.Par {
	t.Helper()
	pars, err := pace.Lanes(oval(lanes, 30), pace.BuiltinCars()[0], true)
	if err != nil {
		t.Fatal(err)
	}
	return pars
}

func TestSpeedsAsSVG(t *testing.T) {
	var a, b bytes.Buffer
	pars := ovalPars(t, 8)
	if err := SpeedSVG(&a, "Oval & more", pars); err != nil {
		t.Fatal(err)
	}
	if err := SpeedSVG(&b, "Oval & more", pars); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("drawn twice, it differs")
	}
	parse(t, a.Bytes())
	for _, p := range pars {
		if want := LaneLook(p.Lanes[0]).Hex; !bytes.Contains(a.Bytes(), []byte(want)) {
			t.Errorf("lane %d has no line in %s", p.Lanes[0], want)
		}
	}
	if !strings.Contains(a.String(), "Oval &amp; more") {
		t.Error("the title is missing")
	}
	s := speedSheet("x", pars)
	for _, sh := range s.shapes {
		for _, p := range sh.points {
			if !(p.x >= 0 && p.x <= s.width && p.y >= 0 && p.y <= s.height) {
				t.Fatalf("%+v lies off the sheet", sh)
			}
		}
	}
	if err := SpeedPDF(&a, "none", nil); err != nil {
		t.Error(err)
	}
}

func TestSpeedsInCells(t *testing.T) {
	p := ovalPars(t, 2)[0]
	for _, size := range [][2]int{{0, 0}, {4, 4}, {7, 3}, {60, 12}, {200, 40}} {
		for _, ascii := range []bool{false, true} {
			rows := SpeedCells(p, size[0], size[1], CellOptions{ASCII: ascii})
			if len(rows) != size[1] {
				t.Fatalf("%v: %d rows", size, len(rows))
			}
			for _, r := range rows {
				if utf8.RuneCountInString(r) != size[0] {
					t.Fatalf("%v: row %q is %d wide", size, r, utf8.RuneCountInString(r))
				}
			}
		}
	}
	// Two straights: the speed rises and falls twice, so the brakes come on twice.
	rows := SpeedCells(p, 60, 12, CellOptions{ASCII: true})
	runs := strings.Fields(strings.TrimPrefix(rows[11], "brk"))
	if len(runs) != len(p.Brakes) || len(p.Brakes) != 2 {
		t.Errorf("%d runs of brakes in %q, %d in the lap, want 2", len(runs), rows[11], len(p.Brakes))
	}
	t.Log("\n" + strings.Join(SpeedCells(p, 60, 12, CellOptions{}), "\n"))
}
