package store_test

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/store"
	"bellbuoy/store/archive"
)

func TestBackupIsAWholeShop(t *testing.T) {
	db := open(t)
	take(t, db, small())
	path := filepath.Join(t.TempDir(), "backup #1.db")
	for range 2 { // the second takes the place of the first
		if err := archive.Backup(t.Context(), db.Reader, path); err != nil {
			t.Fatal(err)
		}
	}
	info, err := os.Stat(path)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the backup has mode %v, %v; want 600", info.Mode(), err)
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(path), "*.part*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	copied, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer copied.Close()
	want, err := db.Facts(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	if got, err := copied.Facts(t.Context(), "B1"); err != nil || !cmp.Equal(want, got) {
		t.Errorf("the copy says otherwise, %v:\n%s", err, cmp.Diff(want, got))
	}
}

func TestBackupRefusesItsOwnFile(t *testing.T) {
	db := open(t)
	if err := archive.Backup(t.Context(), db.Reader, db.Path()); !errors.Is(err, store.ErrRefused) {
		t.Errorf("backing up onto itself: %v", err)
	}
	missing := filepath.Join(t.TempDir(), "no", "folder", "b.db")
	if err := archive.Backup(t.Context(), db.Reader, missing); err == nil {
		t.Error("a folder that is not there was no error")
	}
}

func TestCheckFindsWhatIsWrong(t *testing.T) {
	db := open(t)
	take(t, db, small())
	if bad, err := db.Check(t.Context()); err != nil || len(bad) > 0 {
		t.Fatalf("a sound file: %v, %v", bad, err)
	}
	raw(t, db, "INSERT INTO records (boat_id, day, id, component_id, service, done_by) VALUES ('B1', '2026-01-01', 'x', 'E2', 'impeller', 'shop')",
		"INSERT INTO overrides (boat_id, rule) VALUES ('B9', 'impeller')")
	bad, err := db.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	all := strings.Join(bad, "\n")
	for _, want := range []string{`record "x" of boat "B1"`, "a row of overrides refers to a row of boats"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q was not found in:\n%s", want, all)
		}
	}
}

func TestNewerFileIsRefused(t *testing.T) {
	db := open(t)
	v, err := db.SchemaVersion(t.Context())
	if err != nil || v == 0 {
		t.Fatalf("version %d, %v", v, err)
	}
	raw(t, db, "INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)")
	if again, err := store.Open(t.Context(), db.Path()); !errors.Is(err, store.ErrNewer) {
		again.Close()
		t.Errorf("opening a newer file: %v, want ErrNewer", err)
	} else if !strings.Contains(err.Error(), "version 9999") {
		t.Errorf("%q does not say which version", err)
	}
}

func TestFileOfAnotherProgramIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "other.db")
	q, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := q.ExecContext(t.Context(), "CREATE TABLE customers (id)"); err != nil {
		t.Fatal(err)
	}
	if err := q.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(t.Context(), path); err == nil || !strings.Contains(err.Error(), "another program") {
		t.Errorf("opening another program's file: %v", err)
	}
}

func TestSettingsAndTicks(t *testing.T) {
	db := open(t)
	if _, err := db.Setting(t.Context(), "key"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a setting never set: %v", err)
	}
	for _, v := range [][]byte{{0, 255, 10}, {}} {
		if err := db.SetSetting(t.Context(), "key", v); err != nil {
			t.Fatal(err)
		}
		if got, err := db.Setting(t.Context(), "key"); err != nil || string(got) != string(v) {
			t.Errorf("setting is %v, %v; want %v", got, err, v)
		}
	}
	for i, want := range []bool{true, false} {
		if got, err := db.OncePer(t.Context(), "plan", "2026-11-25", noon); err != nil || got != want {
			t.Errorf("tick %d: %v, %v; want %v", i, got, err, want)
		}
	}
	if err := db.ForgetTick(t.Context(), "plan", "2026-11-25"); err != nil {
		t.Fatal(err)
	}
	if got, err := db.OncePer(t.Context(), "plan", "2026-11-25", noon); err != nil || !got {
		t.Errorf("a forgotten tick: %v, %v; want true", got, err)
	}
}
