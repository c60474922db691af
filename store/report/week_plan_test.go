package report

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// TestTheWeekReadsNoWholeTable: no part of the week, of any kind and in any order, reads a
// table from its beginning to its end, in a file without statistics, as every shop's is.
// What SQLite says of how it reads stands in sqlite.org/eqp.html: SCAN is all of a table
// or of an index, SEARCH a part of it.
func TestTheWeekReadsNoWholeTable(t *testing.T) {
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	day := civil.Of(2026, 10, 7)
	whole := func(steps []string) bool {
		return slices.ContainsFunc(steps, func(step string) bool {
			of, scans := strings.CutPrefix(step, "SCAN ")
			of, _, _ = strings.Cut(of, " ")
			return scans && !strings.HasPrefix(of, "(") && !slices.Contains([]string{"json_each", "stages"}, of) && // few rows
				!slices.Contains(steps, "CO-ROUTINE "+of) && !slices.Contains(steps, "MATERIALIZE "+of) // what was read before
		})
	}
	for _, part := range WeekParts() {
		for _, kind := range []string{"", schedule.LayUp} {
			for _, sort := range []WeekSort{SortDanger, SortLate, SortPrice} {
				q := WeekQuery{Week: day.Week(), Today: day, Kind: kind, Sort: sort, Guarded: []string{"impeller"}}
				steps, err := kernel.Collect(t.Context(), db.Read, func(c *kernel.Row) string { return c.Text(3) },
					"EXPLAIN QUERY PLAN "+weekPart(part, kind, sort)+" ORDER BY 1, 2 LIMIT ?5", q.args("", 10)...)
				if err != nil {
					t.Fatal(err)
				}
				if len(steps) == 0 || whole(steps) {
					t.Errorf("%s of kind %q in order %q:\n%s", part, kind, sort, strings.Join(steps, "\n"))
				}
			}
		}
	}
}
