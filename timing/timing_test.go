package timing

import "testing"

func TestStateWords(t *testing.T) {
	for s, word := range map[State]string{Closed: "closed", Opening: "opening", Silent: "silent", Talking: "talking", Lost: "lost"} {
		if s.String() != word {
			t.Errorf("%d is %q, want %q", s, s, word)
		}
		if got, ok := ParseState(word); !ok || got != s {
			t.Errorf("%q is read as %v", word, got)
		}
	}
	if _, ok := ParseState("asleep"); ok || State(99).String() != "unknown" {
		t.Error("an unknown state")
	}
}

func TestPowerAckLanes(t *testing.T) {
	p := PowerAck{Lanes: 0b1000_0000_0000_0000_0000_0000_0000_0101}
	for lane, want := range map[int]bool{-1: false, 0: false, 1: true, 2: false, 3: true, 32: true, 33: false} {
		if p.On(lane) != want {
			t.Errorf("lane %d: %v", lane, p.On(lane))
		}
	}
}
