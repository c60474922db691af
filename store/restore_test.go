package store_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/archive"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// backedUp is a shop, closed again, that changed after its backup was made.
func backedUp(t *testing.T) (path, backup string) {
	t.Helper()
	db := lived(t)
	backup = filepath.Join(t.TempDir(), "copy.db")
	if err := archive.Backup(t.Context(), db.Reader, backup); err != nil {
		t.Fatal(err)
	}
	if err := storetest.SaveCustomer(t.Context(), db, noon, "desk", schedule.Customer{ID: "C9", Name: "Later Than The Backup"}); err != nil {
		t.Fatal(err)
	}
	return db.Path(), backup
}

// has reports whether a database knows a customer.
func has(t *testing.T, path, customer string) bool {
	t.Helper()
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	_, err = db.Customer(t.Context(), customer)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		t.Fatal(err)
	}
	return err == nil
}

// movedShop is the same with its file closed, at a place of its own.
func movedShop(t *testing.T) (path, backup string) {
	t.Helper()
	from, backup := backedUp(t)
	path = filepath.Join(t.TempDir(), "shop.db")
	if _, err := archive.Restore(t.Context(), noon, "test", from, path); err != nil {
		t.Fatal(err)
	}
	return path, backup
}

func TestRestorePutsABackupInPlace(t *testing.T) {
	path, backup := movedShop(t)
	before, err := os.ReadFile(backup)
	if err != nil {
		t.Fatal(err)
	}
	r, err := archive.Restore(t.Context(), noon, "owner", backup, path)
	if err != nil {
		t.Fatal(err)
	}
	if has(t, path, "C9") || !has(t, path, "C1") {
		t.Error("the shop is not the backup's")
	}
	if !strings.HasSuffix(r.Aside, "shop.db.before-20261125T120000Z") || !has(t, r.Aside, "C9") {
		t.Errorf("the replaced file was not kept: %q", r.Aside)
	}
	if after, err := os.ReadFile(backup); err != nil || string(after) != string(before) {
		t.Errorf("the backup was written to: %v", err)
	}
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if st, err := outbox.Sending(t.Context(), db.Reader); err != nil || st.HeldWhy == "" || st.Open() {
		t.Errorf("sending %+v, %v; want it held", st, err)
	}
	if n, err := outbox.MessageCounts(t.Context(), db.Reader); err != nil || n[schedule.MessageUncertain] != 1 || len(n) != 1 {
		t.Errorf("letters %v, %v; want the waiting one uncertain", n, err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	if left, _ := filepath.Glob(path + ".restoring*"); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestRestoreLeavesNothingBesideTheBackup restores from a database in the mode
// of a shop's, as a replicator writes it.
func TestRestoreLeavesNothingBesideTheBackup(t *testing.T) {
	path, _ := movedShop(t)
	for range 2 {
		if _, err := archive.Restore(t.Context(), noon, "owner", path, filepath.Join(t.TempDir(), "shop.db")); err != nil {
			t.Fatal(err)
		}
	}
	if left, _ := filepath.Glob(path + "-*"); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestRestoreToAnEmptyPlace(t *testing.T) {
	_, backup := backedUp(t)
	path := filepath.Join(t.TempDir(), "shop.db")
	if r, err := archive.Restore(t.Context(), noon, "owner", backup, path); err != nil || r.Aside != "" {
		t.Fatalf("%+v, %v", r, err)
	}
	if !has(t, path, "C1") {
		t.Error("the shop is not the backup's")
	}
}

func TestRestoreOverADamagedShop(t *testing.T) {
	_, backup := backedUp(t)
	path := filepath.Join(t.TempDir(), "shop.db")
	junk := strings.Repeat("not a database at all ", 500)
	for _, name := range []string{path, path + "-wal"} {
		if err := os.WriteFile(name, []byte(junk), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	r, err := archive.Restore(t.Context(), noon, "owner", backup, path)
	if err != nil {
		t.Fatal(err)
	}
	if !has(t, path, "C1") {
		t.Error("the shop is not the backup's")
	}
	if kept, err := os.ReadFile(r.Aside); err != nil || string(kept) != junk {
		t.Errorf("the damaged file was not kept as it was: %v", err)
	}
}

func TestRestoreRefuses(t *testing.T) {
	path, backup := movedShop(t)
	other := filepath.Join(t.TempDir(), "letter.db")
	if err := os.WriteFile(other, []byte(strings.Repeat("a letter to an aunt ", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	newer := filepath.Join(t.TempDir(), "newer.db")
	if _, err := archive.Restore(t.Context(), noon, "test", backup, newer); err != nil {
		t.Fatal(err)
	}
	rawAt(t, newer, "INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)")
	empty := filepath.Join(t.TempDir(), "empty.db")
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	cut := filepath.Join(t.TempDir(), "cut.db")
	if b, err := os.ReadFile(backup); err != nil || os.WriteFile(cut, b[:len(b)/2], 0o600) != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, from string
		is         error
	}{
		{"the shop's own file", path, store.ErrRefused},
		{"a file that is not there", filepath.Join(t.TempDir(), "none.db"), os.ErrNotExist},
		{"a file that is no database", other, nil},
		{"half a backup", cut, nil},
		{"a backup that was never written", empty, store.ErrRefused},
		{"a newer program's", newer, store.ErrNewer},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := archive.Restore(t.Context(), noon, "owner", c.from, path)
			if err == nil || c.is != nil && !errors.Is(err, c.is) {
				t.Errorf("%+v, %v; want %v", r, err, c.is)
			}
			if !has(t, path, "C9") {
				t.Error("the shop has changed")
			}
			if left, _ := filepath.Glob(path + ".*"); len(left) != 1 { // the lock
				t.Errorf("left behind: %v", left)
			}
		})
	}
}

func TestRestoreRefusesWhileTheShopIsOpen(t *testing.T) {
	path, backup := movedShop(t)
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := archive.Restore(t.Context(), noon, "owner", backup, path); !errors.Is(err, store.ErrInUse) {
		t.Errorf("%v, want ErrInUse", err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := archive.Restore(t.Context(), noon, "owner", backup, path); err != nil {
		t.Errorf("after it was closed: %v", err)
	}
}

func TestRestoreEndsWithItsContext(t *testing.T) {
	path, backup := movedShop(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := archive.Restore(ctx, noon, "owner", backup, path); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want that it was called off", err)
	}
	if !has(t, path, "C9") {
		t.Error("the shop has changed")
	}
}
