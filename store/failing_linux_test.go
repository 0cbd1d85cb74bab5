package store

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	bolt "go.etcd.io/bbolt"
	"golang.org/x/sys/unix"
)

func init() {
	children["fill"] = childFill
	children["few"] = childFew
}

// A sync fails for real: in the moment between a write and its sync the file's
// descriptor is turned into a pipe's, which cannot be synced. Both syncs of a
// commit are tried, that of the pages and that of the meta page.
func TestFailedSync(t *testing.T) {
	for _, meta := range []bool{false, true} {
		t.Run(fmt.Sprintf("meta page %v", meta), func(t *testing.T) {
			armed := false
			pages, before := 0, 0 // written in this commit, in the one before
			f := &faults{}
			f.opened = func(db *bolt.DB, file *os.File) {
				hookWrites(t, db, func(b []byte, off int64, write func([]byte, int64) (int, error)) (int, error) {
					n, err := write(b, off)
					pages++
					hit := meta && isMeta(b, off) || !meta && pages == before-1 // the last before the meta page
					if isMeta(b, off) {
						pages, before = 0, pages
					}
					if armed && hit {
						armed = false
						pages = 0
						r, w, perr := os.Pipe()
						if perr != nil {
							t.Error(perr)
						}
						if derr := unix.Dup3(int(w.Fd()), int(file.Fd()), unix.O_CLOEXEC); derr != nil {
							t.Error(derr)
						}
						r.Close()
						w.Close()
					}
					return n, err
				})
			}
			path := tempStore(t)
			s := open(t, path, Options{faults: f})
			j := night(t, s, "n")
			appendSamples(t, j, 25) // past the size up to which a bucket lies inline: from here two commits write as many pages
			armed = true
			if first, err := j.Append(ctx, sample(26)); err != nil || first != 26 {
				t.Fatalf("append: %d, %v", first, err)
			}
			got := s.Incidents()
			if armed || len(got) != 1 {
				t.Fatalf("incidents: %+v", got)
			}
			t.Log(got[0].What)
			if present := got[0].Present == 1; present != meta {
				t.Errorf("found in the file again: %v", present)
			}
			if !errors.Is(got[0].Cause, syscall.EINVAL) { // what syncing a pipe gives
				t.Errorf("cause: %v", got[0].Cause)
			}
			appendSamples(t, j, 10)
			if n := len(readAll(t, j)); n != 36 {
				t.Errorf("%d records, want 36", n)
			}
		})
	}
}

// childFill appends until the disk is full, says how far it got, waits for
// room, and goes on.
func childFill(args []string) error {
	s, err := Open(args[0], Options{})
	if err != nil {
		return err
	}
	if args[1] == "limit" { // of the size of any file, as a full disk feels
		info, err := os.Stat(args[0])
		if err != nil {
			return err
		}
		limit := syscall.Rlimit{Cur: uint64(info.Size()) + 3<<20, Max: syscall.RLIM_INFINITY & (1<<63 - 1)}
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
			return err
		}
	}
	j, err := s.CreateNight(ctx, "n", nil)
	if err != nil {
		return err
	}
	for {
		var batch []Record
		for i := range uint64(100) {
			batch = append(batch, sample(j.Last()+1+i))
		}
		if _, err = j.Append(ctx, batch...); err != nil {
			break
		}
		if j.Last() > 1_000_000 {
			return errors.New("the disk does not get full")
		}
	}
	var ae *AppendError
	if !errors.Is(err, ErrDiskFull) || !errors.As(err, &ae) || ae.Outcome != NotWritten {
		return fmt.Errorf("at record %d: %w", j.Last(), err)
	}
	if _, err := os.Stat(reservePath(args[0])); err == nil {
		return errors.New("the reserve was not given up")
	}
	fmt.Println(j.Last(), len(s.Incidents()))
	var ok string
	if _, err := fmt.Scanln(&ok); err != nil {
		return err
	}
	if args[1] == "limit" {
		none := syscall.Rlimit{Cur: 1 << 40, Max: 1 << 40}
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &none); err != nil {
			return err
		}
	}
	for range 50 {
		if _, err := j.Append(ctx, sample(j.Last()+1)); err != nil {
			return err
		}
	}
	fmt.Println(j.Last(), len(s.Incidents()))
	return s.Close()
}

