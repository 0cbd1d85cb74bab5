package store

// syncDir does nothing: Windows has no call to sync a directory; NTFS keeps
// names in its own journal.
func syncDir(string) error { return nil }
