package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"syscall"
	"testing"

	bolt "go.etcd.io/bbolt"
)

var errStick = errors.New("someone pulled the stick")

// A commit may fail before it wrote anything, or after everything was written:
// the caller cannot tell, and must not have to.
func TestFailedCommitIsSettled(t *testing.T) {
	for _, c := range []struct {
		name    string
		arm     func(f *faults, fail func(int) error)
		present int
	}{
		{"before it wrote", func(f *faults, fail func(int) error) { f.before = fail }, 0},
		{"after it wrote", func(f *faults, fail func(int) error) { f.after = fail }, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			var told []Incident
			f := &faults{}
			path := tempStore(t)
			s := open(t, path, Options{faults: f, OnIncident: func(i Incident) { told = append(told, i) }})
			j := night(t, s, "n")
			appendSamples(t, j, 10)
			left := 1
			c.arm(f, func(int) error {
				if left--; left >= 0 {
					return errStick
				}
				return nil
			})
			numberless := sample(11)
			numberless.Seq = 0
			if first, err := j.Append(ctx, numberless); err != nil || first != 11 || j.Last() != 11 {
				t.Fatalf("append: %d, %v; last is %d", first, err, j.Last())
			}
			left = 1
			if d, err := s.Put(ctx, KindCar, "a", []byte(`{}`)); err != nil || d.Revision != 1 {
				t.Errorf("put: %+v, %v", d, err)
			}
			left = 1
			k, err := s.CreateNight(ctx, "m", nil)
			if err != nil {
				t.Fatal(err)
			}
			appendSamples(t, k, 1)
			left = 1
			if err := s.Delete(ctx, KindCar, "a"); err != nil {
				t.Errorf("delete: %v", err)
			}
			if len(told) != 4 || told[0].Present != c.present || told[0].Appended != 1-c.present || !errors.Is(told[0].Cause, errStick) {
				t.Errorf("incidents: %+v", told)
			}
			if !reflect.DeepEqual(told, s.Incidents()) {
				t.Error("Incidents and OnIncident disagree")
			}
			if infos, _ := s.Nights(); len(infos) != 2 {
				t.Errorf("%d nights", len(infos))
			}
			appendSamples(t, j, 5)
			if n := len(readAll(t, j)); n != 16 {
				t.Errorf("%d records, want 16", n)
			}
		})
	}
}

// When a commit keeps failing the caller is told, and told truly whether the
// records are in the journal; appending goes on when the disk is well again.
func TestCommitThatKeepsFailing(t *testing.T) {
	for _, c := range []struct {
		name    string
		arm     func(f *faults, fail func(int) error)
		outcome Outcome
		first   uint64 // 0: the records never got a number
	}{
		{"before it wrote", func(f *faults, fail func(int) error) { f.before = fail }, NotWritten, 0},
		{"after it wrote", func(f *faults, fail func(int) error) { f.after = fail }, Unknown, 11},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := &faults{}
			s := open(t, tempStore(t), Options{faults: f})
			j := night(t, s, "n")
			appendSamples(t, j, 10)
			broken := true
			c.arm(f, func(int) error {
				if broken {
					return errStick
				}
				return nil
			})
			var ae *AppendError
			_, err := j.Append(ctx, sample(0), sample(0))
			if !errors.As(err, &ae) || ae.Outcome != c.outcome || ae.First != c.first || ae.Count != 2 || !errors.Is(err, errStick) {
				t.Fatalf("append: %v (%+v)", err, ae)
			}
			if j.Last() != 10 || len(readAll(t, j)) != 10 {
				t.Errorf("a record that was not acknowledged is shown: last %d", j.Last())
			}
			broken = false
			// The caller repeats with the numbers it was told.
			again := []Record{sample(0), sample(0)}
			if ae.First > 0 {
				again[0].Seq, again[1].Seq = ae.First, ae.First+1
			}
			if first, err := j.Append(ctx, again...); err != nil || first != 11 {
				t.Fatalf("repeat: %d, %v", first, err)
			}
			if j.Last() != 12 {
				t.Errorf("last is %d, want 12: something was added twice or not at all", j.Last())
			}
		})
	}
}

func TestFileThatCannotBeOpenedAgain(t *testing.T) {
	f := &faults{}
	s := open(t, tempStore(t), Options{faults: f})
	j := night(t, s, "n")
	appendSamples(t, j, 3)
	failing := true
	f.before = func(int) error {
		if failing {
			return errStick
		}
		return nil
	}
	f.reopen = f.before
	var ae *AppendError
	if _, err := j.Append(ctx, sample(4)); !errors.As(err, &ae) || ae.Outcome != Unknown {
		t.Errorf("append: %v", err)
	}
	if _, err := j.Append(ctx, sample(4)); !errors.Is(err, errStick) {
		t.Errorf("append while it is away: %v", err)
	}
	if err := j.Read(0, func(Record) error { return nil }); !errors.Is(err, errStick) {
		t.Errorf("read while it is away: %v", err)
	}
	failing = false
	appendSamples(t, j, 2)
	if len(readAll(t, j)) != 5 {
		t.Error("not all there after the stick came back")
	}
}

