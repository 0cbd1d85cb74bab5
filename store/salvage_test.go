package store

import (
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

var (
	damages    = flag.Int("damages", 40, "randomly damaged files to salvage: go test -run Invents -damages 5000 -damageseed 2 ./store")
	damageSeed = flag.Uint64("damageseed", 20, "seed of the above")
)

// pageOf returns the page on which record seq of a night stands in the tree.
func pageOf(t *testing.T, image string, night uint32, seq uint64) uint64 {
	t.Helper()
	var page uint64
	s := &survey{buckets: map[string]bool{}, nights: map[uint32]*nightSurvey{}}
	r := strings.NewReader(image)
	m, _ := readMetas(r, int64(len(image))).newest()
	s.meta, s.pages = m, newPageReader(r, int64(len(image)), m.pageSize)
	s.reached = make([]uint64, m.pages/64+1)
	s.tree(m.root, 0, func(_ uint64, e leafElem) {
		if string(e.key) != bucketJournals {
			return
		}
		s.bucket(0, e.value, 1, func(_ uint64, e leafElem) {
			if string(e.key) == string(nightKey(night)) {
				s.bucket(0, e.value, 2, func(id uint64, e leafElem) {
					if k := seqKey(seq); string(e.key) == string(k[:]) {
						page = id
					}
				})
			}
		})
	})
	if page == 0 {
		t.Fatalf("record %d of night %d not found", seq, night)
	}
	return page
}

func TestSalvageSavesAllButTheSpoiltPageAndNamesTheRest(t *testing.T) {
	path := made(t)
	image := fileState(t, path)
	page := pageOf(t, image, 2, 100)
	spoilt := rubbish([]byte(image), int(page)*4096, 4096)
	if err := os.WriteFile(path, spoilt, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(path, Options{}); !errors.Is(err, ErrDamaged) {
		t.Fatalf("open: %v", err)
	}
	dst := filepath.Join(t.TempDir(), "saved.lw")
	r, err := Salvage(path, dst)
	if err != nil {
		t.Fatal(err)
	}
	if fileState(t, path) != string(spoilt) {
		t.Error("salvage changed the damaged file")
	}
	if r.Good() || len(r.Nights) != 2 || r.Nights[0].Records != 250 || r.Documents != 20 {
		t.Errorf("report: %+v", r)
	}
	n := r.Nights[1]
	// Old copies of the page's records lie on pages since freed, so more may come
	// back than the tree still held.
	if n.Last != 250 || n.Records+rangesLen(n.Missing) != 250 {
		t.Errorf("night 2: %+v", n)
	}
	s := open(t, dst, Options{})
	if s.FileID() == "" || len(s.Notices()) > 0 {
		t.Errorf("notices: %q", s.Notices())
	}
	j, err := s.Night("second")
	if err != nil {
		t.Fatal(err)
	}
	got := readAll(t, j)
	if uint64(len(got)) != n.Records || !reflect.DeepEqual(j.Info().Missing, n.Missing) {
		t.Errorf("%d records, missing %v; report says %d, %v", len(got), j.Info().Missing, n.Records, n.Missing)
	}
	appendSamples(t, j, 5)
	if j.Last() != 255 || j.Info().Records != n.Records+5 {
		t.Errorf("goes on at %d", j.Last())
	}
	if docs, err := s.List(KindDriver); err != nil || len(docs) != 20 {
		t.Errorf("documents: %d, %v", len(docs), err)
	}
	if _, err := Salvage(path, dst); !errors.Is(err, ErrExists) {
		t.Errorf("over an existing file: %v", err)
	}
	t.Logf("page %d of %d spoilt: %d of 250 records saved, missing %v", page, len(image)/4096, n.Records, n.Missing)
}

// A salvaged gap travels with an export.
func TestGapsTravel(t *testing.T) {
	path := made(t)
	image := []byte(fileState(t, path))
	// Spoil every copy of record 77 of night 1: its data names it.
	text := "pass 77 lane "
	n := 0
	for i := range image[:len(image)-len(text)] {
		if string(image[i:i+len(text)]) == text {
			image[i] ^= 7 // three bits: no CRC can point at them
			n++
		}
	}
	if n < 2 {
		t.Fatalf("%d copies", n)
	}
	if err := os.WriteFile(path, image, 0o644); err != nil {
		t.Fatal(err)
	}
	dst := filepath.Join(t.TempDir(), "saved.lw")
	r, err := Salvage(path, dst)
	if err != nil {
		t.Fatal(err)
	}
	want := []Range{{77, 77}}
	for _, n := range r.Nights {
		if !reflect.DeepEqual(n.Missing, want) || n.Records != 249 {
			t.Errorf("night %d: %+v", n.Number, n)
		}
	}
	s := open(t, dst, Options{})
	var b strings.Builder
	if err := s.ExportNight("first", &b); err != nil {
		t.Fatal(err)
	}
	info, err := s.ImportNight(ctx, strings.NewReader(b.String()), "again")
	if err != nil || !reflect.DeepEqual(info.Missing, want) || info.Records != 249 || info.Last != 250 {
		t.Fatalf("import: %+v, %v", info, err)
	}
	j, err := s.Night("again")
	if err != nil || len(readAll(t, j)) != 249 {
		t.Errorf("%v", err)
	}
}

func TestSalvageWithoutMetaPages(t *testing.T) {
	path := made(t)
	image := zeroed([]byte(fileState(t, path)), 0, 8192)
	if err := os.WriteFile(path, image, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(path, Options{}); !errors.Is(err, ErrDamaged) {
		t.Errorf("open: %v", err)
	}
	dst := filepath.Join(t.TempDir(), "saved.lw")
	r, err := Salvage(path, dst)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Nights) != 2 || r.Records() != 500 || r.Documents != 20 {
		t.Errorf("report: %+v", r)
	}
	t.Logf("%q", r.Notices)
	checkGood(t, dst)

	text := filepath.Join(t.TempDir(), "sheet.txt")
	if err := os.WriteFile(text, []byte(strings.Repeat("no store\n", 10_000)), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Salvage(text, text+".lw"); !errors.Is(err, ErrNotStore) {
		t.Errorf("a text: %v", err)
	}
}

// A lost newest meta page must not lose the commit that it stood for.
func TestSalvageBringsBackACommitWhoseMetaPageIsLost(t *testing.T) {
	path := made(t)
	s, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	j, _ := s.Night("first")
	appendSamples(t, j, 1)
	s.db.Close() // as a killed program leaves it: no clean moment
	image := []byte(fileState(t, path))
	metas := readMetas(strings.NewReader(string(image)), int64(len(image)))
	newest := 0
	if metas.page[1].meta.txid > metas.page[0].meta.txid {
		newest = 1
	}
	for what, spoil := range map[string]func(b []byte){
		"one bit":      func(b []byte) { b[pageHead+41] ^= 4 },
		"zeroed":       func(b []byte) { clear(b) },
		"512 of trash": func(b []byte) { copy(b, rubbish(b, 0, 512)) },
	} {
		path := tempStore(t)
		spoilt := append([]byte(nil), image...)
		spoil(spoilt[newest*4096 : newest*4096+4096])
		if err := os.WriteFile(path, spoilt, 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(path, Options{}); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s: open: %v", what, err)
		}
		r, err := Salvage(path, path+".saved")
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if r.Nights[0].Records != 251 || len(r.Nights[0].Missing) > 0 {
			t.Errorf("%s: %+v", what, r.Nights[0])
		}
	}
	_ = s.Close
}

// Random damage of many kinds: what a salvage calls a record is the record that
// was stored, and what it does not have it names.
func TestSalvageNeverInventsAndNeverHides(t *testing.T) {
	original := made(t)
	image := []byte(fileState(t, original))
	image = image[:lastUsed(t, image)+4096]
	side := fileState(t, sidePath(original))
	rng := rand.New(rand.NewPCG(*damageSeed, 26))
	rounds := *damages
	saved := 0
	for round := range rounds {
		b := append([]byte(nil), image...)
		var what string
		for range 1 + rng.IntN(3) {
			page := rng.IntN(len(b)/4096) * 4096
			switch rng.IntN(4) {
			case 0:
				what += fmt.Sprintf("page %d zeroed; ", page/4096)
				clear(b[page : page+4096])
			case 1:
				what += fmt.Sprintf("page %d half rubbish; ", page/4096)
				copy(b[page:], rubbish(b, page, 2048)[page:page+2048])
			case 2:
				other := rng.IntN(len(b)/4096) * 4096
				what += fmt.Sprintf("page %d overwritten by page %d; ", page/4096, other/4096)
				copy(b[page:page+4096], b[other:other+4096])
			case 3:
				b = b[:max(len(b)/2, page)]
				b = b[:len(b)&^4095]
				what += fmt.Sprintf("cut at %d; ", len(b))
			}
		}
		path := tempStore(t)
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(sidePath(path), []byte(side), 0o644); err != nil {
			t.Fatal(err)
		}
		if s, err := Open(path, Options{faults: &faults{noReserve: true}}); err == nil {
			if !sameAsMade(t, s) {
				t.Errorf("round %d: %sopened, and holds something else", round, what)
			}
			s.Close()
			continue
		}
		r, err := Salvage(path, path+".saved")
		if errors.Is(err, ErrNotStore) && !strings.Contains(string(b), " lane ") {
			continue // there is no record left in it
		}
		if err != nil {
			t.Errorf("round %d: %s%v", round, what, err)
			continue
		}
		if r.Good() || len(r.Nights) != 2 {
			t.Errorf("round %d: %s%+v", round, what, r)
			continue
		}
		s, err := Open(path+".saved", Options{ReadOnly: true})
		if err != nil {
			t.Errorf("round %d: %s%v", round, what, err)
			continue
		}
		for _, n := range r.Nights {
			j, err := s.Night(n.ID)
			if err != nil {
				t.Fatal(err)
			}
			got := readAll(t, j)
			if uint64(len(got))+rangesLen(n.Missing) != 250 || n.Last != 250 {
				t.Errorf("round %d: %snight %d: %d records, missing %v", round, what, n.Number, len(got), n.Missing)
			}
			saved += len(got)
		}
		s.Close()
	}
	t.Logf("%d rounds, %d records saved", rounds, saved)
}

// sameAsMade reports whether s holds exactly what made put into it.
func sameAsMade(t *testing.T, s *Store) bool { return sameAs(t, s, 250, 20) }

func sameAs(t *testing.T, s *Store, records uint64, documents int) bool {
	t.Helper()
	infos, err := s.Nights()
	if err != nil || len(infos) != 2 || infos[0].ID != "first" || infos[1].ID != "second" {
		return false
	}
	for _, i := range infos {
		j, err := s.Night(i.ID)
		if err != nil || string(i.Meta) != "meta of "+i.ID || i.Records != records {
			return false
		}
		n := uint64(0)
		err = j.Read(0, func(r Record) error {
			n++
			if !reflect.DeepEqual(r, sample(n)) {
				return fmt.Errorf("record %d", n)
			}
			return nil
		})
		if err != nil || n != records {
			return false
		}
	}
	docs, err := s.List(KindDriver)
	if err != nil || len(docs) != documents {
		return false
	}
	for i, d := range docs {
		want := fmt.Sprintf(`{"n":%d}`, i)
		h, err := s.History(KindDriver, d.ID)
		if d.ID != fmt.Sprintf("driver-%02d", i) || string(d.Data) != want || d.Revision != 1 || err != nil || len(h) != 1 || string(h[0].Data) != want {
			return false
		}
	}
	return true
}
