package main

import (
	"fmt"
	"testing"

	"lanewright/layout/draw"
	"lanewright/tui/lane"
)

// A lane has one colour and one shape, on screens and in drawings.
func TestScreensAndDrawingsAgreeOnLanes(t *testing.T) {
	for n := 1; n <= lane.Most; n++ {
		screen, drawing := lane.Of(n), draw.LaneLook(n)
		if got := fmt.Sprintf("#%06X", screen.RGB); got != drawing.Hex || screen.Shape != drawing.Shape || screen.ASCII != string(drawing.ASCII) || screen.Colour != drawing.Name {
			t.Errorf("lane %d is %s %s %q %s on screens, %s %s %q %s in drawings", n, screen.Colour, got, screen.ASCII, screen.Shape, drawing.Name, drawing.Hex, string(drawing.ASCII), drawing.Shape)
		}
	}
}
