package tui

import (
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
)

func benchView(b *testing.B, w, h int, lanes int, keys ...string) {
	g := newRig(clubNight(lanes, race.Green)).size(w, h)
	g.press(keys...)
	g.View()
	b.ReportAllocs()
	for b.Loop() {
		g.clock = g.clock.Add(100 * time.Millisecond) // the clock runs on, so that no two frames are the same
		g.View()
	}
}

func BenchmarkViewDesk80x24(b *testing.B)    { benchView(b, 80, 24, 4) }
func BenchmarkViewDesk160x45(b *testing.B)   { benchView(b, 160, 45, 8) }
func BenchmarkViewDesk200x60(b *testing.B)   { benchView(b, 200, 60, 8) }
func BenchmarkViewBoard160x45(b *testing.B)  { benchView(b, 160, 45, 8, "g", "b") }
func BenchmarkViewHelp160x45(b *testing.B)   { benchView(b, 160, 45, 8, "?") }
func BenchmarkViewSearch160x45(b *testing.B) { benchView(b, 160, 45, 8, ":", "a") }

// A key, from the message to the command that it gives.
func BenchmarkKey(b *testing.B) {
	g := newRig(clubNight(8, race.Green)).size(160, 45)
	keys := []tea.KeyPressMsg{keyOf("3"), keyOf("+"), keyOf("esc")}
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		g.clock = g.clock.Add(150 * time.Millisecond)
		g.Update(keys[i%3])
		i++
		g.steward.got = g.steward.got[:0]
	}
}

// A newer snapshot, from the feed to the frame.
func BenchmarkSnapshot160x45(b *testing.B) {
	g := newRig(clubNight(8, race.Green)).size(160, 45)
	s := *g.snap
	b.ReportAllocs()
	for b.Loop() {
		n := s
		n.Seq++
		n.Running = append([]race.LaneRow{}, s.Running...)
		n.Running[3].Recent = append(append([]time.Duration{}, s.Running[3].Recent[1:]...), time.Duration(n.Seq)*time.Millisecond)
		s = n
		g.steward.feed.Publish(&n)
		g.Update(changed{})
		g.View()
	}
}
