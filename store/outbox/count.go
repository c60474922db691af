package outbox

import (
	"context"
	"time"

	"bellbuoy/schedule/civil"
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

// Reminded is a customer who was reminded by email, and on how many days.
type Reminded struct {
	CustomerID, Name string
	Days             int
}

// RemindersOf counts the days of a span on which each customer was reminded, of
// customers who were; those with the most come first.
func RemindersOf(ctx context.Context, db *store.Reader, from, to civil.Day) ([]Reminded, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) Reminded { return Reminded{c.Text(0), c.Text(1), int(c.Int(2))} }, `
		SELECT h.customer_id, coalesce((SELECT name FROM customers WHERE id = h.customer_id), ''), count(DISTINCT on_day) FROM heard h
		WHERE on_day BETWEEN ? AND ? AND letter_id IS NOT NULL AND step IN ('first-reminder', 'second-reminder', 'final-reminder', 'overdue-notice', 'warranty', 'hours', 'renewal')
		GROUP BY 1 ORDER BY 3 DESC, 1`, from.String(), to.String())
	return all, kernel.Wrap(err, "count the reminders of %s to %s", from, to)
}

// LastSent is when the last message was sent, the zero time if none was.
func LastSent(ctx context.Context, db *store.Reader) (time.Time, error) {
	at, err := kernel.One(ctx, db.Read, func(c *kernel.Row) time.Time { return c.Instant(0) },
		"SELECT done_at FROM outbox WHERE state = 'sent' AND done_at IS NOT NULL ORDER BY id DESC LIMIT 1")
	_, err = kernel.Found(err)
	return at, kernel.Wrap(err, "find the last message that was sent")
}
