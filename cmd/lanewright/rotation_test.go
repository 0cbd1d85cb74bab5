package main

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
)

func rotationRun(t *testing.T, args ...string) (string, error) {
	t.Helper()
	cmd := rotationCommand()
	var out bytes.Buffer
	cmd.SetOut(&out)
	cmd.SetErr(&out)
	cmd.SetArgs(args)
	cmd.SilenceErrors, cmd.SilenceUsage = true, true
	err := cmd.Execute()
	return out.String(), err
}

func TestRotationJSONNamesEverySeat(t *testing.T) {
	text, err := rotationRun(t, "--drivers", "13", "--lanes", "4", "--json")
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Drivers, Lanes  int
		Heats           [][]*int
		Figures, Bounds map[string]any
		Proof           string
	}
	if err := json.Unmarshal([]byte(text), &got); err != nil {
		t.Fatal(err)
	}
	if got.Drivers != 13 || got.Lanes != 4 || len(got.Heats) != 13 || got.Proof == "" || got.Bounds["pair_squares"] != got.Figures["pair_squares"] {
		t.Fatalf("unexpected draw: %s", text)
	}
}

func TestRotationErrorsSayWhatIsWrong(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"--drivers 0 --lanes 4", "no drivers"},
		{"--drivers 5", "no number of lanes"},
		{"--drivers 5 --lanes 9", "expected 1 to 8"},
		{"--drivers 5 --lanes 4 --rounds 4", "4 rounds"},
		{"--drivers 5 --lanes 4 --kind round", "kind"},
		{"--drivers 5 --lanes 4 --share 1", "--share"},
		{"--drivers 5 --lanes 4 --stay 1:x", "--stay"},
		{"--drivers 5 --lanes 4 --bar 9", "--bar"},
		{"--drivers 5 --lanes 4 --order speed", "no criterion"},
		{"--sheet nowhere.toml", "no file nowhere.toml"},
		{"--redraw nowhere.json", "cannot read the draw"},
	} {
		_, err := rotationRun(t, strings.Fields(c.args)...)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want something about %q", c.args, err, c.want)
		}
	}
}
