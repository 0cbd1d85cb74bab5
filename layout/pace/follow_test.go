package pace

import (
	"testing"

	"lanewright/layout"
	"lanewright/layout/route"
)

func graph(t testing.TB, track layout.Track) route.Graph {
	t.Helper()
	g, err := route.New(track)
	if err != nil {
		t.Fatal(err)
	}
	return g
}
