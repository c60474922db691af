package store_test

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule/testkit"
	"bellbuoy/store"
	"bellbuoy/store/imports"
	"bellbuoy/store/storetest"
)

// kills is how often each kind of work is killed: often where everything is
// tried, less in a quick run and under the race detector, which a kill tells
// nothing.
func kills() int {
	if testkit.Everything() && storetest.Slowdown == 1 {
		return 20
	}
	return 4
}

// killing is one kind of work on a shop's file, done by a child.
type killing struct {
	what string
	// prepare puts the shop, and what else the work needs, into a folder that
	// is new each time, and returns the child's arguments; the first is the
	// shop's file.
	prepare func(t *testing.T, dir string) []string
}

// TestKilledAtAnyMoment kills work on a shop with no warning, at moments spread
// over all the time that it takes. The shop is then what it was before or what
// it is after the whole work, to the last row, and never anything between.
func TestKilledAtAnyMoment(t *testing.T) {
	if testing.Short() {
		t.Skip("kills many children")
	}
	shop := shopOf(t, 400/storetest.Slowdown)
	backup := filepath.Join(t.TempDir(), "backup.db")
	copyFile(t, shopOf(t, 900/storetest.Slowdown), backup)
	export := exportOf(t, backup)
	for _, k := range []killing{
		{"intake", func(t *testing.T, dir string) []string {
			return []string{placed(t, shop, dir), strconv.Itoa(700 / storetest.Slowdown)}
		}},
		{"backup", func(t *testing.T, dir string) []string {
			return []string{placed(t, shop, dir), filepath.Join(dir, "copy.db")}
		}},
		{"restore", func(t *testing.T, dir string) []string { return []string{placed(t, shop, dir), backup} }},
		{"import", func(t *testing.T, dir string) []string { return []string{placed(t, shop, dir), export} }},
	} {
		t.Run(k.what, func(t *testing.T) { killed(t, k) })
	}
}

// killed does the work once to its end and then often to some moment before.
func killed(t *testing.T, k killing) {
	rng := rand.New(rand.NewPCG(9, uint64(len(k.what))))
	args := k.prepare(t, t.TempDir())
	before := rowsDigest(t, args[0])
	whole := startChild(t, nil, k.what, args...)
	code, took := whole.wait()
	if code != 0 {
		t.Fatalf("exit code %d\n%s", code, whole.stderr.String())
	}
	after := rowsDigest(t, args[0])
	if k.what == "backup" {
		if got := rowsDigest(t, args[1]); got != before {
			t.Error("the copy is not the shop")
		}
	}
	n, died, changed := kills(), 0, 0
	for i := range n {
		args := k.prepare(t, t.TempDir())
		c := startChild(t, nil, k.what, args...)
		wait := took * time.Duration(i) / time.Duration(n)
		time.AfterFunc(wait+time.Duration(rng.Int64N(int64(took)/int64(n))), func() { _ = c.cmd.Process.Kill() })
		if code, _ := c.wait(); code < 0 {
			died++
		}
		switch rowsDigest(t, args[0]) {
		case before:
		case after:
			changed++
		default:
			t.Errorf("kill %d: the shop is neither as before nor as after", i)
		}
		checkCopy(t, k, args, before)
	}
	t.Logf("%s: %d of %d died before the end of %v; %d shops were as after", k.what, died, n, took, changed)
	if died < n/4 {
		t.Errorf("only %d of %d died: the work is too short to be killed", died, n)
	}
}

// checkCopy asks that a backup's name is only ever given to a good one.
func checkCopy(t *testing.T, k killing, args []string, shop string) {
	t.Helper()
	if k.what != "backup" {
		return
	}
	if _, err := os.Stat(args[1]); errors.Is(err, os.ErrNotExist) {
		return
	}
	if rowsDigest(t, args[1]) != shop {
		t.Error("a copy that has its name is not the shop")
	}
}

