package report

import (
	"context"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
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
func Changes(ctx context.Context, db *store.Reader, boatID string, before int64, limit int) ([]Change, error) {
	all, err := changes(ctx, db, "boat_id", boatID, before, limit)
	return all, kernel.Wrap(err, "changes of boat %q", boatID)
}

// CustomerChanges returns the newest changes of a customer, as [Changes] does.
func CustomerChanges(ctx context.Context, db *store.Reader, customerID string, before int64, limit int) ([]Change, error) {
	all, err := changes(ctx, db, "customer_id", customerID, before, limit)
	return all, kernel.Wrap(err, "changes of customer %q", customerID)
}

func changes(ctx context.Context, db *store.Reader, column, id string, before int64, limit int) ([]Change, error) {
	return kernel.Collect(ctx, db.Read, readChange, "SELECT "+changeColumns+` FROM audit
		WHERE `+column+" = ?1 AND "+column+" <> '' AND (?2 = 0 OR id < ?2) ORDER BY id DESC LIMIT ?3", id, before, kernel.LimitOr(limit))
}

const changeColumns = "id, at, actor, what, boat_id, customer_id, before, after"

func readChange(c *kernel.Row) Change {
	return Change{
		ID: c.Int(0), At: c.Instant(1), Actor: c.Text(2), What: c.Text(3), BoatID: c.Text(4), CustomerID: c.Text(5),
		Before: c.Text(6), After: c.Text(7),
	}
}
