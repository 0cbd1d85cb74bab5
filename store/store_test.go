package store

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var ctx = context.Background()

// open opens the store at path. When the test ends it is closed, if it is not
// yet, and its file must pass the check.
func open(t testing.TB, path string, opt Options) *Store {
	t.Helper()
	s, err := Open(path, opt)
	if err != nil {
		t.Fatalf("open: %v", err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil && !t.Failed() {
			t.Errorf("close: %v", err)
		}
		checkGood(t, path)
	})
	return s
}

func checkGood(t testing.TB, path string) Report {
	t.Helper()
	r, err := Check(path)
	if errors.Is(err, ErrHeld) || errors.Is(err, fs.ErrNotExist) {
		return r // the test opened it again, or moved it away
	}
	if err != nil {
		t.Errorf("check: %v", err)
	}
	for _, p := range r.Problems {
		t.Errorf("check: %s", p)
	}
	return r
}

func tempStore(t testing.TB) string { return filepath.Join(t.TempDir(), "club.lw") }

func night(t testing.TB, s *Store, id string) *Journal {
	t.Helper()
	j, err := s.CreateNight(ctx, id, []byte("meta of "+id))
	if err != nil {
		t.Fatal(err)
	}
	return j
}

// sample is a record whose content follows from its number, so that any change
// of it shows.
func sample(seq uint64) Record {
	return Record{
		Seq: seq, Kind: uint16(seq * 7), Wall: int64(seq)*1_000_003 - 5,
		Data: fmt.Appendf(nil, "pass %d lane %d %s", seq, seq%4+1, strings.Repeat("x", int(seq*31%80))),
	}
}

func appendSamples(t testing.TB, j *Journal, n int) {
	t.Helper()
	for range n {
		if _, err := j.Append(ctx, sample(j.Last()+1)); err != nil {
			t.Fatal(err)
		}
	}
}

// readAll returns all records and insists that each is its sample.
func readAll(t testing.TB, j *Journal) (records []Record) {
	t.Helper()
	err := j.Read(0, func(r Record) error {
		if want := sample(r.Seq); !reflect.DeepEqual(r, want) {
			t.Errorf("record %d is %v, want %v", r.Seq, r, want)
		}
		records = append(records, r)
		return nil
	})
	if err != nil {
		t.Errorf("read: %v", err)
	}
	return records
}

func TestANightIsThereAfterReopening(t *testing.T) {
	path := tempStore(t)
	s := open(t, path, Options{})
	j := night(t, s, "2026-03-14")
	appendSamples(t, j, 300)
	if first, err := j.Append(ctx, sample(301), sample(302), sample(303)); err != nil || first != 301 {
		t.Fatalf("append of three: first %d, %v", first, err)
	}
	empty := night(t, s, "empty night")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := empty.Append(ctx, sample(1)); !errors.Is(err, ErrClosed) {
		t.Errorf("append after close: %v", err)
	}

	s = open(t, path, Options{MustExist: true})
	if n := s.Notices(); len(n) > 0 {
		t.Errorf("notices: %q", n)
	}
	infos, err := s.Nights()
	if err != nil || len(infos) != 2 {
		t.Fatalf("nights: %v, %v", infos, err)
	}
	if i := infos[0]; i.ID != "2026-03-14" || i.Records != 303 || i.Last != 303 || string(i.Meta) != "meta of 2026-03-14" || i.Number != 1 {
		t.Errorf("night: %+v", i)
	}
	j, err = s.Night("2026-03-14")
	if err != nil {
		t.Fatal(err)
	}
	if got := readAll(t, j); len(got) != 303 {
		t.Errorf("%d records, want 303", len(got))
	}
	var from []uint64
	stop := errors.New("stop")
	err = j.Read(300, func(r Record) error {
		from = append(from, r.Seq)
		if r.Seq == 302 {
			return stop
		}
		return nil
	})
	if !errors.Is(err, stop) || !reflect.DeepEqual(from, []uint64{300, 301, 302}) {
		t.Errorf("read from 300: %v, %v", from, err)
	}
	if _, err := s.Night("another"); !errors.Is(err, ErrNotFound) {
		t.Errorf("unknown night: %v", err)
	}
	if _, err := s.CreateNight(ctx, "2026-03-14", nil); !errors.Is(err, ErrExists) {
		t.Errorf("same id twice: %v", err)
	}
	for _, id := range []string{"", "a\nb", strings.Repeat("n", 129), "\xff"} {
		if _, err := s.CreateNight(ctx, id, nil); !errors.Is(err, ErrInput) {
			t.Errorf("id %q: %v", id, err)
		}
	}
}

