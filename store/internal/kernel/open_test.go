package kernel

import (
	"path/filepath"
	"testing"
)

// TestShrink: a shop that gave its memory back has no reader waiting, and reads and
// writes as before.
func TestShrink(t *testing.T) {
	db, err := Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	count := func() (int64, error) { return One(t.Context(), db.Read, FirstInt, "SELECT count(*) FROM boats") }
	for range 2 {
		if n, err := count(); err != nil || n != 0 {
			t.Fatalf("%d boats, %v", n, err)
		}
		if n := db.Read.Stats().Idle; n != 1 {
			t.Errorf("%d readers wait after a question, want 1", n)
		}
		if err := db.Shrink(t.Context()); err != nil {
			t.Fatal(err)
		}
		if n := db.Read.Stats().OpenConnections; n != 0 {
			t.Errorf("%d readers stay open", n)
		}
	}
	if _, err := db.Write.ExecContext(t.Context(), "DELETE FROM boats"); err != nil {
		t.Error(err)
	}
}
