package store

import (
	"context"
	"database/sql"
	"fmt"

	"bellbuoy/store/internal/kernel"
)

// Check looks the file through and says in words what is wrong with it: pages
// and indexes that are damaged, rows that refer to nothing. Nothing wrong gives
// an empty list. It takes seconds on a large file.
func (db *Reader) Check(ctx context.Context) ([]string, error) {
	var bad []string
	err := db.Snapshot(ctx, func(tx *sql.Tx) (err error) {
		if bad, err = kernel.Damage(ctx, tx); err != nil {
			return err
		}
		lost, err := orphans(ctx, tx)
		bad = append(bad, lost...)
		return err
	})
	return bad, kernel.Wrap(err, "check %q", db.Path())
}

// orphans looks for what foreign keys cannot express.
func orphans(ctx context.Context, q kernel.Querier) ([]string, error) {
	const noPart = ` WHERE t.component_id NOT IN ('', t.boat_id)
		AND NOT EXISTS (SELECT 1 FROM components c WHERE c.boat_id = t.boat_id AND c.id = t.component_id)`
	var bad []string
	for _, k := range []struct{ what, query string }{
		{"record %q of boat %q names a component that is not the boat's", "SELECT t.id, t.boat_id FROM records t" + noPart},
		{"follow-up %q of boat %q names a component that is not the boat's", "SELECT t.id, t.boat_id FROM follow_ups t" + noPart},
		{"override of rule %q on boat %q names a component that is not the boat's", "SELECT t.rule, t.boat_id FROM overrides t" + noPart},
		{"due item %q of boat %q names a visit that is not planned", `SELECT t.key, t.boat_id FROM due_items t
			WHERE t.visit_id <> '' AND NOT EXISTS (SELECT 1 FROM visits v WHERE v.boat_id = t.boat_id AND v.id = t.visit_id)`},
		{"email %q is for customer %q, who is not there", `SELECT t.key, t.customer_id FROM outbox t
			WHERE t.customer_id <> '' AND NOT EXISTS (SELECT 1 FROM customers c WHERE c.id = t.customer_id)`},
		{"email %q is sent, and no final dot of it was recorded (to %q)",
			"SELECT t.key, t.to_address FROM outbox t WHERE t.state = 'sent' AND t.dot_at IS NULL"},
		{"email %q names visit %q, and it is not recorded that its customer was reminded", `SELECT t.key, s.value FROM outbox t,
				json_each('["' || replace(t.subjects, char(10), '","') || '"]') s
			WHERE t.customer_id <> '' AND t.to_address <> '' AND t.subjects <> '' AND t.state NOT IN ('withdrawn', 'expired')
			AND t.step IN ('first-reminder', 'second-reminder', 'final-reminder', 'overdue-notice')
			AND NOT EXISTS (SELECT 1 FROM heard h WHERE h.customer_id = t.customer_id AND h.subject = s.value)`},
		{"week %q is kept with %q minutes of work that its visits do not add up to", weekLoadFaults},
	} {
		found, err := kernel.Collect(ctx, q, func(c *kernel.Row) string { return fmt.Sprintf(k.what, c.Text(0), c.Text(1)) }, k.query)
		if err != nil {
			return nil, err
		}
		bad = append(bad, found...)
	}
	return bad, nil
}

// weekLoadFaults are the weeks whose kept load is not the sum of their visits.
const weekLoadFaults = `SELECT week, CAST(sum(kept) AS TEXT) FROM (
	SELECT week, booked + pencilled AS kept, booked + pencilled AS labour, yard_booked + yard_pencilled AS yard, lifts_booked + lifts_pencilled AS lifts FROM week_load
	UNION ALL
	SELECT date(k.day, 'weekday 0', '-6 days'), 0, -v.labour, -v.yard, -v.lifts FROM visits v JOIN bookings k ON k.visit_id = v.id
	UNION ALL
	SELECT v.week, 0, -v.labour, -v.yard, -v.lifts FROM visits v WHERE v.week IS NOT NULL AND NOT EXISTS (SELECT 1 FROM bookings k WHERE k.visit_id = v.id)
) GROUP BY week HAVING sum(labour) <> 0 OR sum(yard) <> 0 OR sum(lifts) <> 0`
