package store

import (
	"context"
	"database/sql"
	"strings"
	"time"

	"bellbuoy/store/internal/kernel"
)

// SetOptOut writes down which mail a customer wants no more. Letters of that
// kind that have not gone out are withdrawn in the same transaction, one that is
// just being sent included unless its final dot is out.
func (db *DB) SetOptOut(ctx context.Context, now time.Time, actor, customerID string, noReminders, noMail bool) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error { return setOptOut(ctx, tx, now, actor, customerID, noReminders, noMail) })
	return kernel.Wrap(err, "choose mails of customer %q", customerID)
}

func setOptOut(ctx context.Context, tx kernel.Querier, now time.Time, actor, customerID string, noReminders, noMail bool) error {
	if _, err := customer(ctx, tx, customerID); err != nil {
		return err
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO opt_outs (customer_id, no_reminders, no_mail, since) VALUES (?, ?, ?, ?)
		ON CONFLICT (customer_id) DO UPDATE SET no_reminders = excluded.no_reminders, no_mail = excluded.no_mail, since = excluded.since`,
		customerID, kernel.BoolArg(noReminders), kernel.BoolArg(noMail), now.Unix())
	if err != nil {
		return err
	}
	if noMail || noReminders {
		args := append([]any{customerID, kernel.BoolArg(noMail)}, bookedSteps()...)
		_, err = withdraw(ctx, tx, now, "the customer asked for no such mail", "customer_id = ?3 AND (?4 = 1 OR step NOT IN (?5, ?6, ?7))", args...)
		if err != nil {
			return err
		}
	}
	after := map[string]bool{"no_reminders": noReminders, "no_mail": noMail}
	return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "choose mails", CustomerID: customerID, After: after})
}

// Suppress writes down that an address is dead; letters that wait for it are
// withdrawn. Its customers go on the phone round.
func (db *DB) Suppress(ctx context.Context, now time.Time, actor, address, reason string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := suppress(ctx, tx, address, reason, now); err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "suppress an address", After: map[string]string{"address": address, "reason": reason}})
	})
	return kernel.Wrap(err, "suppress %q", address)
}

func suppress(ctx context.Context, tx kernel.Querier, address, reason string, now time.Time) error {
	address = strings.ToLower(address)
	_, err := tx.ExecContext(ctx, "INSERT INTO suppressions (address, reason, since) VALUES (?, ?, ?) ON CONFLICT DO NOTHING", address, reason, now.Unix())
	if err != nil {
		return err
	}
	_, err = withdraw(ctx, tx, now, "the address is dead", "lower(to_address) = ?3", address)
	return err
}

// Unsuppress lets an address be used again.
func (db *DB) Unsuppress(ctx context.Context, now time.Time, actor, address string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, "DELETE FROM suppressions WHERE address = ?", strings.ToLower(address))
		n, err := kernel.Affected(r, err)
		if err != nil {
			return err
		}
		if n == 0 {
			return ErrNotFound
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "use an address again", After: address})
	})
	return kernel.Wrap(err, "use %q again", address)
}
