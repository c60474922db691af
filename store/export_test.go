package store

import (
	"context"
	"io"
)

// ParseDay is parseDay, for its test.
var ParseDay = parseDay

// MergeQuery is the statement by which a whole table is read.
func MergeQuery(table string) string {
	for _, p := range parts() {
		if p.table == table {
			return mergeQuery(p)
		}
	}
	return ""
}

// RowReader reads the rows of an export.
func RowReader(r io.Reader) func() ([]string, error) { return newRowReader(r).read }

// MigrateTo makes a database of an older version.
func MigrateTo(ctx context.Context, path string, to int64) error {
	if err := useSafeLocks(); err != nil { // as Open asks first
		return err
	}
	return migrate(ctx, path, to)
}

// Gather runs f in a transaction that others may share. which tells the
// transactions apart.
func (db *DB) Gather(ctx context.Context, f func(exec func(string, ...any) error, which any) error) error {
	return db.post.do(ctx, func(ctx context.Context, q querier) error {
		return f(func(query string, args ...any) error {
			_, err := q.ExecContext(ctx, query, args...)
			return err
		}, q.(*prepared).tx)
	})
}

// Gathering is how many writes wait to be gathered.
func (db *DB) Gathering() int {
	db.post.mu.Lock()
	defer db.post.mu.Unlock()
	return len(db.post.waiting)
}
