package layout

import "testing"

func TestNearest(t *testing.T) {
	words := []string{"straight", "half", "quarter", "roads", "left"}
	for word, want := range map[string]string{"raods": "roads", "straigth": "straight", "quater": "quarter", "lfet": "left", "zebra": "", "": "", "halff": "half"} {
		if got := nearest(word, words); got != want {
			t.Errorf("nearest to %q is %q, want %q", word, got, want)
		}
	}
}
