package kernel

import (
	"context"
	"errors"
	"path/filepath"
	"sync"
	"testing"
	"time"
)

// openFile opens a new shop's file.
func openFile(t *testing.T) *DB {
	t.Helper()
	db, err := Open(t.Context(), filepath.Join(t.TempDir(), "shop.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

// gather runs f in a transaction that others may share. which tells the
// transactions apart.
func gather(ctx context.Context, db *DB, f func(exec func(string, ...any) error, which any) error) error {
	return db.Group.Do(ctx, func(ctx context.Context, q Querier) error {
		return f(func(query string, args ...any) error {
			_, err := q.ExecContext(ctx, query, args...)
			return err
		}, q.(*Prepared).tx)
	})
}

// gathering is how many writes wait to be gathered.
func gathering(db *DB) int {
	db.Group.mu.Lock()
	defer db.Group.mu.Unlock()
	return len(db.Group.waiting)
}

// ranIn says in which transaction a write was done, the newest last.
type ranIn struct {
	mu  sync.Mutex
	txs map[string][]any
}

func (r *ranIn) note(name string, tx any) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.txs[name] = append(r.txs[name], tx)
}

// gathered has a first write wait until all the others wait for it, so that
// those share the next transaction, and returns their answers.
func gathered(t *testing.T, db *DB, others map[string]func(exec func(string, ...any) error) error) (answers map[string]error, ran *ranIn) {
	t.Helper()
	ran = &ranIn{txs: map[string][]any{}}
	begun, release := make(chan struct{}), make(chan struct{})
	var wg sync.WaitGroup
	defer wg.Wait()
	wg.Go(func() {
		err := gather(t.Context(), db, func(func(string, ...any) error, any) error {
			close(begun)
			<-release
			return nil
		})
		if err != nil {
			t.Errorf("the first: %v", err)
		}
	})
	<-begun
	var mu sync.Mutex
	answers = map[string]error{}
	var all sync.WaitGroup
	for name, do := range others {
		all.Go(func() {
			err := gather(t.Context(), db, func(exec func(string, ...any) error, tx any) error {
				ran.note(name, tx)
				return do(exec)
			})
			mu.Lock()
			defer mu.Unlock()
			answers[name] = err
		})
	}
	for gathering(db) < len(others) {
		time.Sleep(time.Millisecond)
	}
	close(release)
	all.Wait()
	return answers, ran
}

func setting(name string) func(func(string, ...any) error) error {
	return func(exec func(string, ...any) error) error {
		return exec("INSERT INTO settings (key, value) VALUES (?, x'00')", name)
	}
}

// TestGatheredWritesShareATransaction: what waits at the same time is one
// transaction, and each is there.
func TestGatheredWritesShareATransaction(t *testing.T) {
	db := openFile(t)
	answers, ran := gathered(t, db, map[string]func(func(string, ...any) error) error{"a": setting("a"), "b": setting("b"), "c": setting("c")})
	for _, name := range []string{"a", "b", "c"} {
		if answers[name] != nil || len(ran.txs[name]) != 1 || ran.txs[name][0] != ran.txs["a"][0] {
			t.Errorf("%s: %v, run %d times; want once, in one transaction with a", name, answers[name], len(ran.txs[name]))
		}
		if _, err := db.Setting(t.Context(), name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestAFailingWriteHarmsNoNeighbour: whether it refuses, or SQLite does, after
// it has written something; the others are there, and of it there is nothing.
func TestAFailingWriteHarmsNoNeighbour(t *testing.T) {
	errOwn := errors.New("its own error")
	for name, fail := range map[string]func(exec func(string, ...any) error) error{
		"its own error": func(exec func(string, ...any) error) error { return errors.Join(setting("bad")(exec), errOwn) },
		"a broken rule": func(exec func(string, ...any) error) error {
			return errors.Join(setting("bad")(exec), exec("INSERT INTO sending (one) VALUES (2)"))
		},
		// SQLite itself rolls the whole transaction back.
		"rolled back": func(exec func(string, ...any) error) error {
			return errors.Join(setting("bad")(exec), exec("INSERT OR ROLLBACK INTO sending (one) VALUES (2)"))
		},
		"found at the commit": func(exec func(string, ...any) error) error {
			return errors.Join(exec("PRAGMA defer_foreign_keys = 1"), setting("bad")(exec), exec("INSERT INTO outbox_raw (letter_id, raw) VALUES (99, x'00')"))
		},
	} {
		t.Run(name, func(t *testing.T) {
			db := openFile(t)
			answers, ran := gathered(t, db, map[string]func(func(string, ...any) error) error{
				"a": setting("a"), "bad": fail, "b": setting("b"), "c": setting("c"),
			})
			if answers["bad"] == nil || name == "its own error" && !errors.Is(answers["bad"], errOwn) {
				t.Errorf("the one that fails: %v", answers["bad"])
			}
			if _, err := db.Setting(t.Context(), "bad"); !errors.Is(err, ErrNotFound) {
				t.Errorf("something of the failed write is there: %v", err)
			}
			for _, name := range []string{"a", "b", "c"} {
				if answers[name] != nil {
					t.Errorf("%s: %v", name, answers[name])
				}
				if _, err := db.Setting(t.Context(), name); err != nil {
					t.Errorf("%s is not there: %v", name, err)
				}
			}
			if ran.txs["bad"][0] == ran.txs["bad"][1] {
				t.Error("the second try was in the transaction of the first")
			}
			if err := setOne(t.Context(), db, "after"); err != nil {
				t.Errorf("the next write: %v", err)
			}
		})
	}
}

func setOne(ctx context.Context, db *DB, name string) error {
	return gather(ctx, db, func(exec func(string, ...any) error, _ any) error { return setting(name)(exec) })
}

// TestWaitingWriteCanBeGivenUp: while another holds the file's only writer, a
// write whose context ends goes away and is not done later.
func TestWaitingWriteCanBeGivenUp(t *testing.T) {
	db := openFile(t)
	begun, release := make(chan struct{}), make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		_ = gather(t.Context(), db, func(func(string, ...any) error, any) error {
			close(begun)
			<-release
			return nil
		})
	})
	<-begun
	short, cancel := context.WithCancel(t.Context())
	given := make(chan error)
	go func() {
		given <- gather(short, db, func(exec func(string, ...any) error, _ any) error { return setting("late")(exec) })
	}()
	for gathering(db) == 0 {
		time.Sleep(time.Millisecond)
	}
	cancel()
	if err := <-given; !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want canceled", err)
	}
	close(release)
	wg.Wait()
	if err := setOne(t.Context(), db, "next"); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Setting(t.Context(), "late"); !errors.Is(err, ErrNotFound) {
		t.Errorf("the write that was given up was done: %v", err)
	}
}
