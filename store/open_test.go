package store

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	bolt "go.etcd.io/bbolt"
)

// made returns the path of a closed store with 500 records in two nights and
// 20 documents.
func made(t testing.TB) string { return madeOf(t, 25, 20) }

// madeOf makes each night of so many times ten records.
func madeOf(t testing.TB, tens, documents int) string {
	t.Helper()
	path := tempStore(t)
	s, err := Open(path, Options{faults: &faults{noReserve: true}})
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"first", "second"} {
		j := night(t, s, id)
		for range tens {
			var batch []Record
			for i := range 10 {
				batch = append(batch, sample(j.Last()+1+uint64(i)))
			}
			if _, err := j.Append(ctx, batch...); err != nil {
				t.Fatal(err)
			}
		}
	}
	for i := range documents {
		if _, err := s.Put(ctx, KindDriver, fmt.Sprintf("driver-%02d", i), fmt.Appendf(nil, `{"n":%d}`, i)); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestSecondProgramIsToldWhoHasTheStore(t *testing.T) {
	path := made(t)
	cmd := child(t, "hold", path)
	out, in := start(t, cmd)
	if !out.Scan() || out.Text() != "open" {
		t.Fatalf("child: %q", out.Text())
	}
	_, err := Open(path, Options{Wait: 100 * time.Millisecond})
	var held *HeldError
	if !errors.As(err, &held) || !errors.Is(err, ErrHeld) {
		t.Fatalf("second open: %v", err)
	}
	if held.PID != cmd.Process.Pid || held.Program != "lane-test" || time.Since(held.Since) > time.Hour || held.Host == "" {
		t.Errorf("held by %+v, want process %d", held, cmd.Process.Pid)
	}
	if !strings.Contains(err.Error(), "lane-test") || !strings.Contains(err.Error(), fmt.Sprint(cmd.Process.Pid)) {
		t.Errorf("message: %v", err)
	}
	for what, err := range map[string]error{
		"check":   second(Check(path)),
		"salvage": second(Salvage(path, path+".new")),
		"restore": second(Restore(made(t), path, RestoreOptions{Replace: true, Wait: 100 * time.Millisecond})),
	} {
		if !errors.Is(err, ErrHeld) {
			t.Errorf("%s: %v", what, err)
		}
	}
	in.Close()
	_ = cmd.Wait()
	open(t, path, Options{})
	if _, err := os.Stat(heldPath(path)); err != nil {
		t.Errorf("no held note of our own: %v", err)
	}
	if _, err := Open(path, Options{Wait: 60 * time.Millisecond}); !errors.Is(err, ErrHeld) {
		t.Errorf("the same program twice: %v", err)
	}
}

func second[T any](_ T, err error) error { return err }

func TestTwoProgramsMayCreateAtOnce(t *testing.T) {
	path := tempStore(t)
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			s, err := Open(path, Options{Wait: time.Minute})
			if err != nil {
				t.Error(err)
				return
			}
			if _, err := s.CreateNight(ctx, fmt.Sprint(i), nil); err != nil {
				t.Error(err)
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if r := checkGood(t, path); len(r.Nights) != 8 {
		t.Errorf("%d of 8 nights survived: some were written to a file that lost its name", len(r.Nights))
	}
	if left, _ := filepath.Glob(path + ".new-*"); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}

func TestWhatIsNoStoreIsNamedAndLeftAlone(t *testing.T) {
	good := made(t)
	image, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	image = image[:lastUsed(t, image)+4096] // the file is longer: it grows in steps
	cases := []struct {
		name    string
		content []byte
		want    error
	}{
		{"0 bytes", nil, ErrEmpty},
		{"a text", []byte(strings.Repeat("this is a sheet of paper\n", 1000)), ErrNotStore},
		{"one byte", []byte{0}, ErrNotStore},
		{"zeros", make([]byte, 1<<16), ErrNotStore},
		{"half the file", image[:len(image)/2], ErrDamaged},
		{"two pages", image[:8192], ErrDamaged},
		{"one page", image[:4096], ErrDamaged},
		{"half a page", image[:2048], ErrDamaged},
		{"all but the last page in use", image[:lastUsed(t, image)], ErrDamaged},
		{"first page zeroed", zeroed(image, 0, 4096), ErrDamaged},
		{"second page zeroed", zeroed(image, 4096, 8192), ErrDamaged},
		{"both meta pages zeroed", zeroed(image, 0, 8192), ErrNotStore},
		{"a page in the middle zeroed", zeroed(image, 5*4096, 6*4096), ErrDamaged},
		{"rubbish in the middle", rubbish(image, 40960, 512), ErrDamaged},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			path := tempStore(t)
			if err := os.WriteFile(path, c.content, 0o644); err != nil {
				t.Fatal(err)
			}
			for _, opt := range []Options{{}, {ReadOnly: true}, {AcceptShorter: true}} {
				_, err := Open(path, opt)
				if !errors.Is(err, c.want) {
					t.Errorf("open %+v: %v, want %v", opt, err, c.want)
				}
				if err == nil || !strings.HasPrefix(err.Error(), path+": ") || strings.Contains(err.Error(), "\n") {
					t.Errorf("message: %v", err)
				}
			}
			r, err := Check(path)
			if c.want == ErrDamaged {
				if err != nil || r.Good() {
					t.Errorf("check: %+v, %v", r, err)
				}
			} else if !errors.Is(err, c.want) {
				t.Errorf("check: %v", err)
			}
			if got := fileState(t, path); got != string(c.content) {
				t.Error("the file was changed")
			}
			if names, _ := filepath.Glob(path + "*"); len(names) != 1 {
				t.Errorf("files appeared: %q", names)
			}
		})
	}
	t.Run("a directory", func(t *testing.T) {
		if _, err := Open(t.TempDir(), Options{}); !errors.Is(err, ErrNotStore) {
			t.Errorf("%v", err)
		}
	})
	t.Run("no directory", func(t *testing.T) {
		if _, err := Open(filepath.Join(t.TempDir(), "no", "club.lw"), Options{}); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%v", err)
		}
	})
	t.Run("a bbolt file of someone else", func(t *testing.T) {
		path := tempStore(t)
		db, err := bolt.Open(path, 0o644, nil)
		if err != nil {
			t.Fatal(err)
		}
		err = db.Update(func(tx *bolt.Tx) error {
			_, err := tx.CreateBucket([]byte("their bucket"))
			return err
		})
		if err != nil || db.Close() != nil {
			t.Fatal(err)
		}
		if _, err := Open(path, Options{}); err == nil {
			t.Error("opened as ours")
		}
	})
}

