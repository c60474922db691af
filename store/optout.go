package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/internal/tables"
)

// Withdraw takes letters back that have not gone out, and with them what was to
// be heard by them; where selects them and may use arguments from ?3 on. It
// returns how many there were.
func Withdraw(ctx context.Context, q kernel.Querier, now time.Time, why, where string, args ...any) (int, error) {
	return TakeBack(ctx, q, schedule.MessageWithdrawn, "(state IN ('queued', 'deferred', 'held') OR state = 'leased' AND dot_at IS NULL) AND "+where,
		append([]any{now.Unix(), why}, args...)...)
}

// TakeBack ends letters that nobody has received. Their steps are open again:
// what was to be heard by them was not, and another letter may have their keys.
// The arguments begin with the moment and the reason, "" to leave it as it is.
func TakeBack(ctx context.Context, q kernel.Querier, to schedule.MessageState, where string, args ...any) (int, error) {
	ids, err := kernel.Collect(ctx, q, kernel.FirstInt, "UPDATE outbox SET state = '"+string(to)+`', done_at = ?1,
		answer = iif(?2 = '', answer, ?2), lease_token = NULL, lease_until = NULL WHERE `+where+" RETURNING id", args...)
	if err != nil {
		return 0, err
	}
	for _, id := range ids {
		if err := Unhear(ctx, q, id); err != nil {
			return 0, fmt.Errorf("take back letter %d: %w", id, err)
		}
	}
	return len(ids), nil
}

// Unhear opens the steps of a letter again that nobody has received.
func Unhear(ctx context.Context, q kernel.Querier, id int64) error {
	if _, err := q.ExecContext(ctx, "UPDATE outbox SET key = key || '#' || id WHERE id = ?", id); err != nil {
		return err
	}
	subjects, err := kernel.Collect(ctx, q, kernel.FirstText,
		"DELETE FROM heard WHERE letter_id = ? RETURNING subject", id)
	if err != nil {
		return err
	}
	for _, s := range subjects {
		_, err := q.ExecContext(ctx, `UPDATE visits SET told_week = (SELECT h.week FROM heard h JOIN ownerships o ON o.customer_id = h.customer_id
			WHERE h.subject = visits.id AND h.week IS NOT NULL AND o.boat_id = visits.boat_id AND o.to_day IS NULL ORDER BY h.on_day DESC LIMIT 1)
			WHERE id = ?`, s)
		if err != nil {
			return err
		}
	}
	return nil
}

// ReplyKinds are the kinds of reply that bear on what a customer is told.
const ReplyKinds = "('take', 'cancel', 'later', 'decline', 'call')"

// SetOptOut writes down which mail a customer wants no more. Messages of that
// kind that have not gone out are withdrawn in the same transaction, one that is
// just being sent included unless its final dot is out.
func (db *DB) SetOptOut(ctx context.Context, now time.Time, actor, customerID string, noReminders, noMail bool) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error { return SetOptOut(ctx, tx, now, actor, customerID, noReminders, noMail) })
	return kernel.Wrap(err, "choose mails of customer %q", customerID)
}

func SetOptOut(ctx context.Context, tx kernel.Querier, now time.Time, actor, customerID string, noReminders, noMail bool) error {
	if _, err := tables.Customer(ctx, tx, customerID); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO opt_outs (customer_id, no_reminders, no_mail, since) VALUES (?, ?, ?, ?)
		ON CONFLICT (customer_id) DO UPDATE SET no_reminders = excluded.no_reminders, no_mail = excluded.no_mail, since = excluded.since, said_at = ''`,
		customerID, kernel.BoolArg(noReminders), kernel.BoolArg(noMail), now.Unix())
	if err != nil {
		return err
	}
	if noMail || noReminders {
		args := append([]any{customerID, kernel.BoolArg(noMail)}, bookedSteps()...)
		_, err = Withdraw(ctx, tx, now, "the customer does not want such emails", "customer_id = ?3 AND (?4 = 1 OR step NOT IN (?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12))", args...)
		if err != nil {
			return err
		}
	}
	after := map[string]bool{"no_reminders": noReminders, "no_mail": noMail}
	return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "choose emails", CustomerID: customerID, After: after})
}

// bookedSteps are the emails about a booked visit, those with a link that was asked
// for or replaced and those that correct another, which a customer who wants no
// reminders still gets.
func bookedSteps() []any {
	return []any{string(schedule.StepConfirmation), string(schedule.StepBooked), string(schedule.StepCancellation), string(schedule.StepPassedOn),
		string(schedule.StepPage), string(schedule.StepNewLink), string(schedule.StepNewAddress), string(schedule.StepCorrection)}
}

// IsReminder reports whether a customer who wants no reminders is spared this
// step.
func IsReminder(s schedule.Step) bool { return !slices.Contains(bookedSteps(), any(string(s))) }