func TestConcurrentAppendsShareCommitsAndStayWhole(t *testing.T) {
	s := open(t, tempStore(t), Options{})
	j := night(t, s, "busy")
	const writers, each = 16, 100
	var wg sync.WaitGroup
	var mu sync.Mutex
	seen := map[uint64]string{}
	for w := range writers {
		wg.Go(func() {
			for i := range each {
				a, b := fmt.Sprintf("%d/%d a", w, i), fmt.Sprintf("%d/%d b", w, i)
				first, err := j.Append(ctx, Record{Data: []byte(a)}, Record{Data: []byte(b)})
				if err != nil {
					t.Error(err)
					return
				}
				mu.Lock()
				seen[first], seen[first+1] = a, b
				mu.Unlock()
				if j.Last() < first+1 {
					t.Errorf("acknowledged %d, but Last is %d", first+1, j.Last())
				}
			}
		})
	}
	wg.Wait()
	n := uint64(0)
	err := j.Read(0, func(r Record) error {
		n++
		if r.Seq != n || string(r.Data) != seen[n] {
			t.Errorf("record %d holds %q, its writer was told %q", r.Seq, r.Data, seen[n])
		}
		return nil
	})
	if err != nil || n != writers*each*2 {
		t.Errorf("%d records, want %d; %v", n, writers*each*2, err)
	}
}

// While a commit is under way everything that arrives must go into the next
// one, together.
func TestWhatWaitsIsOneCommit(t *testing.T) {
	entered, gate := make(chan int, 64), make(chan struct{})
	f := &faults{}
	s := open(t, tempStore(t), Options{faults: f})
	j := night(t, s, "n")
	f.before = func(batch int) error {
		entered <- batch
		<-gate
		return nil
	}
	var wg sync.WaitGroup
	send := func() { wg.Go(func() { _, _ = j.Append(ctx, Record{Data: []byte("x")}) }) }
	send()
	if n := <-entered; n != 1 {
		t.Fatalf("first commit holds %d", n)
	}
	for range 8 {
		send()
	}
	for len(s.requests) < 8 {
		time.Sleep(time.Millisecond)
	}
	close(gate)
	wg.Wait()
	if n := <-entered; n != 8 {
		t.Errorf("eight that waited were committed as %d and more", n)
	}
	if len(entered) > 0 {
		t.Errorf("%d commits too many", len(entered))
	}
}

func TestAppendWithNumbersIsIdempotent(t *testing.T) {
	s := open(t, tempStore(t), Options{})
	j := night(t, s, "n")
	appendSamples(t, j, 5)
	if first, err := j.Append(ctx, sample(4), sample(5), sample(6), sample(7)); err != nil || first != 4 {
		t.Fatalf("repeat and go on: %d, %v", first, err)
	}
	if j.Last() != 7 || len(readAll(t, j)) != 7 {
		t.Errorf("last is %d, want 7", j.Last())
	}
	var se *SeqError
	other := sample(3)
	other.Data = []byte("other")
	if _, err := j.Append(ctx, other); !errors.As(err, &se) || se.Seq != 3 || se.Next != 8 || !errors.Is(err, ErrConflict) {
		t.Errorf("other data under an old number: %v", err)
	}
	if _, err := j.Append(ctx, sample(8), sample(10)); !errors.As(err, &se) || se.Seq != 10 || se.Next != 9 {
		t.Errorf("a gap: %v", err)
	}
	if _, err := j.Append(ctx, sample(8), sample(8)); !errors.As(err, &se) {
		t.Errorf("the same number twice in a call: %v", err)
	}
	if j.Last() != 7 {
		t.Errorf("a refused append left %d records", j.Last())
	}
	if _, err := j.Append(ctx, Record{Data: make([]byte, MaxData+1)}); !errors.Is(err, ErrInput) {
		t.Errorf("too large: %v", err)
	}
	if _, err := j.Append(ctx, Record{Data: make([]byte, MaxData)}, Record{}); err != nil {
		t.Errorf("largest, and empty: %v", err)
	}
	ended, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := j.Append(ended, sample(10)); !errors.Is(err, context.Canceled) {
		t.Errorf("ended context: %v", err)
	}
	if j.Last() != 9 {
		t.Errorf("last is %d, want 9", j.Last())
	}
}