func TestRealFullDisk(t *testing.T) {
	t.Run("file size limit", func(t *testing.T) {
		fillUp(t, t.TempDir(), "limit", func() {})
	})
	t.Run("small tmpfs", func(t *testing.T) {
		dir := t.TempDir()
		if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=12m"); err != nil {
			t.Skipf("cannot mount a tmpfs here: %v (needs root)", err)
		}
		t.Cleanup(func() {
			if err := syscall.Unmount(dir, 0); err != nil {
				t.Error(err)
			}
		})
		other := filepath.Join(dir, "other")
		if err := os.WriteFile(other, make([]byte, 5<<20), 0o644); err != nil {
			t.Fatal(err)
		}
		fillUp(t, dir, "disk", func() {
			if err := os.Remove(other); err != nil {
				t.Error(err)
			}
		})
	})
}

func fillUp(t *testing.T, dir, how string, makeRoom func()) {
	path := filepath.Join(dir, "club.lw")
	cmd := child(t, "fill", path, how)
	out, in := start(t, cmd)
	read := func() (last uint64, incidents int) {
		if !out.Scan() {
			t.Fatalf("the child ended: %v", cmd.Wait())
		}
		if _, err := fmt.Sscan(out.Text(), &last, &incidents); err != nil {
			t.Fatalf("child said %q", out.Text())
		}
		return last, incidents
	}
	full, incidents := read()
	makeRoom()
	fmt.Fprintln(in, "ok")
	after, _ := read()
	in.Close()
	if err := cmd.Wait(); err != nil {
		t.Fatal(err)
	}
	s, err := Open(path, Options{faults: &faults{noReserve: true}})
	if err != nil {
		t.Fatal(err)
	}
	j, err := s.Night("n")
	if err != nil {
		t.Fatal(err)
	}
	if n := uint64(len(readAll(t, j))); n != after || after != full+50 || full == 0 {
		t.Errorf("%d records, acknowledged %d, full at %d", n, after, full)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	checkGood(t, path)
	t.Logf("full at record %d after %d incidents, went on to %d", full, incidents, after)
}

// childFew makes some commits.
func childFew(args []string) error {
	s, err := Open(args[0], Options{faults: &faults{noReserve: true}})
	if err != nil {
		return err
	}
	j, err := s.CreateNight(ctx, "n", nil)
	if err != nil {
		return err
	}
	for range 5 {
		if _, err := j.Append(ctx, sample(j.Last()+1)); err != nil {
			return err
		}
	}
	return s.Close()
}

// The crash images rest on this: pages, sync, meta page, sync.
func TestTheLibrarySyncsAroundTheMetaPage(t *testing.T) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("there is no strace here")
	}
	path := tempStore(t)
	c := child(t, "few", path)
	log := filepath.Join(t.TempDir(), "log")
	cmd := exec.CommandContext(t.Context(), strace, append([]string{"-f", "-y", "-o", log, "-e", "trace=pwrite64,fdatasync,fsync"}, append([]string{c.Path}, c.Args[1:]...)...)...)
	cmd.Env, cmd.Stderr = c.Env, os.Stderr
	if err := cmd.Run(); err != nil {
		t.Skipf("strace does not work here: %v", err)
	}
	line := regexp.MustCompile(`(pwrite64|fdatasync|fsync)\(\d+<` + regexp.QuoteMeta(path) + `>(?:.*, (\d+)(?:\)| <unf))?`)
	var calls []string
	metas := 0
	for _, l := range strings.Split(fileState(t, log), "\n") {
		m := line.FindStringSubmatch(l)
		switch {
		case m == nil:
		case m[1] != "pwrite64":
			calls = append(calls, "sync")
		case m[2] == "0" || m[2] == "4096":
			calls = append(calls, "meta")
			metas++
		default:
			calls = append(calls, "page")
		}
	}
	for i, c := range calls {
		if c == "meta" && (i == 0 || calls[i-1] != "sync" || i+1 == len(calls) || calls[i+1] != "sync") {
			t.Errorf("call %d: a meta page without a sync before and after it: %q", i, calls)
		}
	}
	if metas < 6 {
		t.Errorf("%d commits seen, at least 6 were made: %q", metas, calls)
	}
}
