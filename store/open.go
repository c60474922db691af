package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"

	"modernc.org/sqlite"
)

// readers is how many connections read at once: the desk's pages, a feed and a
// re-plan. Each costs about 2 MB of cache.
const readers = 4

// core is the shop's open file. It is safe for use by several goroutines.
type core struct {
	path  string
	lock  *lockFile // shared, while the shop is open
	write *keptPool // one connection
	post  *gatherer // the outbox's writes, on that connection
	read  *keptPool
}

// openShop opens the shop's file, creates it (readable by its owner only) if there
// is none, and brings its tables up to date. A file that a newer program has
// written is refused with [errNewer], and so is a file of another program.
func openShop(ctx context.Context, path string) (*core, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("open %q: %w", path, err)
	}
	if err := useSafeLocks(); err != nil {
		return nil, fmt.Errorf("open %q: %w", path, err)
	}
	lock, err := lockShop(abs, false)
	if err != nil {
		return nil, fmt.Errorf("open %q: %w", path, err)
	}
	db, err := open(ctx, abs)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open %q: %w", path, err), lock.release())
	}
	db.lock = lock
	return db, nil
}

// open does the work of [openShop] under whatever lock the caller holds.
func open(ctx context.Context, abs string) (*core, error) {
	if err := createPrivate(abs); err != nil {
		return nil, err
	}
	if err := migrate(ctx, abs, newest); err != nil {
		return nil, err
	}
	w, err := pool(ctx, dsn(abs, writerParams()), 1)
	if err != nil {
		return nil, err
	}
	read, err := pool(ctx, dsn(abs, readerParams()), readers)
	if err != nil {
		return nil, errors.Join(err, w.Close())
	}
	db := &core{path: abs, write: newKeptPool(w), read: newKeptPool(read)}
	db.post = newGatherer(db.write)
	return db, nil
}

// Close ends all connections. SQLite then folds the log into the file.
func (db *core) Close() error {
	return errors.Join(db.read.Close(), db.write.Close(), db.lock.release())
}

// Path returns the absolute path of the file.
func (db *core) Path() string { return db.path }

// useSafeLocks asks for locks that survive another part of the process opening
// and closing the same file (a backup, a checksum). Where the system has none,
// SQLite's usual locks are used.
func useSafeLocks() error {
	_, err := sqlite.OFDLocking(true)
	if err != nil && !errors.Is(err, sqlite.ErrOFDLockingUnavailable) {
		return fmt.Errorf("ask for file locks: %w", err)
	}
	return nil
}

// createPrivate makes an empty file with mode 0600 if there is none; SQLite
// gives its log files the same mode. An existing file is never opened here:
// closing it again could drop SQLite's locks.
func createPrivate(path string) error {
	info, err := os.Stat(path)
	switch {
	case err == nil && info.IsDir():
		return errors.New("it is a folder; name a file in it")
	case err == nil:
		return nil
	case !errors.Is(err, fs.ErrNotExist):
		return err
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

// dsn is the file's URI; settings ride in it because a pragma that is executed
// reaches only one connection of a pool.
func dsn(path string, params url.Values) string {
	u := url.URL{Scheme: "file", Path: path, RawQuery: params.Encode()}
	return u.String()
}

// commonParams are the settings of every connection.
func commonParams() url.Values {
	return url.Values{
		"_pragma": {
			"busy_timeout(5000)",
			"foreign_keys(1)",
			"trusted_schema(0)",
			"synchronous(FULL)",
		},
		"_defensive": {"1"},
		"_dqs":       {"0"},
	}
}

func writerParams() url.Values {
	p := commonParams()
	p.Add("_pragma", "journal_mode(WAL)")
	p.Add("_pragma", "journal_size_limit(67108864)")
	// A transaction that reads first and writes later would fail at once, not
	// wait, if another process wrote in between.
	p.Set("_txlock", "immediate")
	return p
}

// looseParams are a writer's without foreign keys. The driver sorts the pragmas
// of one name, so that a second setting would come first and not last.
func looseParams() url.Values {
	p := writerParams()
	i := slices.Index(p["_pragma"], "foreign_keys(1)")
	p["_pragma"][i] = "foreign_keys(0)"
	return p
}

func readerParams() url.Values {
	p := commonParams()
	p.Set("mode", "ro")
	p.Set("_query_only", "1")
	return p
}

// pool opens a pool of at most n connections and tries one.
func pool(ctx context.Context, dsn string, n int) (*sql.DB, error) {
	p, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, err
	}
	p.SetMaxOpenConns(n)
	p.SetMaxIdleConns(n)
	if err := p.PingContext(ctx); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	return p, nil
}

// openUnwritten opens a database that is there, on one connection that cannot
// write.
func openUnwritten(ctx context.Context, path string) (*sql.DB, error) {
	p := commonParams()
	p.Set("mode", "ro")
	return pool(ctx, dsn(path, p), 1)
}

// openResting opens a database that nobody writes to, a backup, so that nothing
// is left beside it and it may lie on a disk that cannot be written to. One with
// a log beside it is read with its log.
func openResting(ctx context.Context, path string) (*sql.DB, error) {
	for _, tail := range []string{"-wal", "-journal"} {
		if _, err := os.Stat(path + tail); err == nil {
			return openUnwritten(ctx, path)
		}
	}
	p := commonParams()
	p.Set("mode", "ro")
	p.Set("immutable", "1")
	return pool(ctx, dsn(path, p), 1)
}
