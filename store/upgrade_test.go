package store_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// TestUpgradeFromEveryVersion brings a shop with some boats and visits up to date
// from every version that there has been: the tables are those of a fresh shop, and
// every boat and visit is there. TestMigrationKilledAtAnyMoment kills such upgrades.
func TestUpgradeFromEveryVersion(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	want := schemaOf(t, open(t).Path())
	migrations, err := os.ReadDir(filepath.Join("internal", "kernel", "migrations"))
	if err != nil || len(migrations) < 30 {
		t.Fatalf("%d migrations: %v", len(migrations), err)
	}
	for from := 2; from < len(migrations); from++ { // visits came with the second
		path := filepath.Join(t.TempDir(), "old.db")
		if err := storetest.MigrateTo(t.Context(), path, int64(from)); err != nil {
			t.Fatal(err)
		}
		rawAt(t, path,
			"INSERT INTO boats (id, kind, water, place, berth) VALUES ('B1', 'runabout', 'fresh', 'Pine Cove', 'own-dock'), ('B2', 'sail', 'salt', 'Pine Cove', 'shop-inside')",
			"INSERT INTO visits (boat_id, id, kind, day, deadline, labour, week) VALUES ('B1', 'V1', 'extra', '2026-10-01', '2026-10-10', 60, '2026-09-28')")
		db, err := store.Open(t.Context(), path)
		if err != nil {
			t.Fatalf("from version %d: %v", from, err)
		}
		if bad, err := db.Check(t.Context()); err != nil || len(bad) > 0 {
			t.Errorf("from version %d: %v, %v", from, bad, err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		if got := schemaOf(t, path); !cmp.Equal(want, got) {
			t.Errorf("from version %d: not the tables of a fresh shop:\n%s", from, cmp.Diff(want, got))
		}
		if n := countsOf(t, path); n[0] != 2 || n[1] != 1 || n[2] != 60 {
			t.Errorf("from version %d: %d boats, %d visits, %d minutes penciled; want 2, 1, 60", from, n[0], n[1], n[2])
		}
	}
}
