package accounts

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// SaveAccount is [SaveStaff] by a form, which counts once; form is as with
// [store.DB.RecordWork]. Without a hash somebody who is known keeps their password.
// [store.ErrRefused] if nobody would be owner any more.
func SaveAccount(ctx context.Context, db *store.DB, now time.Time, actor, form string, s Staff) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		if err := store.TakeForm(ctx, tx, now, form); err != nil {
			return err
		}
		if s.Hash == "" {
			old, err := kernel.One(ctx, tx, readStaff, "SELECT "+staffColumns+" FROM staff WHERE name = ?", s.Name)
			if _, err := kernel.Found(err); err != nil {
				return err
			}
			s.Hash = old.Hash
		}
		return keepOwner(ctx, tx, func() error { return saveStaff(ctx, tx, now, actor, s) })
	})
	return kernel.Wrap(err, "save account %q", s.Name)
}

// RemoveAccount is [RemoveStaff], refused as [SaveAccount] is.
func RemoveAccount(ctx context.Context, db *store.DB, now time.Time, actor, name string) error {
	err := db.Tx(ctx, func(tx *sql.Tx) error {
		return keepOwner(ctx, tx, func() error { return removeStaff(ctx, tx, now, actor, name) })
	})
	return kernel.Wrap(err, "remove account %q", name)
}

// keepOwner refuses a change that takes the last owner away: nobody could make
// another.
func keepOwner(ctx context.Context, q kernel.Querier, change func() error) error {
	const owners = "SELECT 1 FROM staff WHERE role = 'owner'"
	had, err := kernel.Exists(ctx, q, owners)
	if err != nil {
		return err
	}
	if err := change(); err != nil {
		return err
	}
	has, err := kernel.Exists(ctx, q, owners)
	if err == nil && had && !has {
		err = fmt.Errorf("nobody would be owner any more; make somebody else owner first: %w", store.ErrRefused)
	}
	return err
}
