package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/outbox"
)

// Restored says what a restore did.
type Restored struct {
	Aside string // where the replaced file is kept, "" if there was none
}

// Restore puts a copy of a backup in the place of the shop's file at path. It
// refuses with [ErrInUse] while anybody has the shop open, with [ErrNewer] if a
// newer program wrote the backup. The backup itself is not touched and the
// replaced file is kept beside its place, under a name with the moment in it.
// The new file's mail is on hold; see [outbox.AfterRestore].
//
// Whenever it is cut short, the file at path is the old one or the new one.
func Restore(ctx context.Context, now time.Time, actor, backup, path string) (Restored, error) {
	return restore(ctx, now, actor, backup, path, outbox.AfterRestore)
}

// TakeOver does the same with a copy that followed the shop on another machine to within
// seconds. Its mail goes on; see [outbox.AfterTakeOver].
func TakeOver(ctx context.Context, now time.Time, actor, replica, path string) (Restored, error) {
	return restore(ctx, now, actor, replica, path, outbox.AfterTakeOver)
}

// makeSafe changes the outbox of a copy that does not know what was sent after it.
type makeSafe = func(ctx context.Context, db *store.DB, now time.Time, actor string) error

func restore(ctx context.Context, now time.Time, actor, backup, path string, safe makeSafe) (Restored, error) {
	r, err := replace(ctx, now, path, func(part string) error {
		if same, err := sameFile(backup, path); err != nil || same {
			return kernel.OrRefused(err, "it is the shop's own file; name a backup of it")
		}
		from, err := filepath.Abs(backup)
		if err != nil {
			return err
		}
		if _, err := os.Stat(from); err != nil {
			return err // SQLite would say less
		}
		q, err := kernel.OpenResting(ctx, from)
		if err != nil {
			return err
		}
		err = notEmpty(ctx, q)
		if err == nil {
			err = copyDatabase(ctx, q, part)
		}
		if err := errors.Join(err, q.Close()); err != nil {
			return err
		}
		return makeReady(ctx, now, actor, part, safe)
	})
	return r, kernel.Wrap(err, "restore %q from %q", path, backup)
}

// notEmpty refuses a file without a table. SQLite takes an empty file for an
// empty database, and a copy that was cut short at its start is one.
func notEmpty(ctx context.Context, q *sql.DB) error {
	tables, err := kernel.One(ctx, q, kernel.FirstInt, "SELECT count(*) FROM sqlite_schema")
	if err == nil && tables == 0 {
		err = fmt.Errorf("nothing is in it, so it is no backup; name another: %w", store.ErrRefused)
	}
	return err
}

// makeReady brings a copy up to date and makes safe what it would tell customers, who
// may have heard more than it knows.
func makeReady(ctx context.Context, now time.Time, actor, part string, safe makeSafe) error {
	k, err := kernel.OpenLocked(ctx, part)
	if err != nil {
		return err
	}
	db := store.On(k)
	err = safe(ctx, db, now, actor)
	if err == nil {
		err = db.JumpSequences(ctx)
	}
	return errors.Join(err, db.Close())
}

// replace has another file made beside the shop's, looks it through and puts it
// in the place of the shop's.
func replace(ctx context.Context, now time.Time, path string, fill func(part string) error) (r Restored, err error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return r, err
	}
	lock, err := kernel.LockShop(abs, true)
	if err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, lock.Close()) }()
	part := abs + ".restoring"
	if err := removeDatabase(part); err != nil {
		return r, err
	}
	err = fill(part)
	if err == nil {
		_, err = verify(ctx, part)
	}
	if err == nil {
		// Reading it may have left an empty log behind.
		err = errors.Join(removeIfThere(part+"-wal"), removeIfThere(part+"-shm"), kernel.KeepOwner(part, abs), SyncFile(part))
	}
	if err == nil {
		r.Aside, err = swap(ctx, now, part, abs)
	}
	if err != nil {
		return Restored{}, errors.Join(err, removeDatabase(part))
	}
	return r, SyncFile(filepath.Dir(abs))
}

// swap keeps the shop's file aside and gives its name to another. The rename is
// the one moment at which anything changes.
func swap(ctx context.Context, now time.Time, part, path string) (aside string, err error) {
	if _, err := os.Lstat(path); errors.Is(err, os.ErrNotExist) {
		return "", os.Rename(part, path)
	}
	kernel.FoldLog(ctx, path)
	stamped := path + ".before-" + now.UTC().Format("20060102T150405Z")
	aside = stamped
	for n := 2; ; n++ { // another restore of the same second keeps its own
		if _, err := os.Lstat(aside); err != nil {
			break
		}
		aside = fmt.Sprintf("%s.%d", stamped, n)
	}
	for _, tail := range []string{"", "-wal"} {
		if err := keep(path+tail, aside+tail); err != nil {
			return "", fmt.Errorf("keep the present file aside: %w", err)
		}
	}
	// A log that could not be folded in belongs to the old file and would
	// spoil the new one. Its other name keeps it.
	for _, tail := range []string{"-wal", "-shm"} {
		if err := removeIfThere(path + tail); err != nil {
			return "", err
		}
	}
	return aside, os.Rename(part, path)
}

// keep gives a file a second name, or a copy where the disk knows no second
// names. It never writes over a file that is there.
func keep(path, aside string) error {
	err := os.Link(path, aside)
	switch {
	case err == nil, errors.Is(err, os.ErrNotExist):
		return nil
	case errors.Is(err, os.ErrExist):
		return err
	}
	from, err := os.Open(path)
	if err != nil {
		return err
	}
	defer from.Close()
	to, err := os.OpenFile(aside, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(to, from)
	return errors.Join(err, kernel.KeepOwner(aside, path), to.Sync(), to.Close())
}

// removeDatabase removes a database that nobody has open, with its logs.
func removeDatabase(path string) error {
	return errors.Join(removeIfThere(path), removeIfThere(path+"-wal"), removeIfThere(path+"-shm"), removeIfThere(path+"-journal"))
}
