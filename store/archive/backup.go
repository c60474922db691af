package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// Backup writes a whole, compact copy of the file while work goes on. The copy
// is made beside its place, opened and looked through, put on the disk and only
// then given its name, so that a file of that name is always a good one; an
// earlier backup of the same name is replaced.
func Backup(ctx context.Context, db *store.Reader, path string) error {
	if same, err := sameFile(path, db.Path()); err != nil || same {
		return fmt.Errorf("back up to %q: %w", path, kernel.OrRefused(err, "it is the shop's own file; name another"))
	}
	part, err := filepath.Abs(path + ".part") // SQLite takes whole paths only
	if err == nil {
		err = checkedCopy(ctx, db, part)
	}
	if err == nil {
		err = kernel.KeepOwner(part, path)
	}
	if err == nil {
		err = os.Rename(part, path)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("back up to %q: %w", path, err), removeDatabase(part))
	}
	return kernel.Wrap(SyncFile(filepath.Dir(path)), "back up to %q", path)
}

// CopyTo writes a copy of the shop that nobody keeps and nobody checks, to try
// something on.
func CopyTo(ctx context.Context, db *store.Reader, path string) error {
	from, err := kernel.OpenUnwritten(ctx, db.Path())
	if err == nil {
		err = errors.Join(copyDatabase(ctx, from, path), from.Close())
	}
	return kernel.Wrap(err, "copy to %q", path)
}

// checkedCopy copies the shop and compares the copy with it.
func checkedCopy(ctx context.Context, db *store.Reader, path string) error {
	before, err := tally(ctx, db.Read)
	if err != nil {
		return err
	}
	from, err := kernel.OpenUnwritten(ctx, db.Path())
	if err != nil {
		return err
	}
	if err := errors.Join(copyDatabase(ctx, from, path), from.Close()); err != nil {
		return err
	}
	after, err := tally(ctx, db.Read)
	if err != nil {
		return err
	}
	copied, err := verify(ctx, path)
	if err != nil {
		return err
	}
	return before.compare(after, copied)
}

// copyDatabase writes a compact copy of a database that only its owner may
// read, and puts it on the disk. The original is not written to.
func copyDatabase(ctx context.Context, from *sql.DB, to string) error {
	if err := removeDatabase(to); err != nil {
		return err
	}
	if err := kernel.CreatePrivate(to); err != nil {
		return err
	}
	if _, err := from.ExecContext(ctx, "VACUUM INTO ?", to); err != nil {
		return err
	}
	return SyncFile(to)
}

// verify opens a copy, looks it through, and counts its rows.
func verify(ctx context.Context, path string) (rows rowCounts, err error) {
	q, err := kernel.OpenResting(ctx, path)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, q.Close()) }()
	bad, err := kernel.Damage(ctx, q)
	if err != nil {
		return nil, err
	}
	if len(bad) > 0 {
		return nil, fmt.Errorf("the copy is damaged: %s", strings.Join(bad, "; "))
	}
	return tally(ctx, q)
}

// rowCounts is how many rows each table holds.
type rowCounts map[string]int64

// tally counts the rows of every table.
func tally(ctx context.Context, q kernel.Querier) (rowCounts, error) {
	tables, err := tableNames(ctx, q)
	if err != nil {
		return nil, err
	}
	rows := rowCounts{}
	for _, t := range tables {
		n, err := kernel.One(ctx, q, kernel.FirstInt, `SELECT count(*) FROM "`+t+`"`)
		if err != nil {
			return nil, fmt.Errorf("count the rows of %s: %w", t, err)
		}
		rows[t] = n
	}
	return rows, nil
}

// facts are the tables of which every change stands in the log of changes too.
var facts = []string{"customers", "boats", "ownerships", "components", "records", "readings", "measurements", "follow_ups", "overrides", "bookings", "answers"}

// compare holds a copy's rows to the shop's before and after it was made. The log
// of changes and the messages never shrink; while the log stood still, the facts
// did too. Other tables lose and gain rows all the time (sessions, what waits to be
// planned), and the copy is right to have them as they stood in between.
func (before rowCounts) compare(after, copied rowCounts) error {
	for _, table := range []string{"audit", "outbox"} {
		if got := copied[table]; got < before[table] || got > after[table] {
			return fmt.Errorf("the copy is not whole: %d rows of %s, and the shop had %d before and %d after", got, table, before[table], after[table])
		}
	}
	if before["audit"] != after["audit"] {
		return nil
	}
	for _, table := range facts {
		if got, n := copied[table], before[table]; got != n {
			return fmt.Errorf("the copy is not whole: %d of %d rows of %s", got, n, table)
		}
	}
	return nil
}

// tableNames lists the tables, ours and the migrations', in order of name.
func tableNames(ctx context.Context, q kernel.Querier) ([]string, error) {
	return kernel.Collect(ctx, q, kernel.FirstText,
		"SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY name")
}

func sameFile(a, b string) (bool, error) {
	x, err := os.Stat(a)
	if errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	y, err := os.Stat(b)
	if errors.Is(err, os.ErrNotExist) {
		return false, nil
	}
	return err == nil && os.SameFile(x, y), err
}

func removeIfThere(path string) error {
	if err := os.Remove(path); !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

// SyncFile puts a file or a folder on the disk. Windows syncs no folder, and a file
// only for somebody who may write it.
func SyncFile(path string) error {
	info, err := os.Stat(path)
	if err != nil || info.IsDir() && runtime.GOOS == "windows" {
		return err
	}
	how := os.O_RDWR
	if info.IsDir() {
		how = os.O_RDONLY
	}
	f, err := os.OpenFile(path, how, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
