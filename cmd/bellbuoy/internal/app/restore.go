package app

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/config"
	"bellbuoy/store"
	"bellbuoy/store/archive"
)

// Restored says what came into the shop's place.
type Restored struct {
	archive.Restored
	Export bool // it is the shop of an export's folder, and not a backup's
	Pages  bool // the settings that pages had changed were written again
}

// ErrFolder refuses to take over from a folder.
var ErrFolder = errors.New("it is a folder, and no replica")

// Restore puts a backup, or the shop that the folder of an export holds, in the place
// of the database that the settings name, while nobody has that open. Emails are on
// hold afterward, but not where from is the replica of a machine that takeOver takes
// over from.
func Restore(ctx context.Context, now time.Time, actor, from string, takeOver bool, c *config.Config) (Restored, error) {
	info, err := os.Stat(from)
	if err != nil {
		return Restored{}, fmt.Errorf("restore: %w", err)
	}
	r, database := Restored{Export: info.IsDir()}, c.Path(c.Files.Database)
	switch {
	case r.Export && takeOver:
		return r, ErrFolder
	case r.Export:
		r.Restored, err = archive.Import(ctx, now, from, database)
	case takeOver:
		r.Restored, err = archive.TakeOver(ctx, now, actor, from, database)
	default:
		r.Restored, err = archive.Restore(ctx, now, actor, from, database)
	}
	if err != nil {
		return r, err
	}
	if r.Pages, err = restorePages(ctx, c); err != nil {
		err = fmt.Errorf("the database is restored, the settings that pages changed are not: %w", err)
	}
	return r, err
}

// restorePages writes the pages' settings file that a restored database remembers,
// where there is none, and says whether it did. One that is there stays: it may be
// newer.
func restorePages(ctx context.Context, c *config.Config) (wrote bool, err error) {
	path := c.PagesFile()
	if _, err := os.Stat(path); err == nil {
		return false, nil
	}
	db, err := store.Open(ctx, c.Path(c.Files.Database))
	if err != nil {
		return false, err
	}
	text, err := db.Setting(ctx, store.SettingPages)
	if isNotFound(err) {
		err = nil
	}
	if err := errors.Join(err, db.Close()); err != nil || len(text) == 0 {
		return false, err
	}
	return true, writeWhole(path, text)
}
