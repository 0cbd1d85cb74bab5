package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// writeWhole puts a file in place whole or not at all: it is written beside its place, synced, then renamed.
func writeWhole(path string, data []byte) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return fmt.Errorf("cannot write %s: %w; check that the folder exists and may be written to", path, err)
	}
	defer func() {
		if err != nil {
			_ = os.Remove(f.Name())
			err = fmt.Errorf("cannot write %s: %w", path, err)
		}
	}()
	if _, err = f.Write(data); err != nil {
		_ = f.Close()
		return err
	}
	if err = f.Sync(); err != nil {
		_ = f.Close()
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	if err = os.Chmod(f.Name(), 0o644); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// kindOfFile reads the kind of a file off its ending; without a file name it is the kind given.
func kindOfFile(path, otherwise string) string {
	if ending := strings.TrimPrefix(strings.ToLower(filepath.Ext(path)), "."); ending != "" {
		return ending
	}
	return otherwise
}
