// Package emptyshop makes the file of a shop with nothing in it, for tests.
package emptyshop

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"bellbuoy/store"
)

// Put writes the file. It is made once: every migration of it is work, of a
// second under the race detector.
func Put(t testing.TB, path string) {
	t.Helper()
	empty, err := file()
	if err == nil {
		err = os.WriteFile(path, empty, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

var file = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "bellbuoy-test-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "bellbuoy.db")
	db, err := store.Open(context.Background(), path)
	if err != nil {
		return nil, err
	}
	if err := db.Close(); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})
