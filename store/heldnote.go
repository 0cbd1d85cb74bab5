package store

import (
	"encoding/json"
	"os"
	"path/filepath"
	"time"
)

// heldNote is the content of path.held. It only feeds the message of
// [HeldError]; the lock is the operating system's, on the store file itself, so
// a note left behind by a killed program locks nobody out.
type heldNote struct {
	PID     int       `json:"pid"`
	Program string    `json:"program"`
	Host    string    `json:"host"`
	Since   time.Time `json:"since"`
}

func heldPath(path string) string { return path + ".held" }

func writeHeldNote(path string, opt Options) error {
	program := opt.Program
	if program == "" {
		program = filepath.Base(os.Args[0])
	}
	host, err := os.Hostname()
	if err != nil {
		host = "this computer"
	}
	b, err := json.Marshal(heldNote{os.Getpid(), program, host, opt.now().UTC()})
	if err != nil {
		return err
	}
	return os.WriteFile(heldPath(path), append(b, '\n'), 0o644)
}

func readHeldNote(path string) *HeldError {
	e := &HeldError{Path: path}
	var n heldNote
	if b, err := os.ReadFile(heldPath(path)); err == nil && json.Unmarshal(b, &n) == nil {
		if host, err := os.Hostname(); err == nil && host == n.Host && !alive(n.PID) {
			return e // left by a program that was killed; who holds the file now leaves no note
		}
		e.PID, e.Program, e.Host, e.Since = n.PID, n.Program, n.Host, n.Since
	}
	return e
}
