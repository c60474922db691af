package store

import (
	"context"
	"database/sql"
	"errors"
	"sync"
)

// readPool is the read-only connections with the statements that were asked
// before, already parsed: parsing costs more than a small answer. There are as
// many of them as queries in this package's text.
type readPool struct {
	*sql.DB
	mu   sync.Mutex
	seen map[string]*sql.Stmt
}

func newReadPool(db *sql.DB) *readPool { return &readPool{DB: db, seen: map[string]*sql.Stmt{}} }

// QueryContext runs a statement that gives rows.
func (p *readPool) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	s, err := p.stmt(ctx, query)
	if err != nil {
		return nil, err
	}
	return s.QueryContext(ctx, args...)
}

func (p *readPool) stmt(ctx context.Context, query string) (*sql.Stmt, error) {
	p.mu.Lock()
	s, ok := p.seen[query]
	p.mu.Unlock()
	if ok {
		return s, nil
	}
	// Not under the lock: it may wait for a connection. If two ask at once, the
	// later one's is dropped.
	s, err := p.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if first, ok := p.seen[query]; ok {
		return first, s.Close()
	}
	p.seen[query] = s
	return s, nil
}

// Close frees the statements and the connections.
func (p *readPool) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	var all error
	for _, s := range p.seen {
		all = errors.Join(all, s.Close())
	}
	clear(p.seen)
	return errors.Join(all, p.DB.Close())
}
