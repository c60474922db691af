package outbox

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// putNotified writes down that a customer heard something, by which letter (0 if by
// none), and on the visit which week was named. What was also told without a
// letter hangs on none.
func putNotified(ctx context.Context, q kernel.Querier, h schedule.Notified, letter int64) error {
	_, err := q.ExecContext(ctx, `INSERT INTO heard (customer_id, subject, step, on_day, week, letter_id) VALUES (?, ?, ?, ?, ?, nullif(?, 0))
		ON CONFLICT DO UPDATE SET week = excluded.week, letter_id = iif(excluded.letter_id IS NULL OR heard.letter_id IS NULL, NULL, excluded.letter_id)`,
		h.CustomerID, h.Subject, string(h.Step), h.On.String(), kernel.WeekArg(h.Week), letter)
	if err != nil || h.Week == 0 {
		return err
	}
	_, err = q.ExecContext(ctx, "UPDATE visits SET told_week = ? WHERE id = ?", kernel.WeekArg(h.Week), h.Subject)
	return err
}

// RecordNotified writes down what customers were told without a letter, for
// example on the telephone.
func RecordNotified(ctx context.Context, db *store.DB, now time.Time, actor string, heard []schedule.Notified) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		for _, h := range heard {
			if err := putNotified(ctx, tx, h, 0); err != nil {
				return err
			}
			if err := kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "reminded", CustomerID: h.CustomerID, After: h}); err != nil {
				return err
			}
		}
		return nil
	})
	return kernel.Wrap(err, "write down what was told")
}

// Notified returns what these customers have heard, in order of day; ids nil means
// all customers.
func Notified(ctx context.Context, db *store.Reader, customerIDs []string) (map[string][]schedule.Notified, error) {
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) schedule.Notified {
		return schedule.Notified{CustomerID: c.Text(0), Subject: c.Text(1), Step: schedule.Step(c.Text(2)), On: c.Day(3), Week: c.Week(4), InDoubt: c.Bool(5)}
	}, `SELECT customer_id, subject, step, on_day, week, letter_id IS NOT NULL AND (
			coalesce((SELECT o.state FROM outbox o WHERE o.id = letter_id), '') <> 'sent'
			OR EXISTS (SELECT 1 FROM returned r WHERE r.letter_id = heard.letter_id AND r.kind NOT IN ('delivered', 'delayed', 'auto-reply', 'complaint')))
		FROM heard WHERE `+kernel.AmongCustomers(customerIDs)+" ORDER BY customer_id, on_day, subject, step", kernel.IDList(customerIDs))
	if err != nil {
		return nil, fmt.Errorf("read what was heard: %w", err)
	}
	by := map[string][]schedule.Notified{}
	for _, h := range all {
		by[h.CustomerID] = append(by[h.CustomerID], h)
	}
	return by, nil
}

// MailStatus is what the store knows about mailing one customer.
type MailStatus struct {
	NoReminders bool      // asked for no mail except about booked visits
	NoMail      bool      // asked for no mail at all
	Suppressed  string    // why the present address is dead, "" if it is not
	LastMail    time.Time // when the newest letter that was not dropped was queued, zero if never
	LastSign    civil.Day // the newest reading, or work of the shop, on one of their boats, none if never
}

// MailStatuses returns how these customers can be mailed; ids nil means all. A
// customer about whom nothing is known is not in the map.
func MailStatuses(ctx context.Context, db *store.Reader, customerIDs []string) (map[string]MailStatus, error) {
	type row struct {
		id string
		MailStatus
	}
	all, err := kernel.Collect(ctx, db.Read, func(c *kernel.Row) row {
		return row{c.Text(0), MailStatus{c.Bool(1), c.Bool(2), c.Text(3), c.Instant(4), c.Day(6)}}
	}, mailStatusQuery(customerIDs), kernel.IDList(customerIDs))
	if err != nil {
		return nil, fmt.Errorf("read who can be mailed: %w", err)
	}
	by := make(map[string]MailStatus, len(all))
	for _, r := range all {
		by[r.id] = r.MailStatus
	}
	return by, nil
}

// mailStatusQuery is how [MailStatuses] asks: of a few customers it reads only these.
func mailStatusQuery(customerIDs []string) string {
	return `SELECT * FROM (
		SELECT c.id AS customer_id, coalesce(o.no_reminders, 0), coalesce(o.no_mail, 0), coalesce(s.reason, ''),
			(SELECT max(l.queued_at) FROM outbox l WHERE l.customer_id = c.id AND l.state NOT IN ('refused', 'expired', 'withdrawn')) AS newest,
			o.customer_id IS NOT NULL OR s.address IS NOT NULL AS known,
			(SELECT max(max(coalesce((SELECT max(r.day) FROM records r WHERE r.boat_id = w.boat_id AND r.done_by = 'shop' AND r.day >= w.from_day), ''),
					coalesce((SELECT max(m.day) FROM readings m WHERE m.boat_id = w.boat_id AND m.day >= w.from_day), '')))
				FROM ownerships w WHERE w.customer_id = c.id AND w.to_day IS NULL) AS sign
		FROM customers c LEFT JOIN opt_outs o ON o.customer_id = c.id LEFT JOIN suppressions s ON s.address = lower(c.email))
	WHERE ` + kernel.AmongCustomers(customerIDs) + " AND (known OR newest IS NOT NULL OR sign <> '')"
}
