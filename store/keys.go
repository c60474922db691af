package store

import (
	"context"
	"database/sql"
	"time"

	"bellbuoy/store/internal/kernel"
)

// SettingLinkKeys names the setting that holds the keys of the links, once they
// have been renewed.
const SettingLinkKeys = "link-keys"

// SetLinkKeys keeps the keys of the links, and that somebody renewed them.
func (db *DB) SetLinkKeys(ctx context.Context, now time.Time, actor string, keys []byte) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := kernel.PutSetting(ctx, tx, SettingLinkKeys, keys); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "INSERT OR IGNORE INTO unpublished (boat_id) SELECT id FROM boats"); err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "renew the key of the links"})
	})
	return kernel.Wrap(err, "renew the key of the links")
}
