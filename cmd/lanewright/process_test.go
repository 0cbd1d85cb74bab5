package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
	"time"
)

// patience is how long tests wait for something that must happen; it is no measure of anything.
const patience = 60 * time.Second

// process is the program running on its own, its standard output read line by line.
type process struct {
	t    testing.TB
	cmd  *exec.Cmd
	done chan struct{} // it has ended and everything it printed has been read
	err  error         // of Wait, once done

	mu    sync.Mutex
	lines []string
	said  bytes.Buffer // standard error
	news  chan struct{}
}

// launch starts the program. It is killed at the end of the test if it still runs then.
func launch(t testing.TB, args ...string) *process {
	t.Helper()
	path, err := exec.LookPath("lanewright")
	if err != nil {
		t.Fatal(err)
	}
	p := &process{t: t, cmd: exec.Command(path, args...), done: make(chan struct{}), news: make(chan struct{}, 1)}
	p.cmd.Env = append(os.Environ(), "HOME="+t.TempDir(), "XDG_CACHE_HOME=")
	p.cmd.Stderr = lockedWriter{&p.mu, &p.said}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go p.read(out)
	t.Cleanup(p.kill)
	return p
}

type lockedWriter struct {
	mu *sync.Mutex
	w  io.Writer
}

func (l lockedWriter) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.w.Write(b)
}

// read keeps every whole line: what a kill has cut off was not shown to anybody.
func (p *process) read(out io.Reader) {
	defer close(p.done)
	lines := bufio.NewReader(out)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			break
		}
		p.mu.Lock()
		p.lines = append(p.lines, strings.TrimSuffix(line, "\n"))
		p.mu.Unlock()
		select {
		case p.news <- struct{}{}:
		default:
		}
	}
	p.err = p.cmd.Wait()
}

// kill ends it at once and waits until it is gone.
func (p *process) kill() {
	_ = p.cmd.Process.Kill() // it may have ended
	<-p.done
}

// printed returns the lines so far.
func (p *process) printed() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.lines[:len(p.lines):len(p.lines)]
}

// complaint is what it wrote to standard error.
func (p *process) complaint() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.said.String()
}

// await waits until a line is printed that fits, looking from line from on, and returns the number of the line behind it.
func (p *process) await(what string, from int, fits func(line string) bool) int {
	p.t.Helper()
	limit := time.NewTimer(patience)
	defer limit.Stop()
	for {
		lines := p.printed()
		for ; from < len(lines); from++ {
			if fits(lines[from]) {
				return from + 1
			}
		}
		select {
		case <-p.news:
		case <-p.done:
			if len(p.printed()) == len(lines) {
				p.t.Fatalf("the program ended (%v) before there was %s; it said %q", p.err, what, p.complaint())
			}
		case <-limit.C:
			p.t.Fatalf("no %s after %v; %d lines were printed; it said %q", what, patience, len(lines), p.complaint())
		}
	}
}

// end waits until it has ended by itself and returns its exit code.
func (p *process) end() int {
	p.t.Helper()
	select {
	case <-p.done:
	case <-time.After(patience):
		p.t.Fatalf("the program has not ended after %v; %d lines were printed; it said %q", patience, len(p.printed()), p.complaint())
	}
	return p.cmd.ProcessState.ExitCode()
}

// eventLine is what tests look at in a line of --events.
type eventLine struct {
	N       uint64        `json:"n"`
	Event   string        `json:"event"`
	Heat    int           `json:"heat"`
	Lane    int           `json:"lane"`
	Ticks   uint64        `json:"ticks"`
	Number  uint64        `json:"number"`
	Boot    uint64        `json:"boot"`
	Segment int           `json:"segment"`
	At      time.Duration `json:"at_ns"`
	Again   bool          `json:"again"`
	Raw     string        `json:"raw"`
	Text    string        `json:"text"`
	Heats   []struct {
		Drivers []int `json:"drivers"`
	} `json:"heats"`
}

func parseEvent(t *testing.T, line string) eventLine {
	t.Helper()
	var e eventLine
	if err := json.Unmarshal([]byte(line), &e); err != nil {
		t.Fatalf("event line %q: %v", line, err)
	}
	return e
}

func isEvent(word string) func(string) bool {
	return func(line string) bool { return strings.Contains(line, `"event":"`+word+`"`) }
}
