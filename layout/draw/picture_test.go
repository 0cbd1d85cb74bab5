package draw

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"lanewright/layout"
)

var update = flag.Bool("update", false, "rewrite the expected files in testdata")

// TestPictureOfAnExampleLayout keeps the drawing that the README shows.
func TestPictureOfAnExampleLayout(t *testing.T) {
	text, ok := layout.Example("saltmarsh four")
	if !ok {
		t.Fatal("the example is gone")
	}
	plan, err := layout.ReadPlan("saltmarsh-four.toml", text)
	if err != nil {
		t.Fatal(err)
	}
	kit, ok := layout.BuiltinKit(plan.Kit)
	if !ok {
		t.Fatal("the kit is gone")
	}
	track, _ := layout.Resolve(plan, kit)
	var got bytes.Buffer
	if err := SVG(&got, track, Options{Title: plan.Name}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join("testdata", "saltmarsh-four.svg")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got.Bytes(), want) {
		t.Errorf("%s is not what is drawn now; look at both, then run: go test ./layout/draw -update", path)
	}
}
