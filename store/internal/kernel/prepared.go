package kernel

import (
	"context"
	"database/sql"
	"errors"
)

// Prepared is a transaction that parses each statement once, for work that
// runs the same few statements many times. Close it before the commit.
type Prepared struct {
	tx   *sql.Tx
	kept *StmtCache // nil for statements that only this transaction runs
	seen map[string]*sql.Stmt
}

func NewPrepared(tx *sql.Tx) *Prepared { return &Prepared{tx: tx, seen: map[string]*sql.Stmt{}} }

// Prepared is a transaction of this pool that leaves its statements parsed for
// the next one, for the work of each re-plan.
func (p *StmtCache) Prepared(tx *sql.Tx) *Prepared {
	return &Prepared{tx: tx, kept: p, seen: map[string]*sql.Stmt{}}
}

func (p *Prepared) stmt(ctx context.Context, query string) (*sql.Stmt, error) {
	if s, ok := p.seen[query]; ok {
		return s, nil
	}
	var s *sql.Stmt
	var err error
	if p.kept != nil {
		s, err = p.kept.within(ctx, p.tx, query)
	} else {
		s, err = p.tx.PrepareContext(ctx, query)
	}
	if err == nil {
		p.seen[query] = s
	}
	return s, err
}

// ExecContext runs a statement that gives no rows.
func (p *Prepared) ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error) {
	s, err := p.stmt(ctx, query)
	if err != nil {
		return nil, err
	}
	return s.ExecContext(unwatched(ctx), args...)
}

// QueryContext runs a statement that gives rows.
func (p *Prepared) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	s, err := p.stmt(ctx, query)
	if err != nil {
		return nil, err
	}
	return s.QueryContext(unwatched(ctx), args...)
}

// unwatched is ctx for one of many short statements. The driver watches each statement
// whose context can end with a goroutine of its own, which wakes a second processor; here
// it ends between two of them.
func unwatched(ctx context.Context) context.Context {
	if ctx.Err() != nil {
		return ctx
	}
	return context.WithoutCancel(ctx)
}

// Close frees the parsed statements; later ones are parsed again.
func (p *Prepared) Close() error {
	var all error
	for _, s := range p.seen {
		all = errors.Join(all, s.Close())
	}
	clear(p.seen)
	return all
}
