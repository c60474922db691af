package kernel

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
	"time"

	"github.com/gofrs/flock"
	"modernc.org/sqlite"
)

// readers is how many connections read at once: the desk's pages, a feed and a
// re-plan.
const readers = 4

// Reader is what only reads the shop's file: SQLite itself refuses a write on its
// connections.
type Reader struct {
	path string
	Read *StmtCache
}

// Writer is what may write.
type Writer struct {
	lock  *flock.Flock // shared, while the shop is open; nil if whoever opened it holds it
	Write *StmtCache   // one connection
	Group *groupCommit // writes that may share a sync, on that connection
}

// DB is the shop's open file. It is safe for use by several goroutines.
type DB struct {
	*Reader
	*Writer
}

// Open opens the shop's file, creates it (readable by its owner only) if there
// is none, and brings its tables up to date. A file that a newer program has
// written is refused with [ErrNewer], and so is a file of another program.
func Open(ctx context.Context, path string) (*DB, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("open %q: %w", path, err)
	}
	lock, err := LockShop(abs, false)
	if err != nil {
		return nil, fmt.Errorf("open %q: %w", path, err)
	}
	db, err := OpenLocked(ctx, abs)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("open %q: %w", path, err), lock.Close())
	}
	db.lock = lock
	return db, nil
}

// OpenLocked does the work of [Open] under whatever lock the caller holds.
func OpenLocked(ctx context.Context, abs string) (*DB, error) {
	if err := CreatePrivate(abs); err != nil {
		return nil, err
	}
	if err := Migrate(ctx, abs, Newest); err != nil {
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
	db := &DB{&Reader{path: abs, Read: newStmtCache(read)}, &Writer{Write: newStmtCache(w)}}
	db.Group = newGroupCommit(db.Write)
	return db, nil
}

// Close ends all connections. SQLite then folds the log into the file.
func (db *DB) Close() error {
	err := errors.Join(db.Read.Close(), db.Write.Close())
	if db.lock != nil {
		err = errors.Join(err, db.lock.Close())
	}
	return err
}

// Shrink gives back the pages of the file that its connections keep in memory. Readers
// that are not at work are closed; more are opened when needed.
func (db *DB) Shrink(ctx context.Context) error {
	db.Read.SetMaxIdleConns(0)
	db.Read.SetMaxIdleConns(readers)
	_, err := db.Write.ExecContext(ctx, "PRAGMA shrink_memory")
	return err
}

// Path returns the absolute path of the file.
func (db *Reader) Path() string { return db.path }

// UseSafeLocks asks for locks that survive another part of the process opening
// and closing the same file (a backup, a checksum). Where the system has none,
// SQLite's usual locks are used.
func UseSafeLocks() error {
	_, err := sqlite.OFDLocking(true)
	if err != nil && !errors.Is(err, sqlite.ErrOFDLockingUnavailable) {
		return fmt.Errorf("ask for file locks: %w", err)
	}
	return nil
}

// CreatePrivate makes an empty file with mode 0600 if there is none, of the
// folder's owner where root makes it; SQLite gives its log files the same mode and
// owner. An existing file is never opened here:
// closing it again could drop SQLite's locks.
func CreatePrivate(path string) error {
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
	return errors.Join(f.Close(), KeepOwner(path, filepath.Dir(path)))
}

// dsn is the file's URI; settings ride in it because a pragma that is executed
// reaches only one connection of a pool. A path with a drive is written as SQLite
// wants it: file:///Z:/shop/bellbuoy.db (sqlite.org/uri.html, section 3.1).
func dsn(path string, params url.Values) string {
	path = filepath.ToSlash(path)
	if filepath.VolumeName(path) != "" && path[0] != '/' {
		path = "/" + path
	}
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

// readerParams are those of a connection that reads. It keeps 500 KB of the file, which
// take 1 MB, since the driver gives each page of 4 KB a place of 8; with the usual 2 MB
// neither a page nor a night was faster, as the system keeps the file too.
func readerParams() url.Values {
	p := commonParams()
	p.Add("_pragma", "cache_size(-500)")
	p.Set("mode", "ro")
	p.Set("_query_only", "1")
	return p
}

// idleTime is how long one of several connections may go unused.
const idleTime = time.Minute

// pool opens a pool of at most n connections and tries one.
func pool(ctx context.Context, dsn string, n int) (*sql.DB, error) {
	p, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, err
	}
	p.SetMaxOpenConns(n)
	p.SetMaxIdleConns(n)
	if n > 1 { // each keeps pages of the file in memory: what a night opened is closed by day
		p.SetConnMaxIdleTime(idleTime)
	}
	if err := p.PingContext(ctx); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	return p, nil
}

// OpenUnwritten opens a database that is there, on one connection that cannot
// write.
func OpenUnwritten(ctx context.Context, path string) (*sql.DB, error) {
	p := commonParams()
	p.Set("mode", "ro")
	return pool(ctx, dsn(path, p), 1)
}

// OpenResting opens a database that nobody writes to, a backup, so that nothing
// is left beside it and it may lie on a disk that cannot be written to. One with
// a log beside it is read with its log.
func OpenResting(ctx context.Context, path string) (*sql.DB, error) {
	for _, tail := range []string{"-wal", "-journal"} {
		if _, err := os.Stat(path + tail); err == nil {
			return OpenUnwritten(ctx, path)
		}
	}
	p := commonParams()
	p.Set("mode", "ro")
	p.Set("immutable", "1")
	return pool(ctx, dsn(path, p), 1)
}

// OpenLoose opens a database on one connection that writes and knows no foreign
// keys; look them through with [CheckReferences] afterwards.
func OpenLoose(ctx context.Context, path string) (*sql.DB, error) {
	return pool(ctx, dsn(path, looseParams()), 1)
}

// FoldLog has SQLite fold the log of a file into it. A file too damaged for
// that stays with its log as they are.
func FoldLog(ctx context.Context, path string) {
	p := writerParams()
	p.Set("mode", "rw")
	w, err := pool(ctx, dsn(path, p), 1)
	if err != nil {
		return
	}
	// The log goes away with the last connection.
	_ = w.Close()
}