func TestRegisterKeepsRevisions(t *testing.T) {
	path := tempStore(t)
	s := open(t, path, Options{})
	put := func(kind Kind, id, data string, want uint64) {
		t.Helper()
		d, err := s.Put(ctx, kind, id, []byte(data))
		if err != nil || d.Revision != want || string(d.Data) != data {
			t.Fatalf("put %s %s: %+v, %v; want revision %d", kind, id, d, err, want)
		}
	}
	put(KindDriver, "anna", `{"name":"Anna"}`, 1)
	put(KindDriver, "anna", `{"name":"Anna"}`, 1)
	put(KindDriver, "anna", `{"name":"Anna B."}`, 2)
	put(KindDriver, "ann", `{"name":"Ann"}`, 1)
	put(KindDriver, "zoë", `{}`, 1)
	put(KindCar, "anna", `{"car":1}`, 1)
	if _, err := s.PutIf(ctx, KindDriver, "anna", 1, []byte(`{}`)); !errors.Is(err, ErrConflict) {
		t.Errorf("stale revision: %v", err)
	}
	if _, err := s.PutIf(ctx, KindDriver, "anna", 0, []byte(`{}`)); !errors.Is(err, ErrConflict) {
		t.Errorf("not new: %v", err)
	}
	if d, err := s.PutIf(ctx, KindDriver, "anna", 2, []byte(`{"name":"A"}`)); err != nil || d.Revision != 3 {
		t.Errorf("fitting revision: %+v, %v", d, err)
	}
	if err := s.Delete(ctx, KindDriver, "ann"); err != nil {
		t.Error(err)
	}
	if err := s.Delete(ctx, KindDriver, "ann"); !errors.Is(err, ErrNotFound) {
		t.Errorf("deleted twice: %v", err)
	}
	put(KindDriver, "ann", `{"name":"Ann II"}`, 2)
	for _, bad := range []struct{ kind, id, data string }{
		{"Driver", "a", `{}`}, {"", "a", `{}`}, {"driver", "", `{}`}, {"driver", "a\x00b", `{}`}, {"driver", "a", `{`}, {"driver", "a", ``},
	} {
		if _, err := s.Put(ctx, Kind(bad.kind), bad.id, []byte(bad.data)); !errors.Is(err, ErrInput) {
			t.Errorf("put %q: %v", bad, err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	s = open(t, path, Options{})
	list, err := s.List(KindDriver)
	var ids []string
	for _, d := range list {
		ids = append(ids, d.ID)
	}
	if err != nil || !reflect.DeepEqual(ids, []string{"ann", "anna", "zoë"}) {
		t.Errorf("list: %q, %v", ids, err)
	}
	h, err := s.History(KindDriver, "anna")
	var texts []string
	for _, d := range h {
		texts = append(texts, string(d.Data))
	}
	if err != nil || !reflect.DeepEqual(texts, []string{`{"name":"Anna"}`, `{"name":"Anna B."}`, `{"name":"A"}`}) {
		t.Errorf("history: %q, %v", texts, err)
	}
	if d, err := s.GetRevision(KindDriver, "anna", 2); err != nil || string(d.Data) != `{"name":"Anna B."}` {
		t.Errorf("revision 2: %+v, %v", d, err)
	}
	if _, err := s.GetRevision(KindDriver, "anna", 9); !errors.Is(err, ErrNotFound) {
		t.Errorf("revision 9: %v", err)
	}
	if _, err := s.Get(KindDriver, "an"); !errors.Is(err, ErrNotFound) {
		t.Errorf("half an id: %v", err)
	}
	if kinds, err := s.Kinds(); err != nil || !reflect.DeepEqual(kinds, []Kind{KindCar, KindDriver}) {
		t.Errorf("kinds: %v, %v", kinds, err)
	}
	if a, b := NewID(), NewID(); a == b || len(a) != 13 {
		t.Errorf("ids %q %q", a, b)
	}
}

// The register against a plain map, over random runs with reopening.
func TestRegisterIsAMap(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		dir, err := os.MkdirTemp(t.TempDir(), "r")
		if err != nil {
			rt.Fatal(err)
		}
		path := filepath.Join(dir, "s.lw")
		s, err := Open(path, Options{faults: &faults{noReserve: true}})
		if err != nil {
			rt.Fatal(err)
		}
		defer func() { s.Close() }()
		model, revisions := map[string]string{}, map[string][]string{}
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			id := rapid.SampledFrom([]string{"a", "aa", "b", "ä"}).Draw(rt, "id")
			switch rapid.IntRange(0, 9).Draw(rt, "do") {
			default:
				data := fmt.Sprint(rapid.IntRange(0, 3).Draw(rt, "data"))
				if _, err := s.Put(ctx, KindCar, id, []byte(data)); err != nil {
					rt.Fatal(err)
				}
				if model[id] != data {
					revisions[id] = append(revisions[id], data)
				}
				model[id] = data
			case 0, 1:
				err := s.Delete(ctx, KindCar, id)
				if _, have := model[id]; have != (err == nil) {
					rt.Fatalf("delete %q: %v", id, err)
				}
				delete(model, id)
			case 2:
				if err := s.Close(); err != nil {
					rt.Fatal(err)
				}
				if s, err = Open(path, Options{faults: &faults{noReserve: true}}); err != nil {
					rt.Fatal(err)
				}
			}
		}
		list, err := s.List(KindCar)
		if err != nil || len(list) != len(model) {
			rt.Fatalf("%d documents, want %d: %v", len(list), len(model), err)
		}
		for _, d := range list {
			if model[d.ID] != string(d.Data) || d.Revision != uint64(len(revisions[d.ID])) {
				rt.Fatalf("%q is %s at revision %d, want %s at %d", d.ID, d.Data, d.Revision, model[d.ID], len(revisions[d.ID]))
			}
		}
		for id, want := range revisions {
			h, err := s.History(KindCar, id)
			if err != nil || len(h) != len(want) {
				rt.Fatalf("history of %q: %d, want %d: %v", id, len(h), len(want), err)
			}
			for i := range h {
				if string(h[i].Data) != want[i] {
					rt.Fatalf("%q revision %d is %s, want %s", id, i+1, h[i].Data, want[i])
				}
			}
		}
	})
}

