package archive

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"slices"
	"strings"
	"time"

	"bellbuoy/store/internal/csvrows"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/outbox"
)

// Import makes the shop's file at path again from an export: a database with the
// same rows, brought up to date. Passwords and sign-ins are not in an export, so
// that every member of staff needs a new password; the mail is on hold, and what waited
// is uncertain. Else it does what [Restore] does: calendars hear of changes that come
// after all that they may know, it refuses while the shop is open and keeps the replaced
// file aside.
func Import(ctx context.Context, now time.Time, folder, path string) (Restored, error) {
	r, err := replace(ctx, now, path, func(part string) error {
		if err := importTo(ctx, folder, part); err != nil {
			return err
		}
		return makeReady(ctx, now, "", part, outbox.AfterImport)
	})
	return r, kernel.Wrap(err, "import the export %q", folder)
}

func importTo(ctx context.Context, folder, part string) error {
	files := os.DirFS(folder)
	s, err := readManifest(files)
	if err != nil {
		return err
	}
	if err := kernel.CreatePrivate(part); err != nil {
		return err
	}
	if err := kernel.Migrate(ctx, part, s.Tables); err != nil {
		return err
	}
	if err := fill(ctx, files, part); err != nil {
		return err
	}
	return kernel.Migrate(ctx, part, kernel.Newest)
}

// fill puts the rows of an export into fresh tables of its version, in one
// transaction.
func fill(ctx context.Context, files fs.FS, part string) (err error) {
	w, err := kernel.OpenLoose(ctx, part) // rows come in the order of the tables' names
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	tx, err := w.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // no effect after Commit
	if err := withoutTriggers(ctx, tx, func() error { return fillTables(ctx, files, tx) }); err != nil {
		return err
	}
	if err := kernel.CheckReferences(ctx, tx); err != nil {
		return err
	}
	return tx.Commit()
}

// withoutTriggers runs f while no trigger adds to what it writes.
func withoutTriggers(ctx context.Context, tx *sql.Tx, f func() error) error {
	type trigger struct{ name, text string }
	all, err := kernel.Collect(ctx, tx, func(c *kernel.Row) trigger { return trigger{c.Text(0), c.Text(1)} },
		"SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' ORDER BY rowid")
	if err != nil {
		return err
	}
	for _, t := range all {
		if _, err := tx.ExecContext(ctx, `DROP TRIGGER "`+t.name+`"`); err != nil {
			return err
		}
	}
	if err := f(); err != nil {
		return err
	}
	for _, t := range all {
		if _, err := tx.ExecContext(ctx, t.text); err != nil {
			return err
		}
	}
	return nil
}

func fillTables(ctx context.Context, files fs.FS, tx *sql.Tx) error {
	tables, err := tableNames(ctx, tx)
	if err != nil {
		return err
	}
	for _, t := range tables {
		if excludedTable(t) {
			continue
		}
		if err := fillTable(ctx, files, tx, t); err != nil {
			return fmt.Errorf("%s/%s.csv: %w", wholeFolder, t, err)
		}
	}
	return nil
}

// fillTable replaces the rows of one table.
func fillTable(ctx context.Context, files fs.FS, tx *sql.Tx, table string) error {
	f, err := files.Open(path.Join(wholeFolder, table+".csv"))
	if err != nil {
		return err
	}
	defer f.Close()
	// Exact, because a note that somebody wrote in a browser holds CR LF.
	lines := csvrows.New(f, csvrows.Options{Delimiter: ',', Strict: true, Exact: true})
	named, _, err := lines.Next()
	header := slices.Clone(named)
	if err != nil {
		return fmt.Errorf("read the header: %w", err)
	}
	columns, err := columnsNamed(ctx, tx, table, header)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `DELETE FROM "`+table+`"`); err != nil {
		return err
	}
	back, values := excludedFrom(table)
	insert, err := tx.PrepareContext(ctx, `INSERT INTO "`+table+`" (`+quoted(append(header, back...))+`) VALUES (`+
		strings.TrimSuffix(strings.Repeat("?, ", len(header)+len(back)), ", ")+")")
	if err != nil {
		return err
	}
	defer insert.Close()
	for n := 2; ; n++ {
		cells, _, err := lines.Next()
		if err == io.EOF {
			return nil
		}
		var row []any
		if err == nil {
			row, err = readRow(columns, cells)
		}
		if err == nil {
			_, err = insert.ExecContext(ctx, append(row, values...)...)
		}
		if err != nil {
			return fmt.Errorf("row %d: %w", n, err)
		}
	}
}

// columnsNamed finds the table's columns that a header names; all must be there.
func columnsNamed(ctx context.Context, q kernel.Querier, table string, header []string) ([]column, error) {
	all, err := columnsOf(ctx, q, table)
	if err != nil {
		return nil, err
	}
	if len(header) != len(all) {
		return nil, fmt.Errorf("%d columns, want %d", len(header), len(all))
	}
	for i, c := range all {
		if header[i] != c.name {
			return nil, fmt.Errorf("column %q stands where %q is expected", header[i], c.name)
		}
	}
	return all, nil
}

// excludedFrom are the columns of a table that are not in an export, and their values.
func excludedFrom(table string) (names []string, values []any) {
	for column, value := range excludedColumns() {
		if t, name, _ := strings.Cut(column, "."); t == table {
			names, values = append(names, name), append(values, value)
		}
	}
	return names, values
}

func readRow(columns []column, cells []string) ([]any, error) {
	if len(cells) != len(columns) {
		return nil, fmt.Errorf("%d cells, want %d", len(cells), len(columns))
	}
	row := make([]any, len(columns))
	for i, c := range columns {
		v, err := c.read(cells[i])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", c.name, err)
		}
		row[i] = v
	}
	return row, nil
}

// CheckExport reads an export through and says whether it is whole and
// unchanged, and not of a newer program.
func CheckExport(folder string) error {
	_, err := readManifest(os.DirFS(folder))
	return kernel.Wrap(err, "the export %q", folder)
}
