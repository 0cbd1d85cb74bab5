package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"runtime"
	"time"

	bolt "go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"
)

// Options are the choices at [Open]. The zero value is right for racing.
type Options struct {
	Wait          time.Duration    // how long to wait for the file's lock; 0 means two seconds
	Program       string           // name for the held note; "" means that of the running program
	ReadOnly      bool             // shared lock; every write fails with ErrReadOnly; a newer format can be read
	MustExist     bool             // a missing file is an error (fs.ErrNotExist), not a new store
	AcceptShorter bool             // open although the side file remembers more
	OnIncident    func(Incident)   // told of failed commits, from the writing goroutine: it must return soon and not call the store
	Now           func() time.Time // nil means time.Now

	faults *faults // tests only
}

func (o Options) now() time.Time {
	if o.Now != nil {
		return o.Now()
	}
	return time.Now()
}

func (o Options) wait() time.Duration {
	if o.Wait > 0 {
		return o.Wait
	}
	return defaultWait
}

const (
	defaultWait = 2 * time.Second

	// lookWait is for those who only look, and lose nothing by being told soon.
	lookWait = 300 * time.Millisecond

	// pageSize of new files. The library would take the machine's, which on some
	// is larger; a file should not depend on where it was made.
	pageSize = 4096

	// allocSize is the step in which the file grows; each step costs a sync.
	allocSize = 1 << 20

	// mmapSize is mapped from the start, so that growth up to here never waits for a
	// reader such as a backup. On Windows the file itself would take that size.
	mmapSize = 64 << 20
)

// Open opens the store at path, or creates it when there is no such file. It
// reads and checks the whole file before it believes any of it.
//
// Errors, for errors.Is: [ErrHeld] (then *[HeldError] says who), [ErrNotStore],
// [ErrEmpty], [ErrDamaged] (then *[DamageError] lists what), [ErrNewer],
// [ErrShorter], [ErrOtherFile]; others are the operating system's. On any of
// them the file is as it was.
func Open(path string, opt Options) (*Store, error) {
	s := &Store{path: path, opt: opt, journals: map[uint32]*Journal{}}
	if err := s.prepare(); err != nil {
		return nil, err
	}
	look, err := s.acquire()
	if err != nil {
		return nil, err
	}
	if look.doc.Format < Format && !opt.ReadOnly {
		s.release()
		kept, err := migrate(path, look.doc.Format, opt)
		if err != nil {
			return nil, err
		}
		if look, err = s.acquire(); err != nil {
			return nil, err
		}
		s.notices = append(s.notices, fmt.Sprintf("%s was brought to format %d; the old file is kept as %s", path, Format, kept))
	}
	if err := s.compareSide(look); err != nil {
		s.release()
		return nil, err
	}
	if err := s.adopt(look); err != nil {
		s.release()
		return nil, err
	}
	if opt.ReadOnly {
		return s, nil
	}
	// What a killed program wrote may be in memory only. It is about to be
	// shown, so it has to be on the disk.
	if err := s.file.Sync(); err != nil {
		s.release()
		return nil, fmt.Errorf("%s: sync at opening: %w", path, err)
	}
	s.settleIn()
	s.requests = make(chan *request, queueLength)
	s.done = make(chan struct{})
	go s.commitLoop()
	return s, nil
}

// prepare looks at the file without the library, and creates a missing one.
func (s *Store) prepare() error {
	info, err := os.Stat(s.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return s.createMissing(err)
	case err != nil:
		return err
	case info.IsDir():
		return fmt.Errorf("%s: %w: it is a directory; name a file in it", s.path, ErrNotStore)
	case info.Size() == 0:
		return fmt.Errorf("%s: %w (0 bytes): its content is lost; restore a backup, or delete the file to start anew", s.path, ErrEmpty)
	}
	return sniff(s.path)
}

func (s *Store) createMissing(missing error) error {
	if s.opt.MustExist || s.opt.ReadOnly {
		return missing
	}
	if mem, err := readSide(s.path); err == nil && mem != nil && mem.Records+mem.Changes > 0 && !s.opt.AcceptShorter {
		return fmt.Errorf("%s: %w: the file is gone, and it held %d records on %s; find it or restore a backup, or delete %s to start anew",
			s.path, ErrShorter, mem.Records, time.Unix(0, mem.Saved).Format("2006-01-02"), sidePath(s.path))
	}
	doc := storeDoc{Format: Format, FileID: newFileID(), Created: s.opt.now().UnixNano(), CreatedBy: s.opt.Program}
	err := create(s.path, doc)
	if _, serr := os.Lstat(s.path); err != nil && serr == nil {
		return nil // another program was quicker; its store is as good
	}
	if err != nil {
		return fmt.Errorf("%s: create the store: %w", s.path, err)
	}
	_ = os.Remove(sidePath(s.path)) // an accepted loss, or a side file of nothing
	return nil
}

