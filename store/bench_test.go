package store

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"
)

// bare is the floor under every append: 4 KiB written over and synced, in a file
// of the same directory.
type bare struct {
	f   *os.File
	buf [4096]byte
}

func newBare(b *testing.B) *bare {
	f, err := os.Create(filepath.Join(b.TempDir(), "bare"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { f.Close() })
	return &bare{f: f}
}

func (w *bare) write(b *testing.B) time.Duration {
	w.buf[0]++
	began := time.Now()
	if _, err := w.f.WriteAt(w.buf[:], 0); err != nil {
		b.Fatal(err)
	}
	if err := w.f.Sync(); err != nil {
		b.Fatal(err)
	}
	return time.Since(began)
}

func quantile(ds []time.Duration, q float64) time.Duration {
	slices.Sort(ds)
	return ds[min(len(ds)-1, int(float64(len(ds))*q))]
}

// report gives the median and the 99th percentile of both, and the ratio of the
// medians.
func report(b *testing.B, ours, floor []time.Duration) {
	us := func(d time.Duration) float64 { return float64(d) / 1e3 }
	b.ReportMetric(us(quantile(ours, 0.5)), "p50-us")
	b.ReportMetric(us(quantile(ours, 0.99)), "p99-us")
	b.ReportMetric(us(quantile(floor, 0.5)), "bare-p50-us")
	b.ReportMetric(us(quantile(floor, 0.99)), "bare-p99-us")
	b.ReportMetric(float64(quantile(ours, 0.5))/float64(quantile(floor, 0.5)), "p50/bare")
	b.ReportMetric(0, "ns/op") // ours and the floor together: no use
}

func benchStore(b *testing.B) *Journal {
	s, err := Open(filepath.Join(b.TempDir(), "club.lw"), Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.Close() })
	return night(b, s, "n")
}

// One record to durable, with a bare write and sync after each, and two of them
// in a row: a commit of the library syncs twice, pages first, then its meta
// page, so that is the floor under it.
func BenchmarkAppend(b *testing.B) {
	j, floor := benchStore(b), newBare(b)
	data := make([]byte, 64)
	var ours, bares, twice []time.Duration
	b.ReportAllocs()
	for b.Loop() {
		began := time.Now()
		if _, err := j.Append(ctx, Record{Kind: 1, Data: data}); err != nil {
			b.Fatal(err)
		}
		ours = append(ours, time.Since(began))
		bares = append(bares, floor.write(b))
		twice = append(twice, floor.write(b)+floor.write(b))
	}
	report(b, ours, bares)
	b.ReportMetric(float64(quantile(ours, 0.5))/float64(quantile(twice, 0.5)), "p50/two-bare")
}

// Eight lanes at once: from the first call to the last answer.
func BenchmarkAppendBurstOf8(b *testing.B) {
	j, floor := benchStore(b), newBare(b)
	commits := 0
	j.store.opt.faults = &faults{before: func(int) error { commits++; return nil }}
	data := make([]byte, 64)
	var ours, bares []time.Duration
	for b.Loop() {
		began := time.Now()
		var wg sync.WaitGroup
		for range 8 {
			wg.Go(func() {
				if _, err := j.Append(ctx, Record{Kind: 1, Data: data}); err != nil {
					b.Error(err)
				}
			})
		}
		wg.Wait()
		ours = append(ours, time.Since(began))
		bares = append(bares, floor.write(b))
	}
	report(b, ours, bares)
	b.ReportMetric(float64(commits)/float64(len(ours)), "commits/burst")
}

// 16 callers without a pause: records a second.
func BenchmarkAppendFlatOut(b *testing.B) {
	j := benchStore(b)
	data := make([]byte, 64)
	b.SetParallelism(16)
	b.ReportAllocs()
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			if _, err := j.Append(ctx, Record{Kind: 1, Data: data}); err != nil {
				b.Error(err)
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "records/s")
}

// millionStore makes a store with a million records of 64 bytes.
func millionStore(b *testing.B) string {
	path := filepath.Join(b.TempDir(), "club.lw")
	s, err := Open(path, Options{})
	if err != nil {
		b.Fatal(err)
	}
	j := night(b, s, "n")
	batch := make([]Record, 1000)
	for i := range batch {
		batch[i] = Record{Kind: 1, Wall: int64(i), Data: make([]byte, 64)}
	}
	for range 1000 {
		if _, err := j.Append(ctx, batch...); err != nil {
			b.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		b.Fatal(err)
	}
	return path
}

// Opening, which scans every record, and then reading every record.
func BenchmarkOpenMillion(b *testing.B) {
	path := millionStore(b)
	info, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	var opening, reading time.Duration
	n := 0
	for b.Loop() {
		began := time.Now()
		s, err := Open(path, Options{})
		if err != nil {
			b.Fatal(err)
		}
		opening += time.Since(began)
		j, err := s.Night("n")
		if err != nil {
			b.Fatal(err)
		}
		began = time.Now()
		records := 0
		if err := j.Read(0, func(Record) error { records++; return nil }); err != nil || records != 1_000_000 {
			b.Fatal(records, err)
		}
		reading += time.Since(began)
		n++
		b.StopTimer()
		s.Close()
		b.StartTimer()
	}
	b.ReportMetric(float64(opening.Milliseconds())/float64(n), "open-ms")
	b.ReportMetric(float64(reading.Milliseconds())/float64(n), "read-ms")
	b.ReportMetric(float64(info.Size())/1e6, "file-bytes/record")
}

// Bytes of file a record of 64 bytes costs, one commit each and 100 a commit.
func BenchmarkBytesPerRecord(b *testing.B) {
	for _, each := range []int{1, 10, 100} {
		b.Run(fmt.Sprintf("%d-a-commit", each), func(b *testing.B) {
			var perRecord float64
			for b.Loop() {
				j := benchStore(b)
				batch := make([]Record, each)
				for i := range batch {
					batch[i].Data = make([]byte, 64)
				}
				const records = 20_000
				for range records / each {
					if _, err := j.Append(ctx, batch...); err != nil {
						b.Fatal(err)
					}
				}
				r, err := j.store.Check()
				if err != nil || r.Records() != records {
					b.Fatal(r, err)
				}
				perRecord = float64(r.Bytes) / records
			}
			b.ReportMetric(perRecord, "bytes/record")
		})
	}
}

func BenchmarkBackupMillion(b *testing.B) {
	s, err := Open(millionStore(b), Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.Close() })
	dst := filepath.Join(b.TempDir(), "backup.lw")
	for b.Loop() {
		if _, err := s.Backup(ctx, dst); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDecodeRecord(b *testing.B) {
	v := encodeRecord(1, Record{Kind: 3, Wall: 5, Data: make([]byte, 64)})
	sealRecord(9, v)
	k := seqKey(9)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := decodeRecord(k[:], v); err != nil {
			b.Fatal(err)
		}
	}
}
