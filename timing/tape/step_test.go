package tape

import (
	"bytes"
	"testing"
	"time"
)

type memo struct{ bytes.Buffer }

func (*memo) Sync() error  { return nil }
func (*memo) Close() error { return nil }

// TestStepOfTheWallClockIsWrittenDown gives the writer times without monotonic reading, so that its start stands for a clock that was set.
func TestStepOfTheWallClockIsWrittenDown(t *testing.T) {
	var f memo
	w := NewWriter(&f, began)
	w.skew = -time.Hour // as if the wall clock had been an hour behind until now
	w.Heard("c", began.Add(time.Second), []byte{1})
	w.Heard("c", began.Add(2*time.Second), nil)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	want := `{"t":0,"tape":1,"start":"2026-03-14T19:30:00.25Z"}
{"t":1,"step":3600}
{"t":1,"src":"c","hex":"01"}
{"t":2,"src":"c"}
`
	if got := f.String(); got != want {
		t.Fatalf("wrote\n%swant\n%s", got, want)
	}
	all, err := Read(&f)
	if err != nil || len(all) != 4 || all[1].Step != time.Hour || all[3].Heard != nil {
		t.Fatalf("read %+v, %v", all, err)
	}
}
