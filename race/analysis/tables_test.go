package analysis

import (
	"bufio"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// table is a published data set; its source stands in the first line of its
// file.
type table struct {
	names []string
	rows  [][]string
}

func readTable(t *testing.T, name string) table {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name+".csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out table
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		if line := lines.Text(); !strings.HasPrefix(line, "#") {
			if cells := strings.Split(line, ","); out.names == nil {
				out.names = cells
			} else {
				out.rows = append(out.rows, cells)
			}
		}
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

func (d table) words(name string) []string {
	c := slices.Index(d.names, name)
	out := make([]string, len(d.rows))
	for i, r := range d.rows {
		out[i] = r[c]
	}
	return out
}

func (d table) numbers(t *testing.T, name string) []float64 {
	t.Helper()
	out := make([]float64, len(d.rows))
	for i, w := range d.words(name) {
		v, err := strconv.ParseFloat(w, 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = v
	}
	return out
}

// levels numbers the distinct words in their sorted order from 0.
func levels(words []string) ([]int, []string) {
	names := slices.Compact(slices.Sorted(slices.Values(words)))
	out := make([]int, len(words))
	for i, w := range words {
		out[i] = slices.Index(names, w)
	}
	return out, names
}

// dummies returns one column of zeros and ones per level.
func dummies(words []string) [][]float64 {
	at, names := levels(words)
	out := make([][]float64, len(names))
	for l := range out {
		out[l] = make([]float64, len(words))
		for i, a := range at {
			if a == l {
				out[l][i] = 1
			}
		}
	}
	return out
}

func ones(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

// crossed returns the products of two sets of columns.
func crossed(a, b [][]float64) [][]float64 {
	var out [][]float64
	for _, x := range a {
		for _, y := range b {
			p := make([]float64, len(x))
			for i := range p {
				p[i] = x[i] * y[i]
			}
			out = append(out, p)
		}
	}
	return out
}

// sums adds up the sequential sums of squares of consecutive groups of columns.
func sums(r *Regression, sizes ...int) []float64 {
	var out []float64
	at := 0
	for _, n := range sizes {
		s := 0.0
		for _, v := range r.SS[at : at+n] {
			s += v
		}
		out = append(out, s)
		at += n
	}
	return out
}