func TestExportAndImport(t *testing.T) {
	a := open(t, tempStore(t), Options{})
	j := night(t, a, "Löwen night")
	appendSamples(t, j, 50)
	var stream bytes.Buffer
	if err := a.ExportNight("Löwen night", &stream); err != nil {
		t.Fatal(err)
	}
	b := open(t, tempStore(t), Options{})
	night(t, b, "something else")
	info, err := b.ImportNight(ctx, bytes.NewReader(stream.Bytes()), "")
	if err != nil || info.Records != 50 || info.ID != "Löwen night" || string(info.Meta) != "meta of Löwen night" || info.Number != 2 {
		t.Fatalf("import: %+v, %v", info, err)
	}
	k, err := b.Night("Löwen night")
	if err != nil || len(readAll(t, k)) != 50 {
		t.Fatal("the imported night is not the exported one")
	}
	appendSamples(t, k, 3)
	if _, err := b.ImportNight(ctx, bytes.NewReader(stream.Bytes()), ""); !errors.Is(err, ErrExists) {
		t.Errorf("the same night again: %v", err)
	}
	if _, err := b.ImportNight(ctx, bytes.NewReader(stream.Bytes()), "copy"); err != nil {
		t.Errorf("under another id: %v", err)
	}
	var again bytes.Buffer
	if err := b.ExportNight("copy", &again); err != nil {
		t.Fatal(err)
	}
	// Body lines are the same; head and end differ by id, store and time.
	x, y := strings.Split(stream.String(), "\n"), strings.Split(again.String(), "\n")
	if !reflect.DeepEqual(x[1:len(x)-2], y[1:len(y)-2]) {
		t.Error("export, import, export changed a record")
	}
}

