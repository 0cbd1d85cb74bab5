package tui

import (
	"testing"

	"lanewright/race"
)

// A snapshot published between the making of the screens and their subscription was missed, and the Desk waited for ever.
func TestSubscriberIsWokenForWhatIsThereAlready(t *testing.T) {
	f := NewFeed()
	early := f.Subscribe()
	select {
	case <-early:
		t.Fatal("woken although there is no snapshot")
	default:
	}
	f.Publish(&race.Snapshot{Seq: 1})
	late := f.Subscribe()
	for name, c := range map[string]chan struct{}{"early": early, "late": late} {
		select {
		case <-c:
		default:
			t.Errorf("the %s subscriber was not woken", name)
		}
	}
}
