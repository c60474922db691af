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
	_, err = store.Withdraw(ctx, tx, now, "the address is dead", "lower(to_address) = ?3", address)
	return err
}

// Unsuppress lets an address be used again.
func Unsuppress(ctx context.Context, db *store.DB, now time.Time, actor, address string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, "DELETE FROM suppressions WHERE address = ?", strings.ToLower(address))
		n, err := kernel.Affected(r, err)
		if err != nil {
			return err
		}
		if n == 0 {
			return store.ErrNotFound
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "use an address again", After: address})
	})
	return kernel.Wrap(err, "use %q again", address)
}