// Every single write of a commit fails in turn, wholly or halfway, with the
// error of a full disk or of a broken one. The append must come through all the same,
// because the next attempt finds the disk well.
func TestEachWriteOfACommitMayFail(t *testing.T) {
	for _, cause := range []error{syscall.ENOSPC, syscall.EIO} {
		for _, half := range []bool{false, true} {
			path := tempStore(t)
			countdown := -1
			failed := 0
			f := &faults{noReserve: true}
			f.opened = func(db *bolt.DB, _ *os.File) {
				hookWrites(t, db, func(b []byte, off int64, write func([]byte, int64) (int, error)) (int, error) {
					countdown--
					if countdown != 0 {
						return write(b, off)
					}
					failed++
					n := 0
					if half {
						n, _ = write(b[:len(b)/2], off)
					}
					return n, &os.PathError{Op: "write", Path: path, Err: cause}
				})
			}
			s := open(t, path, Options{faults: f})
			j := night(t, s, "n")
			appendSamples(t, j, 100)
			for nth := 1; nth <= 6; nth++ {
				if errors.Is(cause, syscall.ENOSPC) { // what the first attempt frees
					if err := os.WriteFile(reservePath(path), []byte("x"), 0o644); err != nil {
						t.Fatal(err)
					}
				}
				countdown = nth
				next := j.Last() + 1
				if _, err := j.Append(ctx, sample(next), sample(next+1)); err != nil {
					t.Errorf("%v, write %d, half %v: %v", cause, nth, half, err)
				}
				if got := j.Last(); got != next+1 {
					t.Errorf("%v, write %d, half %v: last is %d, want %d", cause, nth, half, got, next+1)
				}
			}
			countdown = -1
			if failed < 3 || len(s.Incidents()) != failed {
				t.Errorf("%d writes failed, %d incidents", failed, len(s.Incidents()))
			}
			readAll(t, j)
		}
	}
}

// A disk that is full stays full: what was acknowledged stays, what was not is
// NotWritten, and with room again it goes on.
func TestFullDisk(t *testing.T) {
	path := tempStore(t)
	f := &faults{size: 2 << 20}
	s := open(t, path, Options{faults: f})
	j := night(t, s, "n")
	fill := func() (n int, err error) {
		for {
			var batch []Record
			for i := range uint64(500) {
				batch = append(batch, sample(j.Last()+1+i))
			}
			if _, err := j.Append(ctx, batch...); err != nil {
				return n, err
			}
			n++
		}
	}
	n, err := fill()
	var ae *AppendError
	if n == 0 || !errors.Is(err, ErrDiskFull) || !errors.As(err, &ae) || ae.Outcome != NotWritten {
		t.Fatalf("%d batches, then %v", n, err)
	}
	if _, err := os.Stat(reservePath(path)); err == nil {
		t.Error("the reserve was not given up")
	}
	if got := len(readAll(t, j)); got != n*500 || j.Last() != uint64(n*500) {
		t.Errorf("%d records, %d acknowledged", got, n*500)
	}
	f.size = 0
	s.mu.Lock() // room again: the limit is read when the file is opened
	s.db.MaxSize = 0
	s.mu.Unlock()
	appendSamples(t, j, 20)
	if err := s.Checkpoint(); err != nil {
		t.Error(err)
	}
	if info, err := os.Stat(reservePath(path)); err != nil || info.Size() != reserveSize {
		t.Errorf("no new reserve: %v", err)
	}
}

func TestDiskFullIsRecognised(t *testing.T) {
	for _, c := range []struct {
		err  error
		want bool
	}{
		{nil, false},
		{errStick, false},
		{syscall.EIO, false},
		{&os.PathError{Op: "write", Err: syscall.ENOSPC}, true},
		{fmt.Errorf("file resize error: %s", &os.PathError{Op: "truncate", Path: "x", Err: syscall.ENOSPC}), true},
		{fmt.Errorf("mmap allocate error: %s", errors.New("truncate: There is not enough space on the disk.")), true},
		{fmt.Errorf("x: %w", ErrDiskFull), true},
	} {
		if got := isDiskFull(c.err); got != c.want {
			t.Errorf("%v: %v", c.err, got)
		}
	}
}

