//go:build linux || darwin

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"
)

// quantile returns the value below which the share q of sorted lies.
func quantile(sorted []time.Duration, q float64) time.Duration {
	return sorted[min(int(q*float64(len(sorted))), len(sorted)-1)]
}

func reportQuantiles(b *testing.B, name string, took []time.Duration) (p50, p99 time.Duration) {
	slices.Sort(took)
	p50, p99 = quantile(took, 0.50), quantile(took, 0.99)
	b.ReportMetric(float64(p50.Microseconds())/1000, name+"-p50-ms")
	b.ReportMetric(float64(p99.Microseconds())/1000, name+"-p99-ms")
	return p50, p99
}

// BenchmarkPassToDurableLine measures from the moment at which the bytes of a pass are put on the line to the moment at which another
// process has read its line of --events, which is printed only when the pass is durable. Between any two passes the same disk is
// asked to make one bare write of 4 KiB durable, for comparison.
func BenchmarkPassToDurableLine(b *testing.B) {
	dir := b.TempDir()
	sheet := writePlayed(b, dir, strings.NewReplacer(`length = "6s"`, `length = "24h"`).Replace(playedSheet))
	now := uint64(1_000_000)
	c := plugIn(b, 2, 5, func() uint64 { return now })
	p := launch(b, "night", "run", sheet, "--port", c.port, "--store", filepath.Join(dir, "club.lw"), "--night", "bench", "--headless", "--events")
	seen := p.await("the start of the heat", 0, isEvent("went"))
	bare, err := os.Create(filepath.Join(dir, "bare"))
	if err != nil {
		b.Fatal(err)
	}
	defer bare.Close()
	page := make([]byte, 4096)

	var whole, disk []time.Duration
	for b.Loop() {
		c.quickly(func() { now += 5_000_000 }) // laps of five seconds, told as fast as they are taken
		start := time.Now()
		c.quickly(func() { c.pass(1, now, false) })
		seen = p.await("the pass", seen, isEvent("pass"))
		whole = append(whole, time.Since(start))

		page[0]++
		start = time.Now()
		if _, err := bare.WriteAt(page, int64(len(disk)%256)*4096); err != nil {
			b.Fatal(err)
		}
		if err := bare.Sync(); err != nil {
			b.Fatal(err)
		}
		disk = append(disk, time.Since(start))
	}
	w50, w99 := reportQuantiles(b, "pass", whole)
	d50, d99 := reportQuantiles(b, "bare-sync", disk)
	b.ReportMetric(float64(w50)/float64(d50), "p50-ratio")
	b.ReportMetric(float64(w99)/float64(d99), "p99-ratio")
	b.ReportMetric(0, "ns/op")
}

// built compiles the program as users have it.
func built(b *testing.B) string {
	b.Helper()
	path := filepath.Join(b.TempDir(), "lanewright")
	if out, err := exec.Command("go", "build", "-o", path, ".").CombinedOutput(); err != nil {
		b.Fatalf("go build: %v: %s", err, out)
	}
	return path
}

// firstFrame starts the demo on a terminal of 80 x 24 and returns how long it took to the first frame.
func firstFrame(b *testing.B, path string) (took time.Duration, cmd *exec.Cmd, end func()) {
	b.Helper()
	dir := b.TempDir()
	cmd = exec.Command(path, "demo", "--store", filepath.Join(dir, "demo.lw"))
	cmd.Env = append(os.Environ(), "HOME="+dir, "TERM=xterm-256color")
	start := time.Now()
	screen, err := pty.StartWithSize(cmd, &pty.Winsize{Cols: 80, Rows: 24})
	if err != nil {
		b.Fatal(err)
	}
	hang := time.AfterFunc(patience, func() { _ = cmd.Process.Kill() })
	end = func() {
		hang.Stop()
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		_ = screen.Close()
	}
	var shown []byte
	buf := make([]byte, 64<<10)
	for !bytes.Contains(shown, []byte("make the draw")) {
		n, err := screen.Read(buf)
		if err != nil {
			end()
			b.Fatalf("no frame: %v: %q", err, shown)
		}
		shown = append(shown, buf[:n]...)
	}
	took = time.Since(start)
	go func() { // a terminal that reads on
		for {
			if _, err := screen.Read(buf); err != nil {
				return
			}
		}
	}()
	return took, cmd, end
}

// BenchmarkFirstFrame measures from the start of the process to the first frame of the demo. The target is 150 ms.
func BenchmarkFirstFrame(b *testing.B) {
	path := built(b)
	var all []time.Duration
	for b.Loop() {
		took, _, end := firstFrame(b, path)
		end()
		all = append(all, took)
	}
	reportQuantiles(b, "first-frame", all)
	b.ReportMetric(0, "ns/op")
}

// BenchmarkMemoryAtRest looks at the memory of the demo two seconds after its first frame. The target is 40 MB.
func BenchmarkMemoryAtRest(b *testing.B) {
	if runtime.GOOS != "linux" {
		b.Skip("reads /proc")
	}
	path := built(b)
	var most float64
	for b.Loop() {
		_, cmd, end := firstFrame(b, path)
		time.Sleep(2 * time.Second)
		status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", cmd.Process.Pid))
		end()
		if err != nil {
			b.Fatal(err)
		}
		_, rest, _ := strings.Cut(string(status), "VmRSS:")
		kb, err := strconv.ParseFloat(strings.Fields(rest)[0], 64)
		if err != nil {
			b.Fatal(err)
		}
		most = max(most, kb/1024)
	}
	b.ReportMetric(most, "MB-resident")
	b.ReportMetric(0, "ns/op")
}
