// Package store keeps a club's race nights in one bbolt file: the journal of
// each night, the register of drivers, cars, layouts, kits and club settings,
// and the care of that file: check, backup, restore, salvage, migration.
//
// # The journal
//
// A night has one journal: records numbered 1, 2, 3 ... without a gap, each an
// opaque run of bytes with a kind that only the caller understands. Nothing is
// edited or deleted. [Journal.Append] returns when its records are durable; one
// goroutine owns all writing and puts everything that waits into one
// transaction, so that a burst costs one sync. [Journal.Read] shows durable
// records only, never one whose sync is still under way.
//
// # What is trusted
//
// Not the disk, not the file, not even the library: bbolt guards its two meta
// pages and nothing else. So every record carries its number and a CRC-32C over
// key and value, each journal's bucket says how long the journal is, and every
// page of the tree is read and checked each time a file is opened, before a
// byte of it is believed (see survey.go). A small side file beside the store
// remembers at clean moments how long each journal was, so that a file which
// was swapped, emptied or rolled back is noticed too.
//
// A file with damage is never written to again. [Salvage] copies all that is
// good into a new file and names what is missing.
//
// # When a commit fails
//
// A failed commit leaves its outcome unknown: the last page may or may not have
// reached the disk, and an operating system may forget a failed write after it
// reported it once. So the store stops acknowledging, closes the file, opens
// and scans it again, looks whether the records are there, and in any case
// commits them again under the same numbers, because only a commit that is synced
// from beginning to end proves anything. A full disk first gives up the
// reserve, a few MiB kept beside the store for this moment.
//
// # Files
//
// Beside club.lw live club.lw.side (what was there at the last clean moment),
// club.lw.held (who has the file open, for the message a second program shows;
// the lock itself is the operating system's and dies with the process) and
// club.lw.reserve. None of them is needed to read the store.
//
// A store does not belong on a network file system: its lock and its memory
// map need a local disk.
package store
