package store

import (
	"context"
	"time"
)

// RemindersQueuedSince counts the reminders queued since a moment, but
// for those that were withdrawn or expired: the daily cap is on what customers
// may be told, and of those they were told nothing.
func (db *DB) RemindersQueuedSince(ctx context.Context, since time.Time) (int, error) {
	n, err := one(ctx, db.read, func(c *cells) int64 { return c.int(0) }, `SELECT count(*) FROM outbox
		WHERE queued_at >= ? AND state NOT IN ('withdrawn', 'expired') AND step NOT IN ('confirmation', 'booked', 'cancellation', 'welcome', 'summary', 'owner-letter')`, since.Unix())
	return int(n), wrap(err, "count today's reminders")
}
