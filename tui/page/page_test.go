package page

import (
	"bufio"
	"context"
	"encoding/json"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"lanewright/race"
)

// feed is a hand-made source of snapshots.
type feed struct {
	mu   sync.Mutex
	cur  *race.Snapshot
	subs map[chan struct{}]bool
}

func newFeed(s *race.Snapshot) *feed { return &feed{cur: s, subs: map[chan struct{}]bool{}} }

func (f *feed) Newest() *race.Snapshot { f.mu.Lock(); defer f.mu.Unlock(); return f.cur }
func (f *feed) Subscribe() chan struct{} {
	f.mu.Lock()
	defer f.mu.Unlock()
	c := make(chan struct{}, 1)
	f.subs[c] = true
	return c
}
func (f *feed) Leave(c chan struct{}) { f.mu.Lock(); defer f.mu.Unlock(); delete(f.subs, c) }
func (f *feed) publish(s *race.Snapshot) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.cur = s
	for c := range f.subs {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}
func (f *feed) readers() int { f.mu.Lock(); defer f.mu.Unlock(); return len(f.subs) }

func night(seq uint64, laps int) *race.Snapshot {
	return &race.Snapshot{
		Seq: seq, Title: "Autumn <b>cup</b>", Club: "Invented & Sons", Phase: race.Green, Heat: 2, Heats: 9,
		Clock: race.Clock{Ticking: true, Length: 3 * time.Minute, Elapsed: time.Minute, AsOf: time.Unix(1000, 0)},
		Running: []race.LaneRow{
			{Lane: 1, Driver: 1, Name: `<script>alert(1)</script>`, Laps: laps, Last: 5301 * time.Millisecond, Place: 1, Digits: 3},
			{Lane: 2, Driver: 2, Name: "Zoë", Laps: laps - 1, Place: 2, Behind: 1, Digits: 3},
		},
		Ahead:     []race.HeatRow{{Heat: 1, State: "run"}, {Heat: 2, State: "at the line"}, {Heat: 3, State: "ahead", Names: []string{"Zoë", ""}, Marshals: []string{"Bram"}}},
		Standings: []race.ResultRow{{Place: 1, Name: "Zoë", Laps: 128, Part: 37, PartOf: 100, Heats: 4}},
	}
}

func TestOnlyGetIsAnswered(t *testing.T) {
	h := New(Options{Feed: newFeed(night(1, 3))})
	for _, method := range []string{"POST", "PUT", "DELETE", "PATCH", "OPTIONS", "HEAD", "TRACE", "CONNECT"} {
		for _, path := range []string{"/", "/live", "/now.json", "/page.js"} {
			w := httptest.NewRecorder()
			h.ServeHTTP(w, httptest.NewRequest(method, path, strings.NewReader("x=1")))
			if w.Code != http.StatusMethodNotAllowed {
				t.Errorf("%s %s: got %d, want 405", method, path, w.Code)
			}
		}
	}
}

func TestNamesAreEscapedOnThePage(t *testing.T) {
	h := New(Options{Feed: newFeed(night(1, 3))})
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest("GET", "/", nil))
	body := w.Body.String()
	if strings.Contains(body, "<script>alert") || strings.Contains(body, "<b>cup") {
		t.Fatalf("a name went onto the page as markup:\n%s", body)
	}
	if !strings.Contains(body, "&lt;script&gt;alert(1)") {
		t.Fatalf("the name is missing from the page:\n%s", body)
	}
	if csp := w.Header().Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") {
		t.Errorf("content security policy is %q", csp)
	}
}

func TestPageNeedsNothingFromOutside(t *testing.T) {
	h := New(Options{Feed: newFeed(night(1, 3))})
	for _, path := range []string{"/", "/page.css", "/page.js"} {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
		if w.Code != 200 || w.Body.Len() == 0 {
			t.Fatalf("%s: %d, %d bytes", path, w.Code, w.Body.Len())
		}
		if body := w.Body.String(); strings.Contains(body, "http://") || strings.Contains(body, "https://") {
			t.Errorf("%s points outside", path)
		}
	}
}

