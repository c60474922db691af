package kernel

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"
	"modernc.org/sqlite"

	"bellbuoy/store/internal/match"
)

// migrations are the numbered steps from an empty file to the present tables.
// A step that has been released is never edited.
//
//go:embed migrations/*.sql
var migrations embed.FS

// fold is [match.Fold] for the steps that fill the columns that a search looks
// through.
func init() {
	sqlite.MustRegisterDeterministicScalarFunction("fold", 1, func(_ *sqlite.FunctionContext, args []driver.Value) (driver.Value, error) {
		text, _ := args[0].(string)
		return match.Fold(text), nil
	})
}

// applicationID marks the file's header as ours: "BBuy" in ASCII. The first
// migration sets it.
const applicationID = 0x42427579

// Newest stands for the number of the last step.
const Newest = 0

// Migrate brings the file's tables up to a version, usually [Newest]. Foreign
// keys are off meanwhile: with them on, a step that rebuilds a table would silently delete the rows
// that refer to it. They are checked afterwards instead.
func Migrate(ctx context.Context, path string, to int64) (err error) {
	w, err := OpenLoose(ctx, path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	if err := checkOurs(ctx, w); err != nil {
		return err
	}
	m, err := migrator(w)
	if err != nil {
		return err
	}
	have, know, err := m.GetVersions(ctx)
	if err != nil {
		return fmt.Errorf("read the version of the tables: %w", err)
	}
	if have > know {
		return fmt.Errorf("its tables are at version %d and this program knows %d: %w", have, know, ErrNewer)
	}
	switch {
	case to == Newest:
		to = know
	case to > know:
		return fmt.Errorf("its tables are at version %d and this program knows %d: %w", to, know, ErrNewer)
	}
	done, err := m.UpTo(ctx, to)
	if err != nil {
		return fmt.Errorf("bring the tables from version %d to %d: %w", have, to, err)
	}
	if len(done) == 0 {
		return nil
	}
	return CheckReferences(ctx, w)
}

// migrator reads the embedded steps.
func migrator(w *sql.DB) (*goose.Provider, error) {
	steps, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectSQLite3, w, steps, goose.WithDisableGlobalRegistry(true))
}

// checkOurs refuses a database that another program has made.
func checkOurs(ctx context.Context, w *sql.DB) error {
	var tables, id int64
	if err := w.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables); err != nil {
		return fmt.Errorf("read it as a database: %w", err)
	}
	if err := w.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return fmt.Errorf("read the mark in its header: %w", err)
	}
	if tables > 0 && id != applicationID {
		return errors.New("it is a database of another program; name the shop's own file")
	}
	return nil
}

// CheckReferences fails if a row refers to one that is not there.
func CheckReferences(ctx context.Context, q Querier) error {
	found, err := Collect(ctx, q, FirstText, "PRAGMA foreign_key_check")
	if err != nil {
		return err
	}
	if len(found) > 0 {
		return fmt.Errorf("%d rows refer to rows that are not there, the first in table %q", len(found), found[0])
	}
	return nil
}

// SchemaVersion returns the number of the newest migration in the file.
func (db *Reader) SchemaVersion(ctx context.Context) (int64, error) {
	return One(ctx, db.Read, FirstInt,
		"SELECT max(version_id) FROM goose_db_version WHERE is_applied")
}
