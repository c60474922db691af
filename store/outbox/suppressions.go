package outbox

import (
	"context"
	"database/sql"
	"strings"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// suppress writes down that an address is dead; letters that wait for it are
// withdrawn. Its customers go on the call list.
func suppress(ctx context.Context, tx kernel.Querier, address, reason string, now time.Time) error {
	address = strings.ToLower(address)
	_, err := tx.ExecContext(ctx, "INSERT INTO suppressions (address, reason, since) VALUES (?, ?, ?) ON CONFLICT DO NOTHING", address, reason, now.Unix())
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM revived WHERE address = ?", address); err != nil {
		return err
	}
	_, err = store.Withdraw(ctx, tx, now, "the address is dead", "lower(to_address) = ?3", address)
	return err
}

// Unsuppress lets an address be used again.
func Unsuppress(ctx context.Context, db *store.DB, now time.Time, actor, address string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error { return unsuppress(ctx, tx, now, actor, address, now) })
	return kernel.Wrap(err, "use %q again", address)
}

// unsuppress does it for a word that may be a sister shop's, given at since.
func unsuppress(ctx context.Context, tx kernel.Querier, now time.Time, actor, address string, since time.Time) error {
	r, err := tx.ExecContext(ctx, "DELETE FROM suppressions WHERE address = ?", strings.ToLower(address))
	n, err := kernel.Affected(r, err)
	if err != nil {
		return err
	}
	if n == 0 {
		return store.ErrNotFound
	}
	if err := revive(ctx, tx, since, "SELECT ? AS address", strings.ToLower(address)); err != nil {
		return err
	}
	return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "use an address again", After: address})
}

// revive notes for sister shops that addresses, which a query with one argument
// names, are used again since a moment.
func revive(ctx context.Context, tx kernel.Querier, since time.Time, query string, arg any) error {
	_, err := tx.ExecContext(ctx, "INSERT INTO revived (since, address) SELECT ?, address FROM ("+query+") WHERE true ON CONFLICT (address) DO UPDATE SET since = excluded.since", since.Unix(), arg)
	return err
}
