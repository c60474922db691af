package store

import (
	"context"

	"bellbuoy/store/internal/kernel"
)

// Reader reads the shop's file and cannot write it: it is what commands and pages
// are given. It is safe for use by several goroutines.
type Reader struct{ *kernel.Reader }

// DB is the shop's open file, with what writes: only the use cases hold one. It is
// safe for use by several goroutines.
type DB struct {
	*Reader
	*kernel.Writer
}

// Open opens the shop's file, creates it (readable by its owner only) if there
// is none, and brings its tables up to date. A file that a newer program has
// written is refused with [ErrNewer], and so is a file of another program.
func Open(ctx context.Context, path string) (*DB, error) {
	c, err := kernel.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	return On(c), nil
}

// On is the store on a file that is open already.
func On(file *kernel.DB) *DB { return &DB{&Reader{file.Reader}, file.Writer} }

// Close ends all connections. SQLite then folds the log into the file.
func (db *DB) Close() error { return db.file().Close() }

// Shrink gives back the pages of the file that are kept in memory, after work that
// read all of it.
func (db *DB) Shrink(ctx context.Context) error { return db.file().Shrink(ctx) }

func (db *DB) file() *kernel.DB { return &kernel.DB{Reader: db.Reader.Reader, Writer: db.Writer} }

// KeepOwner gives a file, or a folder with all that is in it, the owner of what
// it replaces at place, or of the folder that place lies in; see package kernel.
func KeepOwner(path, place string) error { return kernel.KeepOwner(path, place) }
