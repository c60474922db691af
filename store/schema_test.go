package store_test

import (
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule"
	"bellbuoy/store"
)

// frozen makes a database from one of testdata/schema: an older version's, with
// rows in it, as that version wrote it.
func frozen(t testing.TB, name string) (path string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", "schema", name))
	if err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(t.TempDir(), "old.db")
	q, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	if _, err := q.ExecContext(t.Context(), string(text)); err != nil {
		t.Fatal(err)
	}
	return path
}

// schemaOf is the text of every table, index and trigger.
func schemaOf(t testing.TB, path string) map[string]string {
	t.Helper()
	q, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	rows, err := q.QueryContext(t.Context(), "SELECT type || ' ' || name, coalesce(sql, '') FROM sqlite_schema")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	all := map[string]string{}
	for rows.Next() {
		var name, text string
		if err := rows.Scan(&name, &text); err != nil {
			t.Fatal(err)
		}
		all[name] = strings.Join(strings.Fields(text), " ")
	}
	if err := rows.Err(); err != nil || len(all) < 20 {
		t.Fatalf("%d parts of the schema: %v", len(all), err)
	}
	return all
}

// TestOldShopsAreBroughtUpToDate opens the databases of older versions: they end
// with the tables of a fresh one, and with every row they had.
func TestOldShopsAreBroughtUpToDate(t *testing.T) {
	fresh := open(t)
	want := schemaOf(t, fresh.Path())
	entries, err := os.ReadDir(filepath.Join("testdata", "schema"))
	if err != nil {
		t.Fatal(err)
	}
	tried := 0
	for _, e := range entries {
		if filepath.Ext(e.Name()) != ".sql" {
			continue
		}
		tried++
		t.Run(e.Name(), func(t *testing.T) {
			path := frozen(t, e.Name())
			before := rowsOf(t, path)
			db, err := store.Open(t.Context(), path)
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			if bad, err := db.Check(t.Context()); err != nil || len(bad) > 0 {
				t.Errorf("%v, %v", bad, err)
			}
			if got := schemaOf(t, path); !cmp.Equal(want, got) {
				t.Errorf("not the tables of a fresh shop:\n%s", cmp.Diff(want, got))
			}
			after := rowsOf(t, path)
			for table, n := range before {
				if table != "goose_db_version" && (n == 0 || after[table] < n) {
					t.Errorf("%s held %d rows, now %d; want some, and none lost", table, n, after[table])
				}
			}
			if f, err := db.Facts(t.Context(), "B1"); err != nil || len(f.Records) != 4 || len(f.Components) == 0 {
				t.Errorf("boat B1 has %d records: %v", len(f.Records), err)
			}
		})
	}
	if tried == 0 {
		t.Fatal("no older version's database in testdata/schema")
	}
}

// TestOldRequestsForACall: what a call of before had settled is not to do again
// after the upgrade; what only reached a machine, or nobody, is.
func TestOldRequestsForACall(t *testing.T) {
	path := frozen(t, "0007.sql")
	q, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{
		"INSERT INTO answers (customer_id, kind, at, note) VALUES ('C2', 'call', 1795000000, 'settled'), ('C3', 'call', 1795000100, 'called too early')",
		"INSERT INTO calls (at, actor, customer_id, outcome) VALUES (1795000050, 'desk', 'C2', 'thinks'), (1795000050, 'desk', 'C3', 'thinks'), (1795000200, 'desk', 'C3', 'message')",
	} {
		if _, err := q.ExecContext(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	if err := q.Close(); err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	open, err := db.OpenAnswers(t.Context(), schedule.AnswerCall, 10)
	if err != nil || len(open) != 2 || open[0].Note != "after six" || open[1].Note != "called too early" {
		t.Errorf("open are %+v, %v", open, err)
	}
	if n, err := db.CountOpenAnswers(t.Context()); err != nil || n != 2 {
		t.Errorf("counted %d, %v", n, err)
	}
}

// rowsOf counts the rows of the tables that hold any.
func rowsOf(t testing.TB, path string) map[string]int {
	t.Helper()
	q, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	counts := map[string]int{}
	for name := range schemaOf(t, path) {
		table, ok := strings.CutPrefix(name, "table ")
		if !ok || strings.HasPrefix(table, "sqlite_") {
			continue
		}
		var n int
		if err := q.QueryRowContext(t.Context(), `SELECT count(*) FROM "`+table+`"`).Scan(&n); err != nil {
			t.Fatal(err)
		}
		if n > 0 {
			counts[table] = n
		}
	}
	if len(counts) < 10 {
		t.Fatalf("only %d tables hold rows", len(counts))
	}
	return counts
}