// Whatever happens to the text of a stream, an import takes it whole or leaves
// the store alone.
func TestImportRefusesASpoiltStream(t *testing.T) {
	s := open(t, tempStore(t), Options{})
	j := night(t, s, "n")
	appendSamples(t, j, 6)
	var buf bytes.Buffer
	if err := s.ExportNight("n", &buf); err != nil {
		t.Fatal(err)
	}
	good := buf.String()
	lines := strings.SplitAfter(strings.TrimSuffix(good, "\n"), "\n")
	join := func(l ...string) string { return strings.Join(l, "") }
	bad := map[string]string{
		"empty":          "",
		"line dropped":   join(lines[0], lines[1], lines[3], lines[4], lines[5], lines[6], lines[7]),
		"line doubled":   join(append(append([]string{}, lines[:3]...), lines[2:]...)...),
		"lines swapped":  join(lines[0], lines[2], lines[1], lines[3], lines[4], lines[5], lines[6], lines[7]),
		"tail dropped":   join(lines[0], lines[1], lines[2], lines[7]),
		"end missing":    join(lines[:7]...),
		"something more": good + "x",
		"not ours":       `{"a":1}` + "\n",
	}
	for i := range len(good) - 1 {
		bad[fmt.Sprintf("cut at %d", i)] = good[:i]
		for _, bit := range []byte{1, 32} {
			spoilt := []byte(good)
			spoilt[i] ^= bit
			bad[fmt.Sprintf("byte %d bit %d", i, bit)] = string(spoilt)
		}
	}
	for name, text := range bad {
		h, records, err := readNight(strings.NewReader(text))
		if err == nil {
			// JSON does not mind a space more or a name in other case: then
			// nothing but the writing may differ.
			if h.ID != "n" || len(records) != 6 || !reflect.DeepEqual(records[3], sample(4)) {
				t.Errorf("%s: accepted as %+v", name, h)
			}
			continue
		}
		if !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v is no ErrInput", name, err)
		}
	}
	if _, err := s.ImportNight(ctx, strings.NewReader(bad["end missing"]), "m"); !errors.Is(err, ErrInput) {
		t.Errorf("end missing: %v", err)
	}
	if infos, _ := s.Nights(); len(infos) != 1 {
		t.Errorf("a refused import left %d nights", len(infos))
	}
}

func TestReadOnlyStoreRefusesWriting(t *testing.T) {
	path := tempStore(t)
	s := open(t, path, Options{})
	appendSamples(t, night(t, s, "n"), 3)
	s.Close()
	before := fileState(t, path)
	r := open(t, path, Options{ReadOnly: true})
	other := open(t, path, Options{ReadOnly: true}) // readers do not exclude each other
	j, err := r.Night("n")
	if err != nil || len(readAll(t, j)) != 3 {
		t.Error("cannot read")
	}
	if _, err := j.Append(ctx, sample(4)); !errors.Is(err, ErrReadOnly) {
		t.Errorf("append: %v", err)
	}
	if _, err := r.Put(ctx, KindCar, "a", []byte(`1`)); !errors.Is(err, ErrReadOnly) {
		t.Errorf("put: %v", err)
	}
	if _, err := Open(path, Options{Wait: 60 * time.Millisecond}); !errors.Is(err, ErrHeld) {
		t.Errorf("writing while others read: %v", err)
	}
	r.Close()
	other.Close()
	if fileState(t, path) != before {
		t.Error("reading changed the file")
	}
	if _, err := Open(filepath.Join(t.TempDir(), "none"), Options{ReadOnly: true}); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("missing file: %v", err)
	}
}

// fileState is a file's size and content, as text to compare.
func fileState(t testing.TB, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestReportIsJSON(t *testing.T) {
	path := tempStore(t)
	s := open(t, path, Options{})
	appendSamples(t, night(t, s, "n"), 3)
	if r, err := s.Check(); err != nil || !r.Good() || r.Records() != 3 {
		t.Errorf("check of the open store: %+v, %v", r, err)
	}
	s.Close()
	b, err := json.Marshal(checkGood(t, path))
	if err != nil || !bytes.Contains(b, []byte(`"nights":[{"number":1,"id":"n","records":3,"last":3}]`)) {
		t.Errorf("%s, %v", b, err)
	}
}
