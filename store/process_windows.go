package store

import "os"

// dropFile closes a file that the library has lost track of; the lock goes with
// the handle.
func dropFile(f *os.File) { _ = f.Close() }

// alive cannot tell here; a note is believed.
func alive(int) bool { return true }
