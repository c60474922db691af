package outbox

import (
	"context"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// RemindersQueuedSince counts the reminders queued from a moment to now, but
// for those that were withdrawn or expired: the daily cap is on what customers
// may be told, and of those they were told nothing.
func RemindersQueuedSince(ctx context.Context, db *store.Reader, since, now time.Time) (int, error) {
	n, err := kernel.One(ctx, db.Read, kernel.FirstInt, `SELECT count(*) FROM outbox
		WHERE queued_at BETWEEN ? AND ? AND state NOT IN ('withdrawn', 'expired') AND step NOT IN ('confirmation', 'booked', 'cancellation', 'welcome', 'summary', 'owner-letter', 'freeze', 'freeze-alarm')`, since.Unix(), now.Unix())
	return int(n), kernel.Wrap(err, "count today's reminders")
}
