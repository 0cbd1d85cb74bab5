package store

import (
	"reflect"
	"testing"
	"unsafe"

	bolt "go.etcd.io/bbolt"
)

// hookWrites puts fn between the library and its file: fn gets each write, with
// write doing it. bbolt has a hook of its own for this, db.ops.writeAt, which
// it does not export; if a later version moves it, this fails the test.
func hookWrites(t testing.TB, db *bolt.DB, fn func(b []byte, off int64, write func([]byte, int64) (int, error)) (int, error)) {
	t.Helper()
	ops := reflect.ValueOf(db).Elem().FieldByName("ops")
	if !ops.IsValid() || !ops.FieldByName("writeAt").IsValid() {
		t.Fatal("this bbolt has no ops.writeAt; hook its writes in another way")
	}
	field := ops.FieldByName("writeAt")
	if field.Type() != reflect.TypeFor[func([]byte, int64) (int, error)]() {
		t.Fatalf("ops.writeAt is a %v", field.Type())
	}
	p := (*func([]byte, int64) (int, error))(unsafe.Pointer(field.UnsafeAddr()))
	write := *p
	*p = func(b []byte, off int64) (int, error) { return fn(b, off, write) }
}

// isMeta tells a write of a meta page: the library writes one as the last thing
// of each commit, between two syncs.
func isMeta(b []byte, off int64) bool {
	return off < 2*int64(len(b)) && header(b).flags == flagMeta
}