// sniff tells a store, even a damaged one, from a file that never was one.
func sniff(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	metas := readMetas(f, info.Size())
	var bits int
	for _, m := range metas.page {
		if m.err == nil {
			return nil
		}
		if len(m.raw) >= 8 && near(machine.Uint32(m.raw), metaMagic) {
			bits++
		}
	}
	if bits > 0 {
		return nil // a store once; the survey will say what is wrong
	}
	if _, err := os.Lstat(sidePath(path)); err == nil {
		return &DamageError{path, []Problem{{What: "it begins like no store, but was one: both meta pages are spoilt"}}}
	}
	return fmt.Errorf("%s: %w: it begins like no store of this program; check the name, or if it was one salvage it or restore a backup", path, ErrNotStore)
}

// near allows for a few flipped bits.
func near(a, b uint32) bool {
	x, n := a^b, 0
	for ; x != 0; x &= x - 1 {
		n++
	}
	return n <= 3
}

// acquire takes the lock, surveys the file under it and leaves s.db and s.file
// open. The first look is through a shared lock and a read-only map, because
// the library reads the list of free pages, and on Windows resizes the file, as
// soon as it opens for writing.
func (s *Store) acquire() (*survey, error) {
	if err := s.openDB(true); err != nil {
		return nil, err
	}
	look, head, err := s.look()
	if err != nil || s.opt.ReadOnly {
		if err != nil {
			s.release()
		}
		return look, err
	}
	s.release()
	if err := s.openDB(false); err != nil {
		return nil, err
	}
	if again, err := s.head(); err != nil || !bytes.Equal(head, again) {
		if look, _, err = s.look(); err != nil { // someone wrote between the two locks
			s.release()
			return nil, err
		}
	}
	return look, nil
}

// openDB opens s.path with the library; s.file is the file it opened.
func (s *Store) openDB(readOnly bool) error {
	var file *os.File
	options := &bolt.Options{
		Timeout:      s.opt.wait(),
		ReadOnly:     readOnly,
		FreelistType: bolt.FreelistArrayType, // few pages are ever free here, and a file is the same each time it is made
		OpenFile: func(name string, flag int, mode os.FileMode) (*os.File, error) {
			f, err := s.opt.faults.openFile(name, flag&^os.O_CREATE, mode)
			file = f
			return f, err
		},
	}
	if !readOnly {
		options.MaxSize = s.opt.faults.maxSize()
		if runtime.GOOS != "windows" {
			options.InitialMmapSize = mmapSize
		}
	}
	var db *bolt.DB
	err := guard(func() (err error) {
		db, err = bolt.Open(s.path, 0o644, options)
		return err
	})
	if err == nil {
		db.AllocSize = allocSize
		s.db, s.file = db, file
		if f := s.opt.faults; f != nil && f.opened != nil && !readOnly {
			f.opened(db, file)
		}
		return nil
	}
	var panicked *panicError
	switch {
	case errors.Is(err, bolterrors.ErrTimeout):
		return readHeldNote(s.path)
	case errors.As(err, &panicked):
		dropFile(file)
		return &DamageError{s.path, []Problem{{What: err.Error()}}}
	case errors.Is(err, bolterrors.ErrInvalid), errors.Is(err, bolterrors.ErrChecksum), errors.Is(err, bolterrors.ErrVersionMismatch):
		return &DamageError{s.path, []Problem{{What: "both meta pages are spoilt: " + err.Error()}}}
	}
	if info, serr := os.Stat(s.path); serr == nil && info.Size() < 4*4096 && !errors.Is(err, fs.ErrPermission) {
		return &DamageError{s.path, []Problem{{What: fmt.Sprintf("the file was cut off at %d bytes (%v)", info.Size(), err)}}}
	}
	return fmt.Errorf("%s: open the store: %w", s.path, err)
}

