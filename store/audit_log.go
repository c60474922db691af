package store

import (
	"context"
	"time"
)

// Change is one line of the audit log. Before and After are JSON, "" where
// there was nothing.
type Change struct {
	ID            int64
	At            time.Time
	Actor, What   string
	BoatID        string
	CustomerID    string
	Before, After string
}

// Changes returns the newest changes of a boat, newest first, those before the
// id of the last one seen; 0 begins with the newest.
func (db *DB) Changes(ctx context.Context, boatID string, before int64, limit int) ([]Change, error) {
	all, err := collect(ctx, db.read, func(c *cells) Change {
		return Change{
			ID: c.int(0), At: c.instant(1), Actor: c.text(2), What: c.text(3), BoatID: c.text(4), CustomerID: c.text(5),
			Before: c.text(6), After: c.text(7),
		}
	}, `SELECT id, at, actor, what, boat_id, customer_id, before, after FROM audit
		WHERE boat_id = ?1 AND boat_id <> '' AND (?2 = 0 OR id < ?2) ORDER BY id DESC LIMIT ?3`, boatID, before, limitOr(limit))
	return all, wrap(err, "changes of boat %q", boatID)
}