func TestViewCarriesTheClockAndTheHeatsToCome(t *testing.T) {
	v := Of(night(7, 3), time.Unix(1010, 0), Options{}.Form)
	if v.Clock.ShownMS != 110_000 {
		t.Errorf("a heat of 180 s, 60 s driven 10 s ago, shows %d ms left, want 110000", v.Clock.ShownMS)
	}
	if len(v.Ahead) != 2 || v.Ahead[1].Heat != 3 {
		t.Errorf("heats ahead %+v: want 2 and 3, the run one left out", v.Ahead)
	}
	if got := v.Standings[0].Laps; got != "128.37" {
		t.Errorf("laps %q, want 128.37", got)
	}
	if got := v.Lanes[1].Gap; got != "+1 lap" {
		t.Errorf("gap %q, want +1 lap", got)
	}
	if Of(nil, time.Now(), Options{}.Form).Phase != "SIGN-ON" {
		t.Error("no snapshot yet must still make a page")
	}
}

func TestLiveSendsTheNewestSnapshot(t *testing.T) {
	f := newFeed(night(1, 3))
	server := httptest.NewServer(New(Options{Feed: f, Least: time.Millisecond, Beat: time.Hour}))
	defer server.Close()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	request, _ := http.NewRequestWithContext(ctx, "GET", server.URL+"/live", nil)
	answer, err := http.DefaultClient.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	if kind := answer.Header.Get("Content-Type"); kind != "text/event-stream" {
		t.Fatalf("content type %q", kind)
	}
	lines := bufio.NewScanner(answer.Body)
	next := func() View {
		for lines.Scan() {
			if data, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				var v View
				if err := json.Unmarshal([]byte(data), &v); err != nil {
					t.Fatal(err)
				}
				return v
			}
		}
		t.Fatal("the stream ended: ", lines.Err())
		return View{}
	}
	if v := next(); v.Seq != 1 {
		t.Fatalf("first event is snapshot %d", v.Seq)
	}
	f.publish(night(2, 4))
	if v := next(); v.Seq != 2 || v.Lanes[0].Laps != 4 {
		t.Fatalf("after publishing: snapshot %d with %d laps", v.Seq, v.Lanes[0].Laps)
	}
	cancel()
	for deadline := time.Now().Add(time.Minute); f.readers() > 0; {
		if time.Now().After(deadline) {
			t.Fatal("a reader who left is still subscribed")
		}
		time.Sleep(time.Millisecond)
	}
}

func TestReaderWhoNeverReadsIsDroppedAndHoldsUpNobody(t *testing.T) {
	big := night(1, 3)
	for i := range 60 {
		big.Standings = append(big.Standings, race.ResultRow{Place: i, Name: strings.Repeat("long name ", 40)})
	}
	f := newFeed(big)
	server := httptest.NewServer(New(Options{Feed: f, Least: time.Microsecond, Beat: time.Millisecond, Patience: 50 * time.Millisecond}))
	defer server.Close()
	c, err := net.Dial("tcp", server.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := io.WriteString(c, "GET /live HTTP/1.1\r\nHost: x\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	for deadline := time.Now().Add(time.Minute); f.readers() == 0; time.Sleep(time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("the reader never came in")
		}
	}
	for deadline := time.Now().Add(time.Minute); f.readers() > 0; time.Sleep(time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatal("a reader who takes nothing is still being written to")
		}
		f.publish(big)
	}
}

func TestOneReaderTooManyIsToldToComeBack(t *testing.T) {
	f := newFeed(night(1, 3))
	server := httptest.NewServer(New(Options{Feed: f, Readers: 1}))
	defer server.Close()
	first, err := http.Get(server.URL + "/live")
	if err != nil {
		t.Fatal(err)
	}
	defer first.Body.Close()
	second, err := http.Get(server.URL + "/live")
	if err != nil {
		t.Fatal(err)
	}
	defer second.Body.Close()
	if second.StatusCode != http.StatusServiceUnavailable {
		t.Fatalf("the second reader of one got %d, want 503", second.StatusCode)
	}
}

func TestServeStopsWithReadersOpen(t *testing.T) {
	s, err := Serve("127.0.0.1:0", New(Options{Feed: newFeed(night(1, 3))}))
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.Get(s.URL + "live")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := s.Wait(ctx); err != nil {
		t.Fatal(err)
	}
	if _, err := Serve("nowhere.invalid:x", nil); err == nil {
		t.Fatal("an address that cannot be must be an error")
	}
}
