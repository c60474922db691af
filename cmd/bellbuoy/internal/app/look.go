package app

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/archive"
)

// PlannedFor says whether the stored plan is that of today, of all facts, and
// of the rules and settings in force.
func (a *App) PlannedFor(ctx context.Context, today civil.Day) (bool, error) {
	last, err := a.DB.Setting(ctx, settingPlanned)
	if err != nil && !isNotFound(err) {
		return false, err
	}
	if string(last) != today.String()+"/"+a.fingerprint() {
		return false, nil
	}
	ids, err := a.DB.DirtyBoats(ctx, 1)
	return len(ids) == 0, err
}

// AsIf calls look with an app whose plan is that of today under the settings
// in force. Where the stored plan is another one, that is a copy of the shop,
// planned again and thrown away afterwards: to look changes nothing, neither a
// plan nor a calendar.
func (a *App) AsIf(ctx context.Context, now time.Time, today civil.Day, progress func(boats int), look func(*App) error) error {
	if planned, err := a.PlannedFor(ctx, today); err != nil {
		return err
	} else if planned {
		return look(a)
	}
	return a.onCopy(ctx, func(path string) error {
		c := *a.Config
		c.Files.Database = path
		other, err := Open(ctx, &c)
		if err != nil {
			return err
		}
		// Who asks for another day means that the program ran until then.
		if err = other.ranUntil(ctx, today-1); err == nil {
			_, err = other.Settle(ctx, now, today, progress)
		}
		if err == nil {
			err = look(other)
		}
		return errors.Join(err, other.Close())
	})
}

// ranUntil makes a day the last one that was planned for, if there is any, under the
// same rules and settings as before.
func (a *App) ranUntil(ctx context.Context, day civil.Day) error {
	last, err := a.DB.Setting(ctx, settingPlanned)
	if isNotFound(err) {
		return nil
	}
	if err != nil {
		return err
	}
	_, rules, _ := strings.Cut(string(last), "/")
	return a.db.SetSetting(ctx, settingPlanned, []byte(day.String()+"/"+rules))
}

// onCopy has do work on a copy of the shop, which is removed afterwards.
func (a *App) onCopy(ctx context.Context, do func(path string) error) error {
	dir, err := os.MkdirTemp("", "bellbuoy-look-")
	if err != nil {
		return err
	}
	path := filepath.Join(dir, "copy.db")
	if err = archive.CopyTo(ctx, a.DB, path); err == nil {
		err = do(path)
	}
	_ = os.RemoveAll(dir) // what Windows holds back goes with the program's folder of temporary files
	return err
}

// try has act work on a copy of the shop: what files would do is found out without
// keeping those who book and reply waiting.
func (a *App) try(ctx context.Context, act func(db *store.DB) error) error {
	return a.onCopy(ctx, func(path string) error {
		db, err := store.Open(ctx, path)
		if err != nil {
			return err
		}
		return errors.Join(act(db), db.Close())
	})
}
