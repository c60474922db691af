package store

import (
	"context"

	"bellbuoy/store/internal/kernel"
)

// DB is the shop's open file. It is safe for use by several goroutines.
type DB struct{ *kernel.DB }

// Open opens the shop's file, creates it (readable by its owner only) if there
// is none, and brings its tables up to date. A file that a newer program has
// written is refused with [ErrNewer], and so is a file of another program.
func Open(ctx context.Context, path string) (*DB, error) {
	c, err := kernel.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	return &DB{c}, nil
}