func lastUsed(t *testing.T, image []byte) int {
	m, ok := readMetas(bytes.NewReader(image), int64(len(image))).newest()
	if !ok {
		t.Fatal("no meta")
	}
	return int(m.pages-1) * int(m.pageSize)
}

func zeroed(image []byte, from, to int) []byte {
	b := bytes.Clone(image)
	clear(b[from:to])
	return b
}

func rubbish(image []byte, from, n int) []byte {
	b := bytes.Clone(image)
	for i := range n {
		b[from+i] = byte(i*7 + 3)
	}
	return b
}

func TestMissingAndShorterStoresAreAlarms(t *testing.T) {
	path := made(t)
	old, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	s := open(t, path, Options{})
	j, err := s.Night("second")
	if err != nil {
		t.Fatal(err)
	}
	appendSamples(t, j, 10)
	s.Close()
	newer, _ := os.ReadFile(path)

	t.Run("an older copy was put in its place", func(t *testing.T) {
		if err := os.WriteFile(path, old, 0o644); err != nil {
			t.Fatal(err)
		}
		_, err := Open(path, Options{})
		if !errors.Is(err, ErrShorter) || !strings.Contains(err.Error(), "260") {
			t.Fatalf("%v", err)
		}
		if r, err := Check(path); err != nil || r.Good() {
			t.Errorf("check: %+v, %v", r, err)
		}
		s, err := Open(path, Options{AcceptShorter: true})
		if err != nil || len(s.Notices()) == 0 {
			t.Fatalf("accepted: %v", err)
		}
		s.Close()
		if s, err = Open(path, Options{}); err != nil {
			t.Fatalf("after it was accepted: %v", err)
		}
		s.Close()
	})
	t.Run("the file is gone", func(t *testing.T) {
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(path, Options{}); !errors.Is(err, ErrShorter) {
			t.Errorf("%v", err)
		}
		if _, err := os.Stat(path); err == nil {
			t.Error("a fresh store was made in silence")
		}
	})
	t.Run("another store stands there", func(t *testing.T) {
		b, _ := os.ReadFile(made(t))
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(path, Options{}); !errors.Is(err, ErrOtherFile) {
			t.Errorf("%v", err)
		}
	})
	t.Run("without or with a spoilt side file one is told", func(t *testing.T) {
		if err := os.WriteFile(path, newer, 0o644); err != nil {
			t.Fatal(err)
		}
		for _, spoil := range []func() error{
			func() error { return os.Remove(sidePath(path)) },
			func() error { return os.WriteFile(sidePath(path), []byte(`{"file_id":"x"}`), 0o644) },
		} {
			if err := spoil(); err != nil {
				t.Fatal(err)
			}
			s, err := Open(path, Options{})
			if err != nil || len(s.Notices()) != 1 {
				t.Fatalf("%v, notices %q", err, s.Notices())
			}
			s.Close()
		}
	})
}

