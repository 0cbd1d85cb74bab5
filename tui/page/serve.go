package page

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"
)

// Server is a page being served.
type Server struct {
	URL  string
	http *http.Server
	done chan error
}

// Serve starts serving on address ("127.0.0.1:8040"; port 0 takes a free one) and returns at once.
//
// An address that is not of this machine's loopback shows the night to the whole network: whoever asks for it must mean it.
func Serve(address string, handler http.Handler) (*Server, error) {
	listener, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("cannot serve the page on %s: %w; choose another address, or port 0 for any free port", address, err)
	}
	s := &Server{
		URL: "http://" + listener.Addr().String() + "/",
		http: &http.Server{
			Handler: handler, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second,
			IdleTimeout: 60 * time.Second, MaxHeaderBytes: 16 << 10,
		},
		done: make(chan error, 1),
	}
	go func() { s.done <- s.http.Serve(listener) }()
	return s, nil
}

// Wait returns when the server has stopped, or stops it when ctx ends.
func (s *Server) Wait(ctx context.Context) error {
	select {
	case err := <-s.done:
		if errors.Is(err, http.ErrServerClosed) {
			return nil
		}
		return err
	case <-ctx.Done():
		return s.Stop()
	}
}

// Stop ends the page at once: live readers never end by themselves.
func (s *Server) Stop() error { return s.http.Close() }
