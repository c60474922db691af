package kernel

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Setting returns a value of the shop's that lives in its file: a key for
// addresses, a date of last work. [ErrNotFound] if it was never set.
func (db *Reader) Setting(ctx context.Context, key string) ([]byte, error) {
	v, err := One(ctx, db.Read, FirstBlob, "SELECT value FROM settings WHERE key = ?", key)
	if err != nil {
		return nil, fmt.Errorf("setting %q: %w", key, err)
	}
	return v, nil
}

// SetSetting sets a value.
func (db *Writer) SetSetting(ctx context.Context, key string, value []byte) error {
	return PutSetting(ctx, db.Write, key, value)
}

// PutSetting does so in a transaction.
func PutSetting(ctx context.Context, q Querier, key string, value []byte) error {
	if value == nil {
		value = []byte{} // NULL would be no value at all
	}
	_, err := q.ExecContext(ctx, `INSERT INTO settings (key, value) VALUES (?, ?)
		ON CONFLICT (key) DO UPDATE SET value = excluded.value`, key, value)
	return Wrap(err, "set %q", key)
}

// OncePer reports whether this is the first time that a job runs for a key,
// such as a day, and remembers that it did. However often the clock ticks, one
// caller gets true. Use [DB.ForgetTick] if the work then fails. A run that was
// remembered while the clock was ahead does not count.
func (db *Writer) OncePer(ctx context.Context, job, key string, now time.Time) (bool, error) {
	r, err := db.Write.ExecContext(ctx, `INSERT INTO ticks (job, key, at) VALUES (?, ?, ?)
		ON CONFLICT DO UPDATE SET at = excluded.at WHERE ticks.at > excluded.at + 3600`, job, key, now.Unix())
	n, err := Affected(r, err)
	return n > 0, Wrap(err, "job %q for %q", job, key)
}

// ForgetTick lets a job run again for a key.
func (db *Writer) ForgetTick(ctx context.Context, job, key string) error {
	_, err := db.Write.ExecContext(ctx, "DELETE FROM ticks WHERE job = ? AND key = ?", job, key)
	return Wrap(err, "job %q for %q", job, key)
}

// Affected returns how many rows a statement changed.
func Affected(r sql.Result, err error) (int64, error) {
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}