// The library panics in the middle of a commit on a page damaged under the
// running program: the store refuses to write on, and a salvage helps.
func TestDamageUnderTheRunningProgram(t *testing.T) {
	path := tempStore(t)
	s, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	j := night(t, s, "n")
	for range 20 {
		var batch []Record
		for i := range uint64(100) {
			batch = append(batch, sample(j.Last()+1+i))
		}
		if _, err := j.Append(ctx, batch...); err != nil {
			t.Fatal(err)
		}
	}
	image := fileState(t, path)
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, seq := range []uint64{1, 2000} {
		page := pageOf(t, image, 1, seq)
		if _, err := f.WriteAt(bytes.Repeat([]byte{0xAA}, 4096), int64(page)*4096); err != nil {
			t.Fatal(err)
		}
	}
	if err := j.Read(1, func(Record) error { return nil }); !errors.Is(err, ErrDamaged) {
		t.Errorf("read: %v", err)
	}
	before := fileState(t, path)
	if _, err := j.Append(ctx, sample(2001)); !errors.Is(err, ErrDamaged) {
		t.Errorf("append: %v", err)
	}
	if fileState(t, path) != before {
		t.Error("a damaged file was written to")
	}
	if _, err := j.Append(ctx, sample(2001)); !errors.Is(err, ErrDamaged) {
		t.Errorf("append again: %v", err)
	}
	_ = s.Close()
	r, err := Salvage(path, path+".saved")
	if err != nil {
		t.Fatal(err)
	}
	if n := r.Nights[0]; n.Last != 2000 || n.Records+rangesLen(n.Missing) != 2000 || n.Records < 1900 {
		t.Errorf("%+v", n)
	}
}

// The file is cut off under the running program: reads fault in the memory map,
// which must not end the program.
func TestFileCutOffUnderTheRunningProgram(t *testing.T) {
	path := tempStore(t)
	s, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	j := night(t, s, "n")
	appendSamples(t, j, 200)
	if err := os.Truncate(path, 8192); err != nil {
		t.Skipf("the system does not allow it: %v", err)
	}
	if err := j.Read(1, func(Record) error { return nil }); !errors.Is(err, ErrDamaged) {
		t.Errorf("read: %v", err)
	}
	if _, err := j.Append(ctx, sample(201)); err == nil {
		t.Error("append to a file that was cut off succeeded")
	}
	_ = s.Close()
	if _, err := Open(path, Options{}); !errors.Is(err, ErrDamaged) {
		t.Errorf("open after that: %v", err)
	}
}

func TestBackupWhileRacing(t *testing.T) {
	s := open(t, tempStore(t), Options{})
	j := night(t, s, "n")
	appendSamples(t, j, 10)
	dst := filepath.Join(t.TempDir(), "stick", "club-backup.lw")
	if _, err := s.Backup(ctx, dst); err == nil {
		t.Error("backup into a directory that does not exist succeeded")
	}
	if err := os.Mkdir(filepath.Dir(dst), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(dst+".part-123", nil, 0o644); err != nil { // of a backup that was killed
		t.Fatal(err)
	}
	stop := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		for {
			select {
			case <-stop:
				return
			default:
				if _, err := j.Append(ctx, sample(j.Last()+1)); err != nil {
					t.Error(err)
					return
				}
			}
		}
	})
	for range 8 {
		before := j.Last()
		info, err := s.Backup(ctx, dst)
		if err != nil {
			t.Fatal(err)
		}
		r := checkGood(t, dst)
		if info.Records < before || r.Records() != info.Records || r.FileID != s.FileID() {
			t.Errorf("backup has %d records, there were %d before it; check says %d", info.Records, before, r.Records())
		}
	}
	close(stop)
	wg.Wait()
	if left, _ := filepath.Glob(dst + ".part-*"); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
	b := open(t, dst, Options{})
	k, err := b.Night("n")
	if err != nil {
		t.Fatal(err)
	}
	readAll(t, k)
	if _, err := s.Backup(ctx, dst); !errors.Is(err, ErrHeld) {
		t.Errorf("over a backup that is open: %v", err)
	}
}

// A backup is a store like any other: it can be opened, written to and backed
// up again, whichever commit it was taken at.
func TestBackupOfABackupGoesOn(t *testing.T) {
	s := open(t, tempStore(t), Options{})
	j := night(t, s, "n")
	for i := range 4 {
		appendSamples(t, j, 1)
		dst := filepath.Join(t.TempDir(), "b.lw")
		if _, err := s.Backup(ctx, dst); err != nil {
			t.Fatal(err)
		}
		for range i {
			b := open(t, dst, Options{})
			k, err := b.Night("n")
			if err != nil {
				t.Fatal(err)
			}
			appendSamples(t, k, 1+i)
			b.db.Close() // as a killed program leaves it
			if r := checkGood(t, dst); r.Records() != k.Last() {
				t.Errorf("%d records, want %d", r.Records(), k.Last())
			}
			b.lost = errStick // there is nothing left to close
			if err := b.Close(); err != nil {
				t.Error(err)
			}
		}
	}
}

