package outbox

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// checkOutcome refuses an outcome that is none.
func checkOutcome(o schedule.Outcome) error {
	switch o.State {
	case schedule.MessageSent, schedule.MessageUncertain, schedule.MessageRefused, schedule.MessageExpired, schedule.MessageHeld:
		return nil
	case schedule.MessageDeferred, schedule.MessageQueued:
		if o.NextAt.IsZero() {
			return fmt.Errorf("a %s letter needs its next time: %w", o.State, store.ErrRefused)
		}
		return nil
	}
	return fmt.Errorf("%q is no outcome: %w", o.State, store.ErrRefused)
}

// outcomeReason says in one line why, for the desk.
func outcomeReason(o schedule.Outcome) string {
	s := strings.TrimSpace(o.Enhanced + " " + o.Answer)
	if o.Code != 0 {
		s = strings.TrimSpace(fmt.Sprintf("%d %s", o.Code, s))
	}
	if s == "" {
		return "refused"
	}
	return s
}

// settle writes the outcome on the letter.
func settle(ctx context.Context, tx kernel.Querier, id int64, token string, o schedule.Outcome, now time.Time) error {
	again := o.State == schedule.MessageDeferred || o.State == schedule.MessageQueued
	_, err := kernel.One(ctx, tx, kernel.FirstInt, settleMessage,
		string(o.State), o.Code, o.Enhanced, o.Answer, kernel.BoolArg(again), o.NextAt.Unix(), now.Unix(), id, token, kernel.BoolArg(o.Suppress))
	return err
}

// Recover looks for leases that ran out, because a sender died: a letter whose
// dot was not yet marked is queued again, any other is uncertain for good
// (RFC 1047) and waits for a person.
func Recover(ctx context.Context, db *store.DB, now time.Time) (requeued, uncertain int, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, `UPDATE outbox SET state = 'queued', lease_token = NULL, lease_until = NULL
			WHERE state = 'leased' AND (lease_until < ?1 OR lease_until > ?1 + ?2) AND dot_at IS NULL`, now.Unix(), longestLease)
		again, err := kernel.Affected(r, err)
		if err != nil {
			return err
		}
		r, err = tx.ExecContext(ctx, `UPDATE outbox SET state = 'uncertain', lease_until = NULL, done_at = ?1
			WHERE state = 'leased' AND (lease_until < ?1 OR lease_until > ?1 + ?2)`, now.Unix(), longestLease)
		lost, err := kernel.Affected(r, err)
		requeued, uncertain = int(again), int(lost)
		if err != nil {
			return err
		}
		return afterClockAhead(ctx, tx, now)
	})
	return requeued, uncertain, kernel.Wrap(err, "recover letters")
}

// The longest that a lease lasts and that a letter waits between attempts, in
// seconds, with some room. What is further off was written while the clock was
// ahead, and must not keep letters back until that day.
const (
	longestLease = 6 * 60 * 60
	longestWait  = 12 * 60 * 60
)

// afterClockAhead mends the letters that were queued or put off while the clock
// was ahead. One that was never tried and tells of visits was made for a day that
// has not come: it is withdrawn. Any other is due now.
func afterClockAhead(ctx context.Context, q kernel.Querier, now time.Time) error {
	_, err := store.Withdraw(ctx, q, now, "it was written while the clock was ahead",
		"attempts = 0 AND names <> '' AND state <> 'leased' AND queued_at > ?1 + ?3", longestWait)
	if err != nil {
		return err
	}
	_, err = q.ExecContext(ctx, `UPDATE outbox SET next_at = ?1, queued_at = min(queued_at, ?1)
		WHERE state IN ('queued', 'deferred') AND next_at > ?1 + ?2`, now.Unix(), longestWait)
	return err
}

// Expire drops letters that are past their last useful moment. What was to be
// heard by them was not.
func Expire(ctx context.Context, db *store.DB, now time.Time) (n int, err error) {
	err = db.Tx(ctx, func(tx *sql.Tx) (err error) {
		n, err = store.TakeBack(ctx, tx, schedule.MessageExpired, "state IN ('queued', 'deferred', 'held') AND not_after < ?1", now.Unix(), "")
		return err
	})
	return n, kernel.Wrap(err, "expire letters")
}

// Requeue has a person send a letter after all, with the same bytes and the
// same Message-ID: one that was held or refused, or an uncertain one that is
// no reminder. An uncertain reminder is [ErrRefused]: its reader may have it
// already, and the next step follows anyway.
func Requeue(ctx context.Context, db *store.DB, now time.Time, actor string, id int64) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		l, err := kernel.One(ctx, tx, readMessage, "SELECT "+letterColumns+" FROM outbox WHERE id = ?", id)
		if err != nil {
			return err
		}
		switch {
		case l.State == schedule.MessageUncertain && store.IsReminder(l.Step):
			return fmt.Errorf("it may have arrived, and a reminder is never sent twice; call instead: %w", store.ErrRefused)
		case l.State != schedule.MessageUncertain && l.State != schedule.MessageHeld && l.State != schedule.MessageRefused:
			return fmt.Errorf("it is %s: %w", l.State, store.ErrRefused)
		}
		if stop, err := stopped(ctx, tx, &l); err != nil || stop {
			return kernel.OrRefused(err, "the address is dead or the customer does not want such emails")
		}
		_, err = tx.ExecContext(ctx, `UPDATE outbox SET state = 'queued', next_at = ?, lease_token = NULL, lease_until = NULL,
			dot_at = NULL, done_at = NULL, verdict = '' WHERE id = ?`, now.Unix(), id)
		if err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "send an email again", CustomerID: l.CustomerID, Before: l.State, After: l.Key})
	})
	return kernel.Wrap(err, "send letter %d again", id)
}
