package store

import (
	"context"
	"database/sql"
	"time"

	"bellbuoy/store/internal/kernel"
)

// SettingPages names the setting that keeps what the shop's pages wrote into their
// settings file, so that every copy of the database has it.
const SettingPages = "pages-settings"

// PagesSettings are settings that a page changed.
type PagesSettings struct {
	Before, After map[string]any // of what changed, by address
	Text          []byte         // the whole file from now on
}

// NoteSettings notes in the change history that a page changed settings; form is as
// with [DB.RecordWork].
func (db *DB) NoteSettings(ctx context.Context, now time.Time, actor, form string, p PagesSettings) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := TakeForm(ctx, tx, now, form); err != nil {
			return err
		}
		if err := kernel.PutSetting(ctx, tx, SettingPages, p.Text); err != nil {
			return err
		}
		return kernel.Audit(ctx, tx, now, kernel.Entry{Actor: actor, What: "save settings", Before: p.Before, After: p.After})
	})
	return kernel.Wrap(err, "note the change of settings")
}