// rewrite changes the description of the store at path, as a program of another
// time would have written it.
func rewrite(t *testing.T, path string, change func(tx *bolt.Tx, doc map[string]any)) {
	t.Helper()
	db, err := bolt.Open(path, 0o644, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	err = db.Update(func(tx *bolt.Tx) error {
		b := tx.Bucket([]byte(bucketMeta))
		var doc map[string]any
		if err := unsealJSON(bucketMeta, []byte(keyStore), b.Get([]byte(keyStore)), &doc); err != nil {
			return err
		}
		change(tx, doc)
		payload, err := json.Marshal(doc)
		if err != nil {
			return err
		}
		return b.Put([]byte(keyStore), seal(bucketMeta, []byte(keyStore), payload))
	})
	if err != nil {
		t.Fatal(err)
	}
}

func TestNewerFormatIsReadNotWritten(t *testing.T) {
	path := made(t)
	rewrite(t, path, func(tx *bolt.Tx, doc map[string]any) {
		doc["format"], doc["of the future"] = Format+1, true
		if _, err := tx.CreateBucket([]byte("laser gates")); err != nil {
			t.Fatal(err)
		}
	})
	before := fileState(t, path)
	if _, err := Open(path, Options{}); !errors.Is(err, ErrNewer) {
		t.Fatalf("%v", err)
	}
	if _, err := Check(path); !errors.Is(err, ErrNewer) {
		t.Errorf("check: %v", err)
	}
	s, err := Open(path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := s.ExportNight("second", &b); err != nil {
		t.Error(err)
	}
	s.Close()
	if _, records, err := readNight(&b); err != nil || len(records) != 250 {
		t.Errorf("exported %d records, %v", len(records), err)
	}
	if fileState(t, path) != before {
		t.Error("the file was changed")
	}
}

// A made-up format 0, which kept documents without revisions, stands in for the
// older formats there will be.
func TestOlderFormatIsCopiedForward(t *testing.T) {
	path := made(t)
	rewrite(t, path, func(tx *bolt.Tx, doc map[string]any) {
		doc["format"] = 0
		for _, name := range []string{bucketHistory, bucketRegister} {
			if err := tx.DeleteBucket([]byte(name)); err != nil {
				t.Fatal(err)
			}
		}
	})
	before := fileState(t, path)
	if _, err := Open(path, Options{}); err == nil {
		t.Fatal("opened a format that nothing can bring forward")
	}
	if fileState(t, path) != before {
		t.Fatal("the refusal changed the file")
	}

	lose := true
	steps[0] = func(from, to *bolt.Tx) (records uint64, err error) {
		nights := to.Bucket([]byte(bucketNights))
		for k, v := range eachIn(from.Bucket([]byte(bucketNights))) {
			if err := nights.Put(k, v); err != nil {
				return 0, err
			}
			src := from.Bucket([]byte(bucketJournals)).Bucket(k)
			dst, err := to.Bucket([]byte(bucketJournals)).CreateBucket(k)
			if err != nil {
				return 0, err
			}
			for k, v := range eachIn(src) {
				records++
				if lose && records == 7 {
					continue
				}
				if err := dst.Put(k, v); err != nil {
					return 0, err
				}
			}
			if err := dst.SetSequence(src.Sequence()); err != nil {
				return 0, err
			}
		}
		return records, to.Bucket([]byte(bucketRegister)).SetSequence(20)
	}
	t.Cleanup(func() { delete(steps, 0) })

	if _, err := Open(path, Options{}); err == nil {
		t.Fatal("a step that loses a record was accepted")
	}
	if fileState(t, path) != before {
		t.Fatal("the failed step changed the file")
	}
	lose = false
	s := open(t, path, Options{})
	j, err := s.Night("second")
	if err != nil || len(readAll(t, j)) != 250 {
		t.Errorf("night: %v", err)
	}
	if n := s.Notices(); len(n) != 1 || !strings.Contains(n[0], "format-0") {
		t.Errorf("notices: %q", n)
	}
	kept := path + ".format-0-1"
	if fileState(t, kept) != before {
		t.Error("the old file was not kept as it was")
	}
}
