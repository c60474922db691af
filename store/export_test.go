package store

import (
	"context"

	"bellbuoy/store/internal/kernel"
)

// MergeQuery is the statement by which a whole table is read.
func MergeQuery(table string) string {
	for _, p := range parts() {
		if p.table == table {
			return mergeQuery(p)
		}
	}
	return ""
}

// MigrateTo makes a database of an older version.
func MigrateTo(ctx context.Context, path string, to int64) error {
	if err := kernel.UseSafeLocks(); err != nil { // as Open asks first
		return err
	}
	return kernel.Migrate(ctx, path, to)
}
