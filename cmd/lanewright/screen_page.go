package main

import (
	"sync"

	"lanewright/tui"
	"lanewright/tui/page"
)

// secondScreen is the page for a television or phones, started and stopped from the screens.
type secondScreen struct {
	feed    *tui.Feed
	address string

	mu     sync.Mutex
	server *page.Server
}

// Start serves the page and returns where; a page that is up already is left as it is.
func (p *secondScreen) Start() (string, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.server == nil {
		server, err := page.Serve(p.address, page.New(page.Options{Feed: p.feed}))
		if err != nil {
			return "", err
		}
		p.server = server
	}
	return p.server.URL, nil
}

// Stop ends the page.
func (p *secondScreen) Stop() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.server == nil {
		return nil
	}
	err := p.server.Stop()
	p.server = nil
	return err
}
