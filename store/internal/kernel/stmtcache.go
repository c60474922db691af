package kernel

import (
	"context"
	"database/sql"
	"errors"
	"maps"
	"slices"
	"sync"
)

// StmtCache is a pool of connections with the statements that were asked before,
// already parsed: parsing costs more than a small answer. There are as many of
// them as queries in this package's text.
type StmtCache struct {
	*sql.DB
	mu     sync.Mutex
	seen   map[string]*sql.Stmt
	wanted map[string]bool // by transactions, and not parsed yet
}

func newStmtCache(db *sql.DB) *StmtCache {
	return &StmtCache{DB: db, seen: map[string]*sql.Stmt{}, wanted: map[string]bool{}}
}

// QueryContext runs a statement that gives rows.
func (p *StmtCache) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	s, err := p.stmt(ctx, query)
	if err != nil {
		return nil, err
	}
	return s.QueryContext(ctx, args...)
}

func (p *StmtCache) stmt(ctx context.Context, query string) (*sql.Stmt, error) {
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

// begin begins a transaction after parsing what earlier ones wanted.
func (p *StmtCache) begin(ctx context.Context, opts *sql.TxOptions) (*sql.Tx, error) {
	if err := p.parse(ctx); err != nil {
		return nil, err
	}
	return p.BeginTx(ctx, opts)
}

// parse parses what earlier transactions wanted; within one it could wait for
// ever for a second connection.
func (p *StmtCache) parse(ctx context.Context) error {
	p.mu.Lock()
	wanted := slices.Collect(maps.Keys(p.wanted))
	clear(p.wanted)
	p.mu.Unlock()
	for _, query := range wanted {
		if _, err := p.stmt(ctx, query); err != nil {
			return err
		}
	}
	return nil
}

// within is the statement in a transaction of this pool, parsed by an earlier
// one if there was one.
func (p *StmtCache) within(ctx context.Context, tx *sql.Tx, query string) (*sql.Stmt, error) {
	p.mu.Lock()
	s, ok := p.seen[query]
	if !ok {
		p.wanted[query] = true
	}
	p.mu.Unlock()
	if ok {
		return tx.StmtContext(ctx, s), nil
	}
	return tx.PrepareContext(ctx, query)
}

// Close frees the statements and the connections.
func (p *StmtCache) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	var all error
	for _, s := range p.seen {
		all = errors.Join(all, s.Close())
	}
	clear(p.seen)
	return errors.Join(all, p.DB.Close())
}
