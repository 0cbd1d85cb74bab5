// Package page serves the second screen of a race night: a read-only page for a television or for phones, live by
// server-sent events (WHATWG HTML, section 9.2).
//
// It reads the newest snapshot like any other screen and sends nothing to anybody on the timing path: a slow, dead or hostile
// reader loses frames, never a pass. It answers GET only, shows only what the screens show, loads nothing from outside and
// needs no internet.
package page

import (
	"bytes"
	"embed"
	"encoding/json"
	"html/template"
	"net/http"
	"sync/atomic"
	"time"

	"lanewright/race"
	"lanewright/tui/figure"
)

//go:embed assets
var assets embed.FS

var shell = template.Must(template.ParseFS(assets, "assets/page.html"))

// Feed is where snapshots come from.
type Feed interface {
	Newest() *race.Snapshot
	Subscribe() chan struct{} // woken, without waiting, when there is a newer snapshot
	Leave(chan struct{})
}

// Options of a page. The zero value of every field but Feed is usable.
type Options struct {
	Feed     Feed
	Form     figure.Form
	Readers  int              // live readers at once, 0 for 64; one more is told to come back later
	Least    time.Duration    // least time between two snapshots sent to one reader, 0 for 100 ms
	Beat     time.Duration    // a sign of life is sent this often when nothing changes, 0 for 1 s
	Patience time.Duration    // a reader who takes longer over one write is dropped, 0 for 2 s
	Now      func() time.Time // nil for time.Now
}

type handler struct {
	Options
	readers atomic.Int64
}

// New returns the page's handler: "/", "/page.css", "/page.js", "/live" (events) and "/now.json".
func New(o Options) http.Handler {
	if o.Readers <= 0 {
		o.Readers = 64
	}
	if o.Least <= 0 {
		o.Least = 100 * time.Millisecond
	}
	if o.Beat <= 0 {
		o.Beat = time.Second
	}
	if o.Patience <= 0 {
		o.Patience = 2 * time.Second
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	h := &handler{Options: o}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", h.shell)
	mux.HandleFunc("GET /page.css", asset("assets/page.css", "text/css; charset=utf-8"))
	mux.HandleFunc("GET /page.js", asset("assets/page.js", "text/javascript; charset=utf-8"))
	mux.HandleFunc("GET /live", h.live)
	mux.HandleFunc("GET /now.json", h.now)
	return guard(mux)
}

// guard refuses everything but GET and sets the headers that keep a page to itself.
func guard(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		head := w.Header()
		head.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
		head.Set("X-Content-Type-Options", "nosniff")
		head.Set("Referrer-Policy", "no-referrer")
		head.Set("Cache-Control", "no-store")
		if r.Method != http.MethodGet {
			head.Set("Allow", "GET")
			http.Error(w, "this page is read-only: only GET is answered", http.StatusMethodNotAllowed)
			return
		}
		next.ServeHTTP(w, r)
	})
}

func asset(name, kind string) http.HandlerFunc {
	data, err := assets.ReadFile(name)
	if err != nil {
		panic(err) // embedded: missing only when the program was built wrong
	}
	return func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", kind)
		_, _ = w.Write(data) // a reader who went away is nobody's loss
	}
}

func (h *handler) view() View { return Of(h.Feed.Newest(), h.Now(), h.Form) }

// shell sends the page with the present state already on it, so that it is complete without scripts.
func (h *handler) shell(w http.ResponseWriter, _ *http.Request) {
	var page bytes.Buffer
	if err := shell.Execute(&page, h.view()); err != nil {
		http.Error(w, "the page could not be made", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(page.Bytes())
}

func (h *handler) now(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(h.view())
}

// live sends whole snapshots, newest only, at most one every Least: whoever is slow skips.
func (h *handler) live(w http.ResponseWriter, r *http.Request) {
	if h.readers.Add(1) > int64(h.Readers) {
		h.readers.Add(-1)
		w.Header().Set("Retry-After", "10")
		http.Error(w, "too many readers: try again in a moment", http.StatusServiceUnavailable)
		return
	}
	defer h.readers.Add(-1)
	w.Header().Set("Content-Type", "text/event-stream")
	wake := h.Feed.Subscribe()
	defer h.Feed.Leave(wake)
	out := http.NewResponseController(w)
	beat := time.NewTicker(h.Beat)
	defer beat.Stop()
	for {
		if !h.send(w, out) {
			return
		}
		rest := time.NewTimer(h.Least)
		select {
		case <-r.Context().Done():
			rest.Stop()
			return
		case <-rest.C:
		}
		select {
		case <-r.Context().Done():
			return
		case _, open := <-wake:
			if !open {
				return
			}
		case <-beat.C:
		}
	}
}

// send writes one snapshot and says whether the reader took it in time.
func (h *handler) send(w http.ResponseWriter, out *http.ResponseController) bool {
	data, err := json.Marshal(h.view())
	if err != nil {
		return false
	}
	event := make([]byte, 0, len(data)+16)
	event = append(event, "data: "...)
	event = append(event, data...)
	event = append(event, "\n\n"...)
	// Not every writer has deadlines; without one the server's own limits hold.
	_ = out.SetWriteDeadline(time.Now().Add(h.Patience))
	if _, err := w.Write(event); err != nil {
		return false
	}
	return out.Flush() == nil
}