// TestMigrationKilledAtAnyMoment does the same to the first opening of an older
// version's shop. Each step is whole or not there, the next opening goes on from
// it, and the end is the same as without a kill.
func TestMigrationKilledAtAnyMoment(t *testing.T) {
	if testing.Short() {
		t.Skip("kills many children")
	}
	rng := rand.New(rand.NewPCG(9, 9))
	old := oldShop(t, 20_000/storetest.Slowdown)
	place := func() string {
		path := filepath.Join(t.TempDir(), "shop.db")
		copyFile(t, old, path)
		return path
	}
	path := place()
	whole := startChild(t, nil, "open", path)
	code, took := whole.wait()
	if code != 0 {
		t.Fatalf("exit code %d\n%s", code, whole.stderr.String())
	}
	tables, rows := schemaOf(t, path), countsOf(t, path)
	n, died, steps := kills(), 0, map[int]int{}
	for i := range n {
		path := place()
		c := startChild(t, nil, "open", path)
		wait := took * time.Duration(i) / time.Duration(n)
		time.AfterFunc(wait+time.Duration(rng.Int64N(int64(took)/int64(n))), func() { _ = c.cmd.Process.Kill() })
		if code, _ := c.wait(); code < 0 {
			died++
		}
		steps[versionOf(t, path)]++
		db, err := store.Open(t.Context(), path)
		if err != nil {
			t.Fatalf("kill %d: %v", i, err)
		}
		if bad, err := db.Check(t.Context()); err != nil || len(bad) > 0 {
			t.Errorf("kill %d: %v, %v", i, bad, err)
		}
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		if got := schemaOf(t, path); fmt.Sprint(got) != fmt.Sprint(tables) {
			t.Errorf("kill %d: the tables differ", i)
		}
		if got := countsOf(t, path); fmt.Sprint(got) != fmt.Sprint(rows) {
			t.Errorf("kill %d: rows %v, want %v", i, got, rows)
		}
	}
	t.Logf("%d of %d died before the end of %v; versions then %v", died, n, took, steps)
	if died < n/4 {
		t.Errorf("only %d of %d died: the work is too short to be killed", died, n)
	}
}

// oldShop is a shop of version 3 with so many boats, each with a pencilled visit.
func oldShop(t *testing.T, boats int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "old.db")
	if err := storetest.MigrateTo(t.Context(), path, 3); err != nil {
		t.Fatal(err)
	}
	numbers := fmt.Sprintf("WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < %d) ", boats)
	rawAt(t, path,
		numbers+"INSERT INTO boats (id, kind, water, place, berth) SELECT 'B' || i, 'runabout', 'fresh', 'Pine Cove', 'own-dock' FROM n",
		numbers+"INSERT INTO visits (boat_id, id, kind, day, deadline, labour, week) SELECT 'B' || i, 'V' || i, 'extra', '2026-10-01', '2026-10-' || (10 + i % 20), 60 + i % 7, date('2026-01-05', ((i % 80) * 7) || ' days') FROM n")
	return path
}

// shopOf is a closed shop of so many boats.
func shopOf(t *testing.T, boats int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := imports.Intake(t.Context(), db, noon, fleet(boats), known(), imports.IntakeOptions{Actor: "test"}); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func exportOf(t *testing.T, path string) string {
	t.Helper()
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	return exported(t, db)
}

// placed copies a closed shop into a folder.
func placed(t *testing.T, shop, dir string) string {
	t.Helper()
	path := filepath.Join(dir, "shop.db")
	copyFile(t, shop, path)
	return path
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	b, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

// rowsDigest looks a shop through, as the next start of the program finds it,
// and returns a digest of every row but the moments of the migrations.
func rowsDigest(t *testing.T, path string) string {
	t.Helper()
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	bad, err := db.Check(t.Context())
	if err := errors.Join(err, db.Close()); err != nil || len(bad) > 0 {
		t.Fatalf("%s: %v, %v", path, bad, err)
	}
	q, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	sum := sha256.New()
	for _, table := range countedTables(t, path) {
		fmt.Fprintln(sum, table)
		rows, err := q.QueryContext(t.Context(), `SELECT * FROM "`+table+`"`)
		if err != nil {
			t.Fatal(err)
		}
		names, err := rows.Columns()
		if err != nil {
			t.Fatal(err)
		}
		cells := make([]any, len(names))
		at := make([]any, len(names))
		for i := range cells {
			at[i] = &cells[i]
		}
		for rows.Next() {
			if err := rows.Scan(at...); err != nil {
				t.Fatal(err)
			}
			fmt.Fprintln(sum, cells...)
		}
		if err := errors.Join(rows.Err(), rows.Close()); err != nil {
			t.Fatal(err)
		}
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// countedTables are the tables of a shop, in order, but for the migrations' own.
func countedTables(t *testing.T, path string) []string {
	t.Helper()
	var tables []string
	for name := range schemaOf(t, path) {
		if table, ok := strings.CutPrefix(name, "table "); ok && table != "goose_db_version" && !strings.HasPrefix(table, "sqlite_") {
			tables = append(tables, table)
		}
	}
	slices.Sort(tables)
	return tables
}

func versionOf(t *testing.T, path string) (v int) {
	t.Helper()
	q, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	if err := q.QueryRowContext(t.Context(), "SELECT max(version_id) FROM goose_db_version").Scan(&v); err != nil {
		t.Fatal(err)
	}
	return v
}

// countsOf counts what the steps must not lose.
func countsOf(t *testing.T, path string) (counts [4]int) {
	t.Helper()
	q, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	err = q.QueryRowContext(t.Context(), `SELECT (SELECT count(*) FROM boats), (SELECT count(*) FROM visits),
		(SELECT sum(pencilled) FROM week_load), (SELECT count(*) FROM goose_db_version)`).Scan(&counts[0], &counts[1], &counts[2], &counts[3])
	if err != nil {
		t.Fatal(err)
	}
	return counts
}
