package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/imports"
)

// patchwork opens a fleet of more boats than two batches hold, in which every
// boat has its own mixture of rows and some have none.
func patchwork(t *testing.T) *store.DB {
	t.Helper()
	db := open(t)
	if _, err := imports.Intake(t.Context(), db, noon, fleet(150), known(), imports.IntakeOptions{}); err != nil {
		t.Fatal(err)
	}
	var s []string
	for i := range 150 {
		boat := fmt.Sprintf("B%06d", i)
		if i%3 == 0 {
			s = append(s, "DELETE FROM records WHERE boat_id = '"+boat+"'")
		}
		if i%4 == 0 {
			s = append(s, "DELETE FROM readings WHERE boat_id = '"+boat+"'", "DELETE FROM components WHERE boat_id = '"+boat+"'")
		}
		if i%5 == 0 {
			s = append(s, "INSERT INTO overrides (boat_id, rule, skip) VALUES ('"+boat+"', 'impeller', 1)")
		}
		if i%7 == 0 {
			s = append(s, "INSERT INTO follow_ups (boat_id, id, service, title, due) VALUES ('"+boat+"', 'f', 'diagnostics', 'Look again', '2027-01-01')")
		}
		if i%2 == 0 {
			s = append(s, "INSERT INTO visits (boat_id, id, kind, day, week, items) VALUES ('"+boat+"', '"+boat+".lay-up.2027', 'lay-up', '2027-09-20', '2027-09-20', 'a/b')")
		}
		if i%6 == 0 {
			s = append(s, "INSERT INTO bookings (boat_id, visit_id, kind, day) VALUES ('"+boat+"', '"+boat+".lay-up.2027', 'lay-up', '2027-09-21')")
		}
	}
	raw(t, db, s...)
	return db
}

func TestMergedFleetIsTheFleetBoatByBoat(t *testing.T) {
	db := patchwork(t)
	n := 0
	err := db.EachFacts(t.Context(), nil, func(f *schedule.Facts) error {
		n++
		want, err := db.Facts(t.Context(), f.Boat.ID)
		if err != nil {
			return err
		}
		if diff := cmp.Diff(want, *f, cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("boat %s differs (-alone +merged):\n%s", f.Boat.ID, diff)
		}
		return nil
	})
	if err != nil || n != 150 {
		t.Errorf("%d boats, %v; want 150", n, err)
	}
}

// Wherever the caller stops, its error comes back and the file stays usable.
func TestMergedFleetStopsAnywhere(t *testing.T) {
	db := patchwork(t)
	stop := errors.New("stop")
	rapid.Check(t, func(t *rapid.T) {
		at, cancelled := rapid.IntRange(1, 149).Draw(t, "at"), rapid.Bool().Draw(t, "cancelled")
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		n := 0
		err := db.EachFacts(ctx, nil, func(*schedule.Facts) error {
			if n++; n < at {
				return nil
			}
			if cancelled {
				cancel()
				return ctx.Err()
			}
			return stop
		})
		want := stop
		if cancelled {
			want = context.Canceled
		}
		if !errors.Is(err, want) || n != at {
			t.Fatalf("stopped after %d with %v, want %d and %v", n, err, at, want)
		}
	})
	if _, err := db.Facts(t.Context(), "B000001"); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

// A fault in the file is an error and never a fleet with a boat missing.
func TestMergedFleetReportsABadCell(t *testing.T) {
	for _, c := range []struct{ name, statement string }{
		{"in a boat", "UPDATE boats SET sold_on = '2026-02-31' WHERE id = 'B000100'"},
		{"in a record", "UPDATE records SET day = '2026-02-31' WHERE boat_id = 'B000100'"},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := patchwork(t)
			raw(t, db, "DELETE FROM records WHERE boat_id = 'B000100' AND id <> (SELECT min(id) FROM records WHERE boat_id = 'B000100')", c.statement)
			err := db.EachFacts(t.Context(), nil, func(f *schedule.Facts) error {
				if f.Boat.ID >= "B000100" {
					t.Errorf("boat %s was handed out", f.Boat.ID)
				}
				return nil
			})
			if err == nil || !strings.Contains(err.Error(), "2026-02-31") {
				t.Errorf("error %v, want one that quotes the bad day", err)
			}
		})
	}
}

// The order of the merge is the order on the disk: a sort would hold the whole
// table in memory.
func TestMergeSortsNothing(t *testing.T) {
	db := open(t)
	q, err := sql.Open("sqlite", "file:"+db.Path()+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	for _, table := range []string{"components", "records", "readings", "follow_ups", "overrides", "bookings", "visits"} {
		rows, err := q.QueryContext(t.Context(), "EXPLAIN QUERY PLAN "+store.MergeQuery(table))
		if err != nil {
			t.Fatal(err)
		}
		steps := 0
		for rows.Next() {
			var id, parent, unused int
			var detail string
			if err := rows.Scan(&id, &parent, &unused, &detail); err != nil {
				t.Fatal(err)
			}
			steps++
			if detail != "SCAN "+table {
				t.Errorf("%s is read by %q", table, detail)
			}
		}
		if rows.Close(); steps == 0 {
			t.Errorf("%s: no plan", table)
		}
	}
}