func TestBackupReplacesNothingItShouldNot(t *testing.T) {
	path := tempStore(t)
	s := open(t, path, Options{})
	appendSamples(t, night(t, s, "n"), 10)
	dir := t.TempDir()
	text := filepath.Join(dir, "text")
	if err := os.WriteFile(text, []byte(strings.Repeat("precious ", 2000)), 0o644); err != nil {
		t.Fatal(err)
	}
	other := made(t)
	longer := filepath.Join(dir, "longer.lw")
	if _, err := s.Backup(ctx, longer); err != nil {
		t.Fatal(err)
	}
	b, err := Open(longer, Options{})
	if err != nil {
		t.Fatal(err)
	}
	j, _ := b.Night("n")
	appendSamples(t, j, 1)
	b.Close()
	for dst, want := range map[string]error{text: ErrNotStore, other: ErrOtherFile, longer: ErrOtherFile, path: ErrInput, dir: ErrNotStore} {
		var before string
		if dst != dir {
			before = fileState(t, dst)
		}
		if _, err := s.Backup(ctx, dst); !errors.Is(err, want) {
			t.Errorf("%s: %v, want %v", dst, err, want)
		}
		if dst != dir && fileState(t, dst) != before {
			t.Errorf("%s was changed", dst)
		}
	}
	// A damaged backup is set aside.
	if err := os.WriteFile(longer, rubbish([]byte(fileState(t, longer)), 3*4096, 3*4096), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Backup(ctx, longer); err != nil {
		t.Fatal(err)
	}
	checkGood(t, longer)
	if _, err := os.Stat(longer + ".damaged-1"); err != nil {
		t.Errorf("the damaged backup is gone: %v", err)
	}
}

func TestRestore(t *testing.T) {
	path := tempStore(t)
	s := open(t, path, Options{})
	j := night(t, s, "n")
	appendSamples(t, j, 10)
	backup := filepath.Join(t.TempDir(), "b.lw")
	if _, err := s.Backup(ctx, backup); err != nil {
		t.Fatal(err)
	}
	appendSamples(t, j, 5)
	if _, err := Restore(backup, path, RestoreOptions{Replace: true}); !errors.Is(err, ErrHeld) {
		t.Errorf("over an open store: %v", err)
	}
	s.Close()
	before := fileState(t, path)
	if _, err := Restore(backup, path, RestoreOptions{}); !errors.Is(err, ErrExists) {
		t.Errorf("without being asked to: %v", err)
	}
	if fileState(t, path) != before {
		t.Error("the refusal changed the store")
	}
	info, err := Restore(backup, path, RestoreOptions{Replace: true})
	if err != nil || info.Report.Records() != 10 {
		t.Fatalf("%+v, %v", info, err)
	}
	if fileState(t, info.Kept) != before {
		t.Error("the old store was not kept as it was")
	}
	if r := checkGood(t, info.Kept); r.Records() != 15 {
		t.Errorf("the old store has %d records", r.Records())
	}
	r := open(t, path, Options{}) // no alarm: the shorter store is what was asked for
	k, err := r.Night("n")
	if err != nil || len(readAll(t, k)) != 10 || len(r.Notices()) > 0 {
		t.Errorf("%v, notices %q", err, r.Notices())
	}

	fresh := filepath.Join(t.TempDir(), "fresh.lw")
	if _, err := Restore(backup, fresh, RestoreOptions{}); err != nil {
		t.Error(err)
	}
	checkGood(t, fresh)
	bad := filepath.Join(t.TempDir(), "bad.lw")
	f, err := os.Create(bad)
	if err != nil {
		t.Fatal(err)
	}
	_, _ = io.Copy(f, bytes.NewReader(rubbish([]byte(fileState(t, backup)), 3*4096, 4096)))
	f.Close()
	if _, err := Restore(bad, fresh+"2", RestoreOptions{}); !errors.Is(err, ErrDamaged) {
		t.Errorf("a damaged backup: %v", err)
	}
	if _, err := os.Stat(fresh + "2"); err == nil {
		t.Error("a damaged backup was restored")
	}
	if _, err := Restore(backup+"none", fresh, RestoreOptions{Replace: true}); err == nil {
		t.Error("a backup that does not exist was restored")
	}
	if left, _ := filepath.Glob(filepath.Dir(path) + "/*.new-*"); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}
