//go:build unix

package tui

import (
	"context"
	"io"
	"os"
	"sort"
	"strings"
	"syscall"
	"testing"
	"time"

	tea "charm.land/bubbletea/v2"
	"github.com/charmbracelet/colorprofile"
	"github.com/creack/pty"

	"lanewright/race"
)

// cpu returns the processor time used so far.
func cpu() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// onTerminal runs the screens on a pseudo-terminal whose output is handed to read.
func onTerminal(b *testing.B, phase race.Phase, w, h int, read func(p []byte)) (g *rig, keys *os.File, stop func()) {
	keys, tty, err := pty.Open()
	if err != nil {
		b.Skip(err)
	}
	if err := pty.Setsize(keys, &pty.Winsize{Cols: uint16(w), Rows: uint16(h)}); err != nil {
		b.Fatal(err)
	}
	go func() {
		buf := make([]byte, 1<<16)
		for {
			n, err := keys.Read(buf)
			if err != nil {
				return
			}
			read(buf[:n])
		}
	}()
	s := clubNight(4, phase)
	s.Clock.AsOf = time.Now()
	g = newRig(s, func(o *Options) { o.Now = time.Now })
	g.Root.ticking = false
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		Run(ctx, g.Root, tty, tty, tea.WithColorProfile(colorprofile.TrueColor), tea.WithEnvironment([]string{"TERM=xterm-256color"})) //nolint:errcheck
		close(done)
	}()
	return g, keys, func() { cancel(); <-done; tty.Close() }
}

// A live board of four lanes, and a Desk where nothing happens: how much of a processor they take.
func BenchmarkProcessorShare(b *testing.B) {
	for _, c := range []struct {
		name  string
		phase race.Phase
	}{{"live", race.Green}, {"idle", race.Idle}} {
		b.Run(c.name, func(b *testing.B) {
			g, keys, stop := onTerminal(b, c.phase, 160, 45, func([]byte) {})
			defer stop()
			time.Sleep(500 * time.Millisecond)
			if c.phase == race.Green {
				io.WriteString(keys, "gb") //nolint:errcheck
			}
			time.Sleep(500 * time.Millisecond)
			share := 0.0
			for b.Loop() {
				used, from := cpu(), time.Now()
				for i := range 40 { // a lap of about five seconds on each of four lanes gives 0.8 passes a second; here it is one
					if c.phase == race.Green && i%16 == 0 {
						n := *g.steward.s
						n.Seq++
						n.Running = append([]race.LaneRow{}, n.Running...)
						n.Running[i/16%4].Laps++
						n.Running[i/16%4].LastPass = time.Now()
						g.steward.s = &n
						g.steward.feed.Publish(&n)
					}
					time.Sleep(62 * time.Millisecond)
				}
				share = 100 * float64(cpu()-used) / float64(time.Since(from))
			}
			b.ReportMetric(share, "%cpu")
		})
	}
}

// From a key to the bytes on the terminal that show its effect.
func BenchmarkKeyToTerminal(b *testing.B) {
	saw := make(chan time.Time, 64)
	_, keys, stop := onTerminal(b, race.Green, 160, 45, func(p []byte) {
		if strings.Contains(string(p), "◂") || strings.Contains(string(p), "lap given") {
			select {
			case saw <- time.Now():
			default:
			}
		}
	})
	defer stop()
	time.Sleep(time.Second)
	var took []time.Duration
	for b.Loop() {
		for i := range 60 {
			for len(saw) > 0 {
				<-saw
			}
			at := time.Now()
			io.WriteString(keys, []string{"1", "2", "3", "4"}[i%4]) //nolint:errcheck
			select {
			case t := <-saw:
				took = append(took, t.Sub(at))
			case <-time.After(5 * time.Second):
				b.Fatal("the key shows nothing")
			}
			time.Sleep(7 * time.Millisecond)
		}
	}
	sort.Slice(took, func(i, j int) bool { return took[i] < took[j] })
	b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
	b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
}

// From a snapshot to the bytes on the terminal that show it, in bunches of four as cars pass the line.
func BenchmarkSnapshotToTerminal(b *testing.B) {
	saw := make(chan byte, 256)
	g, _, stop := onTerminal(b, race.Green, 160, 45, func(p []byte) {
		for c := byte('a'); c <= 'z'; c++ {
			if strings.Contains(string(p), strings.Repeat(string(c), 9)) {
				select {
				case saw <- c:
				default:
				}
			}
		}
	})
	defer stop()
	time.Sleep(time.Second)
	var took []time.Duration
	for b.Loop() {
		for i := range 60 {
			n := *g.steward.s
			n.Seq++
			c := byte('a' + i%26)
			n.Undo = strings.Repeat(string(c), 9) // every cell of it changes each time
			g.steward.s = &n
			at := time.Now()
			g.steward.feed.Publish(&n)
			if i%4 < 3 {
				time.Sleep(7 * time.Millisecond)
				continue // a later one of the bunch may show first
			}
			for end := time.After(5 * time.Second); ; {
				select {
				case got := <-saw:
					if got != c {
						continue
					}
				case <-end:
					b.Fatal("the snapshot never shows")
				}
				break
			}
			took = append(took, time.Since(at))
			time.Sleep(time.Duration(40+i) * time.Millisecond)
		}
	}
	sort.Slice(took, func(i, j int) bool { return took[i] < took[j] })
	b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
	b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
}
