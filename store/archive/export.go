package archive

import (
	"context"
	"database/sql"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"bellbuoy/store"
	"bellbuoy/store/internal/kernel"
)

// wholeFolder is where an export keeps the tables as they are.
const wholeFolder = "whole"

// Export writes everything that the shop knows into a folder, as of one moment:
// the five import files, for another shop or another program, and under
// whole/ every table as it is, from which [Import] makes the same shop again,
// with a description of every column. Passwords and sign-ins stay here. The
// folder must be there and hold none of these files. [WriteManifest] completes it.
func Export(ctx context.Context, db *store.Reader, folder string) error {
	root, err := os.OpenRoot(folder)
	if err != nil {
		return fmt.Errorf("export: %w", err)
	}
	defer root.Close()
	err = db.Snapshot(ctx, func(tx *sql.Tx) error {
		if err := exportIntake(ctx, tx, root); err != nil {
			return err
		}
		return exportWhole(ctx, tx, root)
	})
	return kernel.Wrap(err, "export to %q", folder)
}

// exportWhole writes every table as it is.
func exportWhole(ctx context.Context, q kernel.Querier, root *os.Root) error {
	if err := root.Mkdir(wholeFolder, 0o700); err != nil {
		return err
	}
	about := filepath.Join(wholeFolder, "columns.csv")
	if err := writeFile(root, about, func(w io.Writer) error { _, err := io.WriteString(w, columnsFile); return err }); err != nil {
		return err
	}
	tables, err := tableNames(ctx, q)
	if err != nil {
		return err
	}
	for _, t := range slices.DeleteFunc(tables, excludedTable) {
		if err := exportTable(ctx, q, root, t); err != nil {
			return fmt.Errorf("table %s: %w", t, err)
		}
	}
	return nil
}

// exportTable writes one table in the order of its key.
func exportTable(ctx context.Context, q kernel.Querier, root *os.Root, table string) error {
	columns, err := columnsOf(ctx, q, table)
	if err != nil {
		return err
	}
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.name
	}
	key, err := kernel.One(ctx, q, kernel.FirstText,
		`SELECT group_concat('"' || name || '"', ', ' ORDER BY pk) FROM pragma_table_info(?) WHERE pk > 0`, table)
	if err != nil {
		return err
	}
	query := "SELECT " + quoted(names) + ` FROM "` + table + `"`
	if key != "" {
		query += " ORDER BY " + key
	}
	return writeFile(root, filepath.Join(wholeFolder, table+".csv"), func(w io.Writer) error {
		cells := make([]string, len(columns))
		return writeRows(ctx, q, w, names, func(c *kernel.Row) []string {
			for i, column := range columns {
				cells[i] = column.write(c, i)
			}
			return cells
		}, query)
	})
}

// writeRows writes a query's rows under a header, as the cells that fn makes of them.
func writeRows(ctx context.Context, q kernel.Querier, w io.Writer, header []string, fn func(*kernel.Row) []string, query string) error {
	out := csv.NewWriter(w)
	if err := out.Write(header); err != nil {
		return err
	}
	rows, err := q.QueryContext(ctx, query)
	if err != nil {
		return err
	}
	c, err := kernel.NewRow(rows)
	if err != nil {
		return errors.Join(err, rows.Close())
	}
	for c.Next() {
		c.Note(out.Write(fn(c)))
	}
	out.Flush()
	return errors.Join(c.Close(), out.Error())
}

// writeFile writes one file that only its owner may read, onto the disk.
func writeFile(root *os.Root, name string, fn func(io.Writer) error) error {
	f, err := root.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	return errors.Join(fn(f), f.Sync(), f.Close())
}

// quoted lists names for a statement.
func quoted(names []string) string {
	s := ""
	for i, n := range names {
		if i > 0 {
			s += ", "
		}
		s += `"` + n + `"`
	}
	return s
}
