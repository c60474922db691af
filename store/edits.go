package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// What somebody changes on a form. The form counts once, as with
// [DB.RecordWork], and only while what they saw still stands: [ErrStale]
// otherwise, and nothing is written.

// ChangeCustomer changes a customer who was as they saw them.
func (db *DB) ChangeCustomer(ctx context.Context, now time.Time, actor, form string, was, c schedule.Customer) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := takeForm(ctx, tx, now, form); err != nil {
			return err
		}
		on, err := tables.Customer(ctx, tx, c.ID)
		if err == nil && on != was {
			err = ErrStale
		}
		if err != nil {
			return err
		}
		if c.Name == "" {
			return fmt.Errorf("a customer needs a name: %w", ErrRefused)
		}
		return saveCustomer(ctx, tx, now, actor, c)
	})
	return kernel.Wrap(err, "change customer %q", c.ID)
}

// OwnedBy returns which boats a customer has and had, in order of time.
func (db *Reader) OwnedBy(ctx context.Context, customerID string) ([]schedule.Ownership, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) schedule.Ownership {
		return schedule.Ownership{BoatID: c.Text(0), CustomerID: customerID, From: c.Day(1), To: c.Day(2)}
	}, "SELECT boat_id, from_day, to_day FROM ownerships WHERE customer_id = ? ORDER BY from_day, boat_id, seq", customerID)
	return all, kernel.Wrap(err, "boats that customer %q has and had", customerID)
}
