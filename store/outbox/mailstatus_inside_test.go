package outbox

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// TestOneCustomerIsAskedAlone: how one customer can be mailed, which each booking and each
// reply asks, is found without reading the others, in a file without statistics, as every
// shop's is. What SQLite says of how it reads: sqlite.org/eqp.html.
func TestOneCustomerIsAskedAlone(t *testing.T) {
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	steps := func(ids []string) []string {
		t.Helper()
		steps, err := kernel.Collect(t.Context(), db.Read, func(c *kernel.Row) string { return c.Text(3) }, "EXPLAIN QUERY PLAN "+mailStatusQuery(ids), kernel.IDList(ids))
		if err != nil {
			t.Fatal(err)
		}
		return steps
	}
	whole := func(step string) bool {
		return strings.HasPrefix(step, "SCAN ") && !strings.HasPrefix(step, "SCAN json_each")
	}
	if all := steps(nil); !slices.ContainsFunc(all, whole) {
		t.Errorf("all customers are read by\n%s", strings.Join(all, "\n"))
	}
	if few := steps([]string{"C1"}); slices.ContainsFunc(few, whole) || len(few) == 0 {
		t.Errorf("one customer is read by\n%s", strings.Join(few, "\n"))
	}
}