// look surveys the open file. It returns the survey and the file's head, or the
// error that forbids using it.
func (s *Store) look() (*survey, []byte, error) {
	info, err := s.file.Stat()
	if err != nil {
		return nil, nil, err
	}
	head, err := s.head()
	if err != nil {
		return nil, nil, err
	}
	var look *survey
	gerr := guard(func() error {
		look, err = surveyFile(s.file, info.Size(), nil)
		return err
	})
	if gerr != nil {
		return nil, nil, &DamageError{s.path, []Problem{{What: gerr.Error()}}}
	}
	if look.haveDoc && look.doc.Format > Format {
		if s.opt.ReadOnly {
			return look, head, nil // what it has beyond our knowledge is not damage
		}
		return nil, nil, &newerError{s.path, look.doc.Format}
	}
	if look.haveDoc && look.doc.Format < Format && len(look.problems) > 0 && canMigrate(look.doc.Format) {
		return look, head, nil // an older layout; the migration has its own check
	}
	if len(look.problems) > 0 {
		return nil, nil, &DamageError{s.path, look.problems}
	}
	return look, head, nil
}

// newerError is the refusal to write a format of the future.
type newerError struct {
	path   string
	format uint32
}

func (e *newerError) Error() string {
	return fmt.Sprintf("%s: written in format %d, this program knows formats up to %d; update the program, or open it for reading only to export its nights", e.path, e.format, Format)
}

func (e *newerError) Unwrap() error { return ErrNewer }

// head returns the meta structs of the open file: they change with each commit.
func (s *Store) head() ([]byte, error) {
	b := make([]byte, s.db.Info().PageSize+pageHead+metaSize)
	_, err := s.file.ReadAt(b, 0)
	if errors.Is(err, io.EOF) {
		return nil, &DamageError{s.path, []Problem{{What: fmt.Sprintf("the file was cut off within its first %d bytes", len(b))}}}
	}
	return append(b[:pageHead+metaSize:pageHead+metaSize], b[len(b)-pageHead-metaSize:]...), err
}

// release closes what openDB opened.
func (s *Store) release() {
	if s.db != nil {
		_ = guard(s.db.Close)
	}
	s.db, s.file = nil, nil
}

// compareSide holds the file against what the side file remembers.
func (s *Store) compareSide(look *survey) error {
	mem, err := readSide(s.path)
	if err != nil {
		s.notices = append(s.notices, err.Error()+"; it cannot be told whether the store has become shorter")
		return nil
	}
	if mem == nil {
		if len(look.nights) > 0 || look.changes > 0 {
			s.notices = append(s.notices, fmt.Sprintf("%s is missing; it cannot be told whether the store has become shorter", sidePath(s.path)))
		}
		return nil
	}
	if mem.FileID != look.doc.FileID {
		if s.opt.AcceptShorter {
			s.notices = append(s.notices, fmt.Sprintf("%s was another file at its last clean moment; accepted", s.path))
			return nil
		}
		return fmt.Errorf("%s: %w: it is store %s, but at the last clean moment store %s stood here; put the right file back, or delete %s to accept this one",
			s.path, ErrOtherFile, short(look.doc.FileID), short(mem.FileID), sidePath(s.path))
	}
	less := mem.compare(look.lasts(), look.changes)
	if less == "" {
		return nil
	}
	if s.opt.AcceptShorter {
		s.notices = append(s.notices, fmt.Sprintf("%s is shorter than it was (%s); accepted", s.path, less))
		return nil
	}
	return fmt.Errorf("%s: %w: %s; salvage it or restore a backup, or accept the loss by deleting %s", s.path, ErrShorter, less, sidePath(s.path))
}

func short(id string) string { return id[:min(8, len(id))] }

// adopt takes over what the survey learned.
func (s *Store) adopt(look *survey) error {
	s.doc = look.doc
	s.changes.Store(look.changes)
	for _, n := range look.sortedNights() {
		s.addJournal(NightInfo{
			Number: n.number, ID: n.doc.ID, Created: time.Unix(0, n.doc.Created), Meta: n.doc.Meta, Missing: n.doc.Missing,
		}, max(n.last, n.sequence))
	}
	return nil
}

// settleIn does what follows a successful open; none of it may prevent racing.
func (s *Store) settleIn() {
	removeStale(s.path)
	if err := writeHeldNote(s.path, s.opt); err != nil {
		s.notices = append(s.notices, fmt.Sprintf("cannot note who has the store open: %v", err))
	}
	if err := s.Checkpoint(); err != nil {
		s.notices = append(s.notices, err.Error())
	}
}
