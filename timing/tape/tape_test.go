package tape

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/iotest"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"lanewright/timing"
)

var began = time.Date(2026, 3, 14, 19, 30, 0, 250_000_000, time.UTC)

func TestTheExampleOfTheDocumentation(t *testing.T) {
	text := `{"t":0,"tape":1,"start":"2026-03-14T19:30:00.25Z"}
{"t":0.01,"src":"counter","port":"silent","why":"/dev/ttyUSB0"}
{"t":0.0213,"src":"counter","sent":"244C57"}

{"t":0.0247,"src":"counter","hex":"244C5743"}
{"t":12.5,"do":"go","args":{"heat":1},"who":"anna"}
{"t":1e3,"newer":"thing"}
`
	at := func(d time.Duration) time.Time { return began.Add(d) }
	want := []Entry{
		{Start: true, At: began},
		{T: 10 * time.Millisecond, At: at(10 * time.Millisecond), Source: "counter", Port: "silent", Detail: "/dev/ttyUSB0"},
		{T: 21300 * time.Microsecond, At: at(21300 * time.Microsecond), Source: "counter", Sent: []byte("$LW")},
		{T: 24700 * time.Microsecond, At: at(24700 * time.Microsecond), Source: "counter", Heard: []byte("$LWC")},
		{T: 12500 * time.Millisecond, At: at(12500 * time.Millisecond), Do: "go", Args: []byte(`{"heat":1}`)},
		{T: 1000 * time.Second, At: at(1000 * time.Second)},
	}
	for name, r := range map[string]io.Reader{"whole": strings.NewReader(text), "byte by byte": iotest.OneByteReader(strings.NewReader(text))} {
		got, err := Read(r)
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %v\ngot  %+v\nwant %+v", name, err, got, want)
		}
	}
}

func TestBadLines(t *testing.T) {
	good := `{"t":1,"hex":"00"}` + "\n"
	for _, c := range []struct{ name, bad, want string }{
		{"no JSON", "hello", "line 2"},
		{"no time", `{"hex":"00"}`, "t is missing"},
		{"time as text", `{"t":"soon","hex":"00"}`, "line 2"},
		{"time beyond all", `{"t":99999999999,"hex":"00"}`, "t is"},
		{"half a byte", `{"t":1,"hex":"0"}`, "hex"},
		{"no hexadecimal", `{"t":1,"sent":"zz"}`, "sent"},
		{"two kinds", `{"t":1,"hex":"00","do":"go"}`, "several"},
		{"newer version", `{"t":0,"tape":2,"start":"2026-03-14T19:30:00Z"}`, "newer program"},
		{"no start", `{"t":0,"tape":1}`, "start"},
		{"very long", `{"t":1,"do":"` + strings.Repeat("x", lineMax) + `"}`, "longer"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Read(strings.NewReader(good + c.bad + "\n" + good))
			var le *LineError
			if !errors.As(err, &le) || le.Line != 2 || !errors.Is(err, ErrLine) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v", err)
			}
			if len(got) != 2 { // what is sound can be had all the same
				t.Errorf("%d entries", len(got))
			}
			// Torn off, the same is what a killed program leaves.
			if _, err := Read(strings.NewReader(good + c.bad[:len(c.bad)-1])); err != nil && c.name != "very long" {
				t.Errorf("torn: %v", err)
			}
		})
	}
	if _, err := Read(iotest.ErrReader(io.ErrUnexpectedEOF)); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Error(err)
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := Entry{T: time.Duration(rapid.Int64().Draw(t, "t")), Source: rapid.String().Draw(t, "source")}
		switch rapid.IntRange(0, 3).Draw(t, "kind") {
		case 0:
			e.Heard = append([]byte{}, rapid.SliceOf(rapid.Byte()).Draw(t, "bytes")...)
		case 1:
			e.Sent = append([]byte{}, rapid.SliceOf(rapid.Byte()).Draw(t, "bytes")...)
		case 2:
			e.Port, e.Detail = "lost", rapid.String().Draw(t, "why")
		case 3:
			e.Do, e.Args = "go", []byte(`{"heat":3}`)
		}
		text, err := Append(nil, &e)
		if err != nil {
			t.Fatal(err)
		}
		got, err := Read(bytes.NewReader(text))
		e.At = time.Unix(0, 0).UTC().Add(e.T)
		if err != nil || len(got) != 1 || !got[0].At.Equal(e.At) {
			t.Fatalf("%s: %v", text, err)
		}
		got[0].At = e.At
		e.Source, e.Detail = strings.ToValidUTF8(e.Source, "\ufffd"), strings.ToValidUTF8(e.Detail, "\ufffd")
		if !reflect.DeepEqual(got[0], e) {
			t.Fatalf("%s\ngot  %+v\nwant %+v", text, got[0], e)
		}
	})
}

