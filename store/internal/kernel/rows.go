package kernel

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// Querier is what can run a statement: a pool or a transaction.
type Querier interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// Tx runs f in one write transaction. Public methods own the transaction;
// helpers take it.
func (db *Writer) Tx(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := db.Write.begin(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // no effect after Commit; also covers a panic
	if err := f(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// Snapshot runs f on one unchanging view of the file.
func (db *Reader) Snapshot(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := db.Read.begin(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback() // it only read
	return f(tx)
}

// Row reads the columns of a result by number. Scanning into plain values is
// several times faster than letting database/sql convert each one, and the
// first cell that is not what it should be is remembered for the end.
type Row struct {
	rows *sql.Rows
	vals []any
	ptrs []any
	off  int // where the columns of the reader at work begin
	err  error
}

// NewRow reads the columns of rows; for a query whose rows are not collected.
func NewRow(rows *sql.Rows) (*Row, error) {
	names, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	c := &Row{rows: rows, vals: make([]any, len(names)), ptrs: make([]any, len(names))}
	for i := range c.vals {
		c.ptrs[i] = &c.vals[i]
	}
	return c, nil
}

// Next moves to the next row; false at the end or after a fault.
func (c *Row) Next() bool {
	if c.err != nil || !c.rows.Next() {
		return false
	}
	c.off = 0
	c.Note(c.rows.Scan(c.ptrs...))
	return c.err == nil
}

// Close ends the reading and returns the first fault of all.
func (c *Row) Close() error {
	c.Note(c.rows.Err())
	c.Note(c.rows.Close())
	return c.err
}

// Err is the first fault so far.
func (c *Row) Err() error { return c.err }

// Note remembers a fault, if it is the first.
func (c *Row) Note(err error) {
	if c.err == nil {
		c.err = err
	}
}

// Skip starts the next reader n columns further on, for rows joined of several
// tables.
func (c *Row) Skip(n int) { c.off += n }

// Null reports whether the cell holds nothing.
func (c *Row) Null(i int) bool { return c.vals[c.off+i] == nil }

// Text is a text; nothing is "".
func (c *Row) Text(i int) string {
	s, ok := c.vals[c.off+i].(string)
	if !ok && c.vals[c.off+i] != nil {
		c.Note(fmt.Errorf("column %d holds %T, want text", i, c.vals[c.off+i]))
	}
	return s
}

// Blob is a list of bytes; nothing is nil.
func (c *Row) Blob(i int) []byte {
	b, ok := c.vals[c.off+i].([]byte)
	if !ok && c.vals[c.off+i] != nil {
		c.Note(fmt.Errorf("column %d holds %T, want bytes", i, c.vals[c.off+i]))
	}
	return b
}

// Int is a whole number; nothing is 0.
func (c *Row) Int(i int) int64 {
	n, ok := c.vals[c.off+i].(int64)
	if !ok && c.vals[c.off+i] != nil {
		c.Note(fmt.Errorf("column %d holds %T, want a whole number", i, c.vals[c.off+i]))
	}
	return n
}

// Real is a number; nothing is 0.
func (c *Row) Real(i int) float64 {
	switch v := c.vals[c.off+i].(type) {
	case float64:
		return v
	case int64:
		return float64(v)
	case nil:
		return 0
	}
	c.Note(fmt.Errorf("column %d holds %T, want a number", i, c.vals[c.off+i]))
	return 0
}

// Bool, Hours (tenths), Cents, Lines (one a line) and Week (its Monday) are
// cells as [Row.Int], [Row.Text] and [Row.Day] read them.
func (c *Row) Bool(i int) bool            { return c.Int(i) != 0 }
func (c *Row) Hours(i int) schedule.Hours { return schedule.Hours(c.Int(i)) }
func (c *Row) Cents(i int) schedule.Cents { return schedule.Cents(c.Int(i)) }
func (c *Row) Lines(i int) []string       { return splitLines(c.Text(i)) }
func (c *Row) Week(i int) civil.Week      { return weekOfMonday(c.Day(i)) }

// Instant is a moment in seconds since 1970; nothing is the zero time.
func (c *Row) Instant(i int) (t time.Time) {
	if c.Null(i) {
		return t
	}
	return time.Unix(c.Int(i), 0).UTC()
}

// Day is a day written YYYY-MM-DD; nothing is no day.
func (c *Row) Day(i int) civil.Day {
	s := c.Text(i)
	if s == "" {
		return 0
	}
	d, err := ParseDay(s)
	c.Note(err)
	return d
}

// FirstText, firstInt, firstBool and firstBlob read a result of one column.
func FirstText(c *Row) string { return c.Text(0) }
func FirstInt(c *Row) int64   { return c.Int(0) }
func FirstBool(c *Row) bool   { return c.Bool(0) }
func FirstBlob(c *Row) []byte { return c.Blob(0) }

// Collect runs a query and reads every row.
func Collect[T any](ctx context.Context, q Querier, read func(*Row) T, query string, args ...any) ([]T, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	c, err := NewRow(rows)
	if err != nil {
		rows.Close()
		return nil, err
	}
	var all []T
	for c.Next() {
		all = append(all, read(c))
	}
	if err := c.Close(); err != nil {
		return nil, err
	}
	return all, nil
}

// One runs a query that gives at most one row and reads it; [ErrNotFound] if
// there is none. The result is read to its end, so that no statement stays open.
func One[T any](ctx context.Context, q Querier, read func(*Row) T, query string, args ...any) (T, error) {
	all, err := Collect(ctx, q, read, query, args...)
	if err == nil && len(all) == 0 {
		err = ErrNotFound
	}
	if err != nil {
		var none T
		return none, err
	}
	return all[0], nil
}

// Exists reports whether a query gives a row.
func Exists(ctx context.Context, q Querier, query string, args ...any) (bool, error) {
	_, err := One(ctx, q, func(*Row) struct{} { return struct{}{} }, query, args...)
	return Found(err)
}

// Found turns [ErrNotFound] into a plain answer.
func Found(err error) (bool, error) {
	if err == ErrNotFound {
		return false, nil
	}
	return err == nil, err
}
