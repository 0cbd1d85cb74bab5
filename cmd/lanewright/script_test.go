package main

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"hash/crc32"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	bolt "go.etcd.io/bbolt"
)

// TestScripts runs the program the way people do, with what it prints and its exit codes; see testdata/script.
func TestScripts(t *testing.T) {
	t.Parallel()
	data, err := filepath.Abs(filepath.Join("..", "..", "testdata"))
	if err != nil {
		t.Fatal(err)
	}
	scripts := filepath.Join("testdata", "script")
	var some []string // with the race detector each start of the program takes its time
	if testing.Short() {
		some = []string{filepath.Join(scripts, "night.txtar"), filepath.Join(scripts, "store.txtar")}
		scripts = ""
	}
	testscript.Run(t, testscript.Params{
		Dir:                 scripts,
		Files:               some,
		RequireExplicitExec: true,
		Setup: func(env *testscript.Env) error {
			home := filepath.Join(env.WorkDir, "home")
			env.Setenv("DATA", data)
			env.Setenv("HOME", home)
			env.Setenv("XDG_CACHE_HOME", filepath.Join(home, "cache"))
			env.Setenv("XDG_DATA_HOME", filepath.Join(home, "data"))
			env.Setenv("LC_ALL", "C.UTF-8")
			return os.MkdirAll(home, 0o755)
		},
		Condition: func(word string) (bool, error) {
			if word == "short" {
				return testing.Short(), nil
			}
			return false, errors.New("unknown condition " + word)
		},
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"code":        scriptCode,
			"await":       scriptAwait,
			"newer":       scriptNewer,
			"spoil":       scriptSpoil,
			"json":        scriptJSON,
			"lonely":      scriptLonely,
			"onesentence": scriptOneSentence,
		},
	})
}

// scriptCode runs a command that must end with an exit code: code 2 lanewright night show nowhere.lw
func scriptCode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: code N command...")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := 0
	var exit interface{ ExitCode() int }
	if errors.As(err, &exit) {
		got = exit.ExitCode()
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if want, _ := strconv.Atoi(args[0]); got != want {
		ts.Fatalf("exit code %d, want %d\n%s%s", got, want, ts.ReadFile("stdout"), ts.ReadFile("stderr"))
	}
}

// scriptAwait waits until a file is there.
func scriptAwait(ts *testscript.TestScript, _ bool, args []string) {
	for limit := time.Now().Add(patience); ; time.Sleep(10 * time.Millisecond) {
		if _, err := os.Stat(ts.MkAbs(args[0])); err == nil {
			return
		}
		if time.Now().After(limit) {
			ts.Fatalf("%s has not appeared in %v", args[0], patience)
		}
	}
}

// scriptNewer makes a store look as if a later program had written it: the number of the format, in the document that keeps its
// place in all formats, is one that this program does not know.
func scriptNewer(ts *testscript.TestScript, _ bool, args []string) {
	db, err := bolt.Open(ts.MkAbs(args[0]), 0o600, &bolt.Options{Timeout: patience})
	ts.Check(err)
	err = db.Update(func(tx *bolt.Tx) error {
		b, key := tx.Bucket([]byte("meta")), []byte("store")
		old := b.Get(key)
		doc := map[string]any{}
		if err := json.Unmarshal(old[1:len(old)-4], &doc); err != nil {
			return err
		}
		doc["format"] = 99
		text, err := json.Marshal(doc)
		if err != nil {
			return err
		}
		body := append([]byte{1}, text...)
		sum := crc32.Checksum(slices.Concat([]byte("meta\x00store\x00"), body), crc32.MakeTable(crc32.Castagnoli))
		return b.Put(key, binary.BigEndian.AppendUint32(body, sum))
	})
	ts.Check(err)
	ts.Check(db.Close())
}

// scriptSpoil flips one bit inside the first occurrence of a text in a file.
func scriptSpoil(ts *testscript.TestScript, _ bool, args []string) {
	path := ts.MkAbs(args[0])
	data, err := os.ReadFile(path)
	ts.Check(err)
	at := strings.Index(string(data), args[1])
	if at < 0 {
		ts.Fatalf("%s holds no %q", args[0], args[1])
	}
	data[at] ^= 0x01
	ts.Check(os.WriteFile(path, data, 0o600))
}

// scriptJSON looks into what was printed last: json heats.0.results.0.name 'Ada Quill'
func scriptJSON(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 {
		ts.Fatalf("usage: json path value")
	}
	var v any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile("stdout")), &v))
	for _, step := range strings.Split(args[0], ".") {
		switch at := v.(type) {
		case map[string]any:
			v = at[step]
		case []any:
			n, err := strconv.Atoi(step)
			if step == "count" {
				v = float64(len(at))
				continue
			}
			if err != nil || n >= len(at) {
				ts.Fatalf("there is no %s in a list of %d", step, len(at))
			}
			v = at[n]
		default:
			ts.Fatalf("there is no %s in %v", step, v)
		}
	}
	text, err := json.Marshal(v)
	ts.Check(err)
	if got := strings.Trim(string(text), `"`); (got == args[1]) == neg {
		ts.Fatalf("%s is %s, want %s", args[0], got, args[1])
	}
}

// scriptLonely fails if there is any other file beside those named: what must write nothing has written nothing.
func scriptLonely(ts *testscript.TestScript, _ bool, args []string) {
	var found []string
	ts.Check(filepath.WalkDir(ts.MkAbs("."), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(ts.MkAbs("."), path)
		found = append(found, filepath.ToSlash(rel))
		return err
	}))
	for _, f := range found {
		if !slices.Contains(args, f) {
			ts.Fatalf("there is a file %s", f)
		}
	}
}

// scriptOneSentence fails unless the last command said exactly one line on standard error, and on that line everything named.
func scriptOneSentence(ts *testscript.TestScript, _ bool, args []string) {
	said := ts.ReadFile("stderr")
	if strings.Count(said, "\n") != 1 || !strings.HasPrefix(said, "lanewright: ") || !strings.HasSuffix(said, "\n") {
		ts.Fatalf("that is not one sentence: %q", said)
	}
	for _, want := range args {
		if !strings.Contains(said, want) {
			ts.Fatalf("%q says nothing of %q", said, want)
		}
	}
	if len(said) > 400 || strings.Contains(said, "panic") || strings.Contains(said, "goroutine") {
		ts.Fatalf("that is no clear sentence: %q", said)
	}
}
