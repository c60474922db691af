package kernel

import (
	"context"
	"database/sql"
	"slices"
	"sync"
)

// groupCommit writes for several goroutines at once: what comes in while one
// transaction is put on the disk goes into the next one together, so that a
// sync is shared by all who would have waited for their own. Each write is as
// durable when do returns as if it had been alone, and as whole: if one of them
// fails, all are rolled back and done again one by one, so that each gets the
// answer that is its own.
type groupCommit struct {
	write *StmtCache
	turn  chan struct{} // has room for the one who writes for all

	mu      sync.Mutex
	waiting []*pendingWrite
}

// pendingWrite is a write that waits for the next transaction.
type pendingWrite struct {
	do   func(context.Context, Querier) error
	done chan error // has room for the answer
}

func newGroupCommit(write *StmtCache) *groupCommit {
	return &groupCommit{write: write, turn: make(chan struct{}, 1)}
}

// Do runs f in a transaction that others may share, maybe twice. A context that
// ends makes it give up waiting; once the transaction has begun it is seen
// through, which takes no longer than another program may hold the file.
func (g *groupCommit) Do(ctx context.Context, f func(context.Context, Querier) error) error {
	w := &pendingWrite{f, make(chan error, 1)}
	g.mu.Lock()
	g.waiting = append(g.waiting, w)
	g.mu.Unlock()
	select {
	case err := <-w.done:
		return err
	case <-ctx.Done():
		return g.leave(w, ctx.Err())
	case g.turn <- struct{}{}:
	}
	defer func() { <-g.turn }()
	if err := g.write.parse(ctx); err != nil {
		return g.leave(w, err)
	}
	conn, err := g.write.Conn(ctx)
	if err != nil {
		return g.leave(w, err)
	}
	defer conn.Close()
	g.mu.Lock()
	all := g.waiting
	g.waiting = nil
	g.mu.Unlock()
	if len(all) > 0 {
		g.run(context.WithoutCancel(ctx), conn, all)
	}
	return <-w.done
}

// leave takes back a write for a reason, unless somebody has begun with it.
func (g *groupCommit) leave(w *pendingWrite, why error) error {
	g.mu.Lock()
	i := slices.Index(g.waiting, w)
	if i >= 0 {
		g.waiting = slices.Delete(g.waiting, i, i+1)
	}
	g.mu.Unlock()
	if i < 0 {
		return <-w.done
	}
	return why
}

// run does the writes in one transaction and answers each.
func (g *groupCommit) run(ctx context.Context, conn *sql.Conn, all []*pendingWrite) {
	tx, err := conn.BeginTx(ctx, nil)
	if err == nil {
		defer tx.Rollback() // no effect after Commit; also covers a panic
		err = g.attempt(ctx, tx, all)
		if err != nil && len(all) > 1 {
			_ = tx.Rollback()
			for i := range all {
				g.run(ctx, conn, all[i:i+1])
			}
			return
		}
	}
	for _, w := range all {
		w.done <- err
	}
}

func (g *groupCommit) attempt(ctx context.Context, tx *sql.Tx, all []*pendingWrite) error {
	if err := g.each(ctx, tx, all); err != nil {
		return err
	}
	return tx.Commit()
}

func (g *groupCommit) each(ctx context.Context, tx *sql.Tx, all []*pendingWrite) error {
	p := g.write.Prepared(tx)
	defer p.Close()
	for _, w := range all {
		if err := w.do(ctx, p); err != nil {
			return err
		}
	}
	return nil
}
