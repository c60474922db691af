package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// querier is what can run a statement: a pool or a transaction.
type querier interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// tx runs f in one write transaction. Public methods own the transaction;
// helpers take it.
func (db *core) tx(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := db.write.begin(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // no effect after Commit; also covers a panic
	if err := f(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// snapshot runs f on one unchanging view of the file.
func (db *core) snapshot(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := db.read.begin(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback() // it only read
	return f(tx)
}

// cells reads the columns of a result by number. Scanning into plain values is
// several times faster than letting database/sql convert each one, and the
// first cell that is not what it should be is remembered for the end.
type cells struct {
	rows *sql.Rows
	vals []any
	ptrs []any
	off  int // where the columns of the reader at work begin
	err  error
}

func newCells(rows *sql.Rows) (*cells, error) {
	names, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	c := &cells{rows: rows, vals: make([]any, len(names)), ptrs: make([]any, len(names))}
	for i := range c.vals {
		c.ptrs[i] = &c.vals[i]
	}
	return c, nil
}

// next moves to the next row; false at the end or after a fault.
func (c *cells) next() bool {
	if c.err != nil || !c.rows.Next() {
		return false
	}
	c.off = 0
	c.note(c.rows.Scan(c.ptrs...))
	return c.err == nil
}

// close ends the reading and returns the first fault of all.
func (c *cells) close() error {
	c.note(c.rows.Err())
	c.note(c.rows.Close())
	return c.err
}

func (c *cells) note(err error) {
	if c.err == nil {
		c.err = err
	}
}

// skip starts the next reader n columns further on, for rows joined of several
// tables.
func (c *cells) skip(n int) { c.off += n }

func (c *cells) null(i int) bool { return c.vals[c.off+i] == nil }

func (c *cells) text(i int) string {
	s, ok := c.vals[c.off+i].(string)
	if !ok && c.vals[c.off+i] != nil {
		c.note(fmt.Errorf("column %d holds %T, want text", i, c.vals[c.off+i]))
	}
	return s
}

func (c *cells) blob(i int) []byte {
	b, ok := c.vals[c.off+i].([]byte)
	if !ok && c.vals[c.off+i] != nil {
		c.note(fmt.Errorf("column %d holds %T, want bytes", i, c.vals[c.off+i]))
	}
	return b
}

func (c *cells) int(i int) int64 {
	n, ok := c.vals[c.off+i].(int64)
	if !ok && c.vals[c.off+i] != nil {
		c.note(fmt.Errorf("column %d holds %T, want a whole number", i, c.vals[c.off+i]))
	}
	return n
}

func (c *cells) real(i int) float64 {
	switch v := c.vals[c.off+i].(type) {
	case float64:
		return v
	case int64:
		return float64(v)
	case nil:
		return 0
	}
	c.note(fmt.Errorf("column %d holds %T, want a number", i, c.vals[c.off+i]))
	return 0
}

func (c *cells) bool(i int) bool            { return c.int(i) != 0 }
func (c *cells) hours(i int) schedule.Hours { return schedule.Hours(c.int(i)) }
func (c *cells) cents(i int) schedule.Cents { return schedule.Cents(c.int(i)) }
func (c *cells) lines(i int) []string       { return splitLines(c.text(i)) }
func (c *cells) week(i int) civil.Week      { return weekOfMonday(c.day(i)) }
func (c *cells) instant(i int) (t time.Time) {
	if c.null(i) {
		return t
	}
	return time.Unix(c.int(i), 0).UTC()
}

func (c *cells) day(i int) civil.Day {
	s := c.text(i)
	if s == "" {
		return 0
	}
	d, err := parseDay(s)
	c.note(err)
	return d
}

// firstText, firstInt, firstBool and firstBlob read a result of one column.
func firstText(c *cells) string { return c.text(0) }
func firstInt(c *cells) int64   { return c.int(0) }
func firstBool(c *cells) bool   { return c.bool(0) }
func firstBlob(c *cells) []byte { return c.blob(0) }

// collect runs a query and reads every row.
func collect[T any](ctx context.Context, q querier, read func(*cells) T, query string, args ...any) ([]T, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	c, err := newCells(rows)
	if err != nil {
		rows.Close()
		return nil, err
	}
	var all []T
	for c.next() {
		all = append(all, read(c))
	}
	if err := c.close(); err != nil {
		return nil, err
	}
	return all, nil
}

// one runs a query that gives at most one row and reads it; [errNotFound] if
// there is none. The result is read to its end, so that no statement stays open.
func one[T any](ctx context.Context, q querier, read func(*cells) T, query string, args ...any) (T, error) {
	all, err := collect(ctx, q, read, query, args...)
	if err == nil && len(all) == 0 {
		err = errNotFound
	}
	if err != nil {
		var none T
		return none, err
	}
	return all[0], nil
}

// exists reports whether a query gives a row.
func exists(ctx context.Context, q querier, query string, args ...any) (bool, error) {
	_, err := one(ctx, q, func(*cells) struct{} { return struct{}{} }, query, args...)
	return found(err)
}

// found turns [errNotFound] into a plain answer.
func found(err error) (bool, error) {
	if err == errNotFound {
		return false, nil
	}
	return err == nil, err
}