func TestFileSurvivesRunsAndKills(t *testing.T) {
	path := filepath.Join(t.TempDir(), "night.tape")
	for run := range 3 {
		start := began.Add(time.Duration(run) * time.Hour)
		w, err := Create(path, start)
		if err != nil {
			t.Fatal(err)
		}
		w.Heard("counter", start.Add(time.Second), []byte("$LW"))
		w.Port("counter", start.Add(2*time.Second), timing.Lost, "cut")
		if err := w.Do(start.Add(3*time.Second), "go", map[string]int{"heat": run}); err != nil {
			t.Fatal(err)
		}
		if err := w.Do(start, "go", func() {}); err == nil {
			t.Error("a function became JSON")
		}
		if err := w.Sync(); err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		all, torn := Salvage(bytes.NewReader(got))
		if len(torn) != run || len(all) != 4*(run+1) { // one torn line for each kill
			t.Fatalf("run %d: %d entries, %v", run, len(all), torn)
		}
		if last := all[len(all)-1]; !last.At.Equal(start.Add(3*time.Second)) || string(last.Args) != fmt.Sprintf(`{"heat":%d}`, run) {
			t.Errorf("run %d: %+v", run, last)
		}
		if err := w.Close(); err != nil {
			t.Error(err)
		}
		w.Heard("counter", start, []byte("late")) // refused, not written
		f, _ := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
		f.WriteString(`{"t":4,"src":"coun`) // killed here
		f.Close()
	}
}

// sick is a file that can be full and slow.
type sick struct {
	mu    sync.Mutex
	text  []byte
	room  int // bytes that still fit; -1: no end
	delay time.Duration
	syncs int
}

func (s *sick) Write(b []byte) (int, error) {
	time.Sleep(s.delay)
	s.mu.Lock()
	defer s.mu.Unlock()
	n := len(b)
	if s.room >= 0 {
		n = min(n, s.room)
		s.room -= n
	}
	s.text = append(s.text, b[:n]...)
	if n < len(b) {
		return n, syscall.ENOSPC
	}
	return n, nil
}
func (s *sick) Sync() error  { s.syncs++; return nil }
func (s *sick) Close() error { return nil }

func TestFullDisk(t *testing.T) {
	for room := range 400 { // full at any byte
		synctest.Test(t, func(t *testing.T) {
			s := &sick{room: room}
			w := NewWriter(s, began)
			for i := range 10 {
				w.Heard("c", began.Add(time.Duration(i)*time.Second), []byte{byte(i)})
				if i%3 == 0 {
					synctest.Wait()
				}
			}
			synctest.Wait()
			s.mu.Lock()
			s.room = -1 // somebody makes room
			s.mu.Unlock()
			time.Sleep(time.Second)
			err := w.Close()
			if err != nil && !errors.Is(err, syscall.ENOSPC) {
				t.Fatal(err)
			}
			all, _ := Salvage(bytes.NewReader(s.text))
			seen := map[int]int{}
			for _, e := range all {
				if e.Heard != nil {
					seen[int(e.Heard[0])]++
				}
			}
			if lost, _ := w.Err(); len(seen) != 10 || lost != 0 {
				t.Fatalf("room for %d: %d of 10 lines in\n%s", room, len(seen), s.text)
			}
			for i, n := range seen {
				if n != 1 {
					t.Fatalf("room for %d: line %d is there %d times in\n%s", room, i, n, s.text)
				}
			}
		})
	}
}

func TestSlowDiskDelaysNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &sick{room: -1, delay: 500 * time.Millisecond}
		w := NewWriter(s, began)
		before := time.Now()
		for i := range 1000 {
			w.Heard("c", began.Add(time.Duration(i)), []byte("x"))
		}
		if d := time.Since(before); d != 0 {
			t.Errorf("waited %v for the disk", d)
		}
		if err := w.Sync(); err != nil {
			t.Fatal(err)
		}
		if all, err := Read(bytes.NewReader(s.text)); err != nil || len(all) != 1001 {
			t.Errorf("%d entries, %v", len(all), err)
		}
		if s.syncs > 3 {
			t.Errorf("%d syncs for what waited together", s.syncs)
		}
		w.Close()
	})
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(`{"t":0,"tape":1,"start":"2026-03-14T19:30:00.25Z"}` + "\n" + `{"t":12.5,"do":"go","args":{"heat":1}}`))
	f.Add([]byte(`{"t":-1e9,"hex":"00ff"}` + "\n" + `{"t":0.0000000001,"sent":""}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		all, bad := Salvage(bytes.NewReader(text))
		for _, err := range bad {
			var le *LineError
			if !errors.As(err, &le) {
				t.Fatalf("%v", err)
			}
		}
		for _, e := range all {
			line, err := Append(nil, &e)
			if err != nil {
				t.Fatal(err)
			}
			again, err := Read(bytes.NewReader(line))
			if err != nil || len(again) != 1 || again[0].T != e.T || !bytes.Equal(again[0].Heard, e.Heard) || !bytes.Equal(again[0].Sent, e.Sent) || again[0].Do != e.Do {
				t.Fatalf("%+v became %s: %v %+v", e, line, err, again)
			}
		}
	})
}

func BenchmarkHeard(b *testing.B) {
	w, err := Create(filepath.Join(b.TempDir(), "x.tape"), began)
	if err != nil {
		b.Fatal(err)
	}
	line := []byte("$LWPAS,1207,1,3,0,48211734*4D\r\n")
	b.ReportAllocs()
	for b.Loop() {
		w.Heard("counter", began, line)
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
}
