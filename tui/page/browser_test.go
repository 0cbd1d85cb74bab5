package page

import (
	"context"
	"net/http/httptest"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestPageInARealBrowser loads the page in a headless Chromium: it must follow the night live, show a hostile name as text, say
// that it is old when the connection drops, and come back by itself.
func TestPageInARealBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("a browser takes seconds to start: left out with -short")
	}
	var browser string
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			browser = found
			break
		}
	}
	if browser == "" {
		t.Skip("no browser on this machine: install chromium to run this test")
	}
	f := newFeed(night(1, 3))
	handler := New(Options{Feed: f})
	server := httptest.NewServer(handler)
	address := server.Listener.Addr().String()
	defer func() { server.CloseClientConnections(); server.Close() }()

	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(browser), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.WindowSize(1280, 720),
		chromedp.WSURLReadTimeout(2*time.Minute))
	outer, stop := chromedp.NewExecAllocator(context.Background(), options...)
	defer stop()
	ctx, cancel := chromedp.NewContext(outer)
	defer cancel()
	// until polls a condition on the page. CSP forbids eval in the page, so the condition is asked for from outside.
	until := func(what, condition string) {
		t.Helper()
		for deadline := time.Now().Add(2 * time.Minute); ; time.Sleep(50 * time.Millisecond) {
			yes, err := chromedp.Run(ctx, chromedp.Evaluate[bool](condition))
			if err == nil && yes {
				return
			}
			if time.Now().After(deadline) {
				t.Fatalf("%s: %s never came true: %v", what, condition, err)
			}
		}
	}
	ask := func(expression string) string {
		t.Helper()
		answer, err := chromedp.Run(ctx, chromedp.Evaluate[string](expression))
		if err != nil {
			t.Fatal(err)
		}
		return answer
	}
	const laps = `document.querySelector("#lanes td.laps")?.textContent === `
	if _, err := chromedp.Run(ctx, chromedp.Navigate(server.URL+"/")); err != nil {
		t.Fatal("loading the page: ", err)
	}
	until("the page as loaded", laps+`"3"`)
	f.publish(night(2, 4))
	until("following the night", laps+`"4"`)
	if name := ask(`document.querySelector("#lanes tbody tr td:nth-child(2)").textContent`); name != `<script>alert(1)</script>` {
		t.Errorf("the name reads %q", name)
	}
	if phase := ask(`document.getElementById("phase").textContent`); phase != "GREEN" {
		t.Errorf("phase %q", phase)
	}
	until("the clock", `/[0-9][:.][0-9]/.test(document.getElementById("clock").textContent)`)
	if path := os.Getenv("PAGE_PICTURE"); path != "" {
		picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, picture, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	// The race computer goes away: the page must say that it is old.
	server.CloseClientConnections()
	server.Close()
	until("saying that it is old", `!document.getElementById("stale").hidden`)
	// It comes back on the same address, with news.
	f.publish(night(3, 5))
	back, err := Serve(address, handler)
	if err != nil {
		t.Fatal(err)
	}
	defer back.Stop()
	until("coming back", laps+`"5" && document.getElementById("stale").hidden`)
}
